"""A body made of points, standing or moving, for the tests of posture: invented sizes, no one's data."""

from __future__ import annotations

import numpy as np

from swinglab.conventions import EVENTS, GOLFER_AXES
from swinglab.records import Event, Events, Setup, Trial

#: Metres in the golfer's frame: forward, up, to the trail side. Standing with the arms hanging, palms forward.
_RIGHT = {
    "asis": (0.10, 1.00, 0.12), "psis": (-0.05, 1.02, 0.05), "acromion": (0.00, 1.47, 0.19),
    "elbow_lateral": (0.01, 1.14, 0.27), "elbow_medial": (0.00, 1.14, 0.20),
    "wrist_radial": (0.05, 0.89, 0.29), "wrist_ulnar": (0.04, 0.89, 0.23), "hand": (0.06, 0.80, 0.265),
    "knee_lateral": (0.03, 0.50, 0.15), "knee_medial": (0.03, 0.50, 0.05),
    "ankle_lateral": (-0.01, 0.09, 0.15), "ankle_medial": (0.00, 0.10, 0.07),
    "heel": (-0.06, 0.04, 0.10), "toe": (0.17, 0.03, 0.14),
    "head_front": (0.11, 1.70, 0.07), "head_back": (-0.08, 1.68, 0.06),
}  # fmt: skip
_MIDDLE = {
    "sacrum": (-0.05, 1.02, 0.0), "jugular_notch": (0.06, 1.44, 0.0), "xiphoid": (0.10, 1.27, 0.0),
    "c7": (-0.07, 1.52, 0.0), "t8": (-0.09, 1.28, 0.0), "clubhead": (0.85, 0.03, -0.05),
    "club_butt": (0.25, 0.83, -0.10), "club_hosel": (0.82, 0.07, -0.06), "club_shaft_1": (0.44, 0.58, -0.088),
}  # fmt: skip
STANDING = {name: np.array(xyz) for name, xyz in _MIDDLE.items()}
for _name, _xyz in _RIGHT.items():
    STANDING[f"{_name}_right"] = np.array(_xyz)
    STANDING[f"{_name}_left"] = np.array(_xyz) * (1, 1, -1)

_CENTRES = {
    "shoulder": (0.00, 1.40, 0.18), "elbow": (0.0, 1.14, 0.235), "wrist": (0.045, 0.89, 0.26),
    "hip": (0.05, 0.92, 0.088), "knee": (0.03, 0.50, 0.10), "ankle": (0.0, 0.095, 0.11),
    "heel": (-0.06, 0.04, 0.10), "toe": (0.17, 0.03, 0.14), "ear": (0.01, 1.62, 0.08),
}  # fmt: skip
CENTRES = {"nose": np.array((0.12, 1.60, 0.0)), "neck": np.array((0.0, 1.46, 0.0))}
for _name, _xyz in _CENTRES.items():
    CENTRES[f"{_name}_right"] = np.array(_xyz)
    CENTRES[f"{_name}_left"] = np.array(_xyz) * (1, 1, -1)


def in_study_frame(points: dict[str, np.ndarray]) -> dict[str, np.ndarray]:
    """Points of the golfer's frame, seen in the study frame, the ball 0.85 m in front of the body."""
    return {name: xyz @ GOLFER_AXES.T - (0.0, 0.0, 0.85) for name, xyz in points.items()}


def make_trial(points: dict[str, np.ndarray], *, rate_hz: float = 240.0, **changes: object) -> Trial:
    """A trial of points (3,) or (n_frames, 3) in the study frame; a single frame stands for 24."""
    n = max(xyz.shape[0] if xyz.ndim == 2 else 24 for xyz in points.values())
    xyz = np.stack([np.broadcast_to(p, (n, 3)) for p in points.values()], axis=1)
    noise = changes.pop("noise_m", 0.0)
    fields = {
        "swing": "s1", "golfer": "G01", "file": "made.c3d", "hand": "right", "kind": "markers",
        "rate_hz": rate_hz, "time_s": np.arange(n) / rate_hz, "landmarks": tuple(points), "points_m": xyz,
        "raw_m": xyz, "filled": np.zeros(xyz.shape[:2], dtype=bool),
        "noise_m": np.broadcast_to(np.asarray(noise, dtype=float), len(points)).copy(), "setup": Setup(),
        "ball_m": np.array([0.0, 0.021335, 0.0]), "ball_method": "study",
    }  # fmt: skip
    return Trial(**(fields | changes))


def standing(**changes: object) -> Trial:
    """The made body standing still, with every marker landmark."""
    return make_trial(in_study_frame(STANDING), **changes)


def moving(n: int = 340, *, rate_hz: float = 240.0, seed: int = 1, **changes: object) -> Trial:
    """The made body with every landmark on a slow path of its own, up to some centimetres, and a turn."""
    rng = np.random.default_rng(seed)
    t = np.arange(n) / rate_hz
    turn = np.radians(-80.0 * np.sin(2 * np.pi * 0.7 * t))
    points = {}
    for name, xyz in in_study_frame(STANDING).items():
        wave = rng.normal(0, 0.02, (3, 3))
        own = sum(wave[k] * np.sin(2 * np.pi * (0.5 + k) * t + k)[:, None] for k in range(3))
        c, s = np.cos(turn), np.sin(turn)
        x, y, z = xyz
        centre = -0.85
        turned = np.column_stack(
            [c * x + s * (z - centre), np.full(n, y), -s * x + c * (z - centre) + centre]
        )
        points[name] = turned + own
    return make_trial(points, rate_hz=rate_hz, **changes)


def make_events(times: dict[str, float], *, rate_hz: float = 240.0, error_s: float = 0.0) -> Events:
    """Events at these seconds; the others are missing."""
    found = tuple(
        Event(name, times.get(name, np.nan), error_s, "made", "" if name in times else "not in this test")
        for name in EVENTS
    )
    return Events("s1", "G01", rate_hz, found)
