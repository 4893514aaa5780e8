"""Real captures as trials, the lab's axes found from the body itself; skipped where the captures are absent."""

from __future__ import annotations

from functools import cache

import numpy as np
from captures import capture_path

from swinglab.load import load_trial, read_capture
from swinglab.records import Setup, Trial

#: Conventional gait-lab labels, without subject prefix.
GAIT_LAB = {
    "jugular_notch": "CLAV", "xiphoid": "STRN", "c7": "C7", "t8": "T10",
    **{f"{name}_{side}": f"{side[0].upper()}{label}" for side in ("left", "right") for name, label in {
        "asis": "ASI", "psis": "PSI", "acromion": "SHO", "elbow_lateral": "ELB", "wrist_radial": "WRA",
        "wrist_ulnar": "WRB", "hand": "FIN", "knee_lateral": "KNE", "ankle_lateral": "ANK", "heel": "HEE",
        "toe": "TOE", "head_front": "FHD", "head_back": "BHD"}.items()},
}  # fmt: skip
#: Labels of the capture with ISB landmark names; it has the sacrum for the PSIS.
ISB_NAMES = {
    "jugular_notch": "pIJ", "xiphoid": "pPX", "c7": "pC7SpinalProcess", "t8": "pT8SpinalProcess",
    "sacrum": "pSacrum",
    **{f"{name}_{side}": f"p{side.capitalize()}{label}" for side in ("left", "right") for name, label in {
        "asis": "ASI", "acromion": "Acromion", "elbow_lateral": "ArmLatEpicondyle",
        "elbow_medial": "ArmMedEpicondyle", "wrist_radial": "RadialStyloid", "wrist_ulnar": "UlnarStyloid",
        "hand": "TopOfHand", "knee_lateral": "KneeLatEpicondyle", "knee_medial": "KneeMedEpicondyle",
        "ankle_lateral": "LatMalleolus", "ankle_medial": "MedMalleolus", "heel": "HeelFoot", "toe": "Toe"}.items()},
}  # fmt: skip
FILES = {
    "static_full_body.c3d": ("+Z", GAIT_LAB, ""),
    "stick_shot_full_body.c3d": ("+Z", GAIT_LAB, "Reed:"),
    "racket_serve_full_body.c3d": ("+Z", GAIT_LAB, "Derrick:"),
    "racket_serve_with_gaps.c3d": ("+Z", GAIT_LAB, "Derrick:"),
    "isb_landmarks_basketball.c3d": ("+Z", ISB_NAMES, ""),
}


@cache
def real_trial(name: str, *, facing_frame: int = 0, unsmoothed: bool = False, hand: str = "right") -> Trial:
    """A real capture as a trial whose golfer's frame faces as the pelvis does in one frame."""
    up, labels, prefix = FILES[name]
    capture = read_capture(capture_path(name))
    at = {label: capture.points_m[:, k] for k, label in enumerate(capture.labels)}
    upward = np.eye(3)["XYZ".index(up[1])]

    def place(landmark: str) -> np.ndarray:
        return at[prefix + labels[landmark]]

    back = [place(n) for n in ("psis_left", "psis_right", "sacrum") if n in labels]
    forward = (place("asis_left") + place("asis_right")) / 2 - np.mean(back, axis=0)
    seen = np.flatnonzero(np.isfinite(forward).all(axis=1))
    facing = forward[seen[np.searchsorted(seen, facing_frame)]]
    target = np.cross(upward, facing) if hand == "right" else np.cross(facing, upward)
    setup = Setup(
        up=up,
        target=tuple(target),
        hand=hand,
        landmarks={n: (prefix + label,) for n, label in labels.items()},
    )
    trial = load_trial(capture, setup, swing=name, golfer="G01")
    if not unsmoothed:
        return trial
    fields = {f: getattr(trial, f) for f in trial.__dataclass_fields__}
    return Trial(**(fields | {"points_m": trial.raw_m, "cutoff_hz": {}}))
