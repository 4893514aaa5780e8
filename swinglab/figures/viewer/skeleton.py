"""Points of a swing that the swing viewer draws, and the lines between them."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

import numpy as np

from swinglab.conventions import shaft_points
from swinglab.records import Posture, Trial

SIDES = ("left", "right")

#: Joint -> sets of landmarks; its centre is the mean of the first set that the trial has complete on a side.
_CENTRES = {
    "shoulder": (("shoulder",), ("acromion",)),
    "elbow": (("elbow",), ("elbow_lateral", "elbow_medial"), ("elbow_lateral",)),
    "wrist": (("wrist",), ("wrist_radial", "wrist_ulnar"), ("wrist_radial",), ("wrist_ulnar",)),
    "hand": (("hand",),),
    "hip": (("hip",), ("asis",)),
    "knee": (("knee",), ("knee_lateral", "knee_medial"), ("knee_lateral",)),
    "ankle": (("ankle",), ("ankle_lateral", "ankle_medial"), ("ankle_lateral",)),
    "heel": (("heel",),),
    "toe": (("toe",),),
    "head_front": (("head_front",),),
    "head_back": (("head_back",),),
    "ear": (("ear",),),
    "asis": (("asis",),),
    "psis": (("psis",),),
}
_SINGLE = ("sacrum", "jugular_notch", "xiphoid", "c7", "t8", "nose", "neck", "clubhead", "ball")

#: Points along a limb; each is connected to the next one that was captured.
_CHAINS = (("shoulder", "elbow", "wrist", "hand"), ("hip", "knee", "ankle", "heel"))
_FEET = (("ankle", "toe"), ("heel", "toe"))
_TRUNK = (
    ("shoulder_left", "shoulder_right"), ("hip_left", "hip_right"), ("waist", "neck_base"), ("neck_base", "head"),
)  # fmt: skip

#: Ends of the middle line of the trunk, and corners of its area in order.
SPINE = ("waist", "neck_base")
TRUNK = ("shoulder_left", "shoulder_right", "hip_right", "hip_left")


def drawn_points(trial: Trial, posture: Posture | None = None) -> dict[str, np.ndarray]:
    """Return the points of the stick figure: name -> position (n_frames, 3), in metres in the study frame.

    Parameters
    ----------
    trial : Trial
        The swing; a joint with two markers is drawn at their mid-point.
    posture : Posture, optional
        Posture of the swing; its joint centres, such as the hips, are drawn instead of markers.

    Returns
    -------
    dict
        Only the points that the swing has; NaN in frames in which a point is missing.
    """
    points: dict[str, np.ndarray] = {}
    centres = dict(posture.centres_m) if posture is not None else {}
    for joint, choices in _CENTRES.items():
        for side in SIDES:
            name = f"{joint}_{side}"
            if name in centres:
                points[name] = np.asarray(centres[name])
                continue
            for stems in choices:
                landmarks = [f"{stem}_{side}" for stem in stems]
                if trial.has(*landmarks):
                    points[name] = np.mean([trial.point(landmark) for landmark in landmarks], axis=0)
                    break
    for name in (*_SINGLE, *shaft_points(trial.landmarks)):
        if trial.has(name):
            points[name] = trial.point(name)
    for name, sources in (
        ("waist", (("hip_left", "hip_right"), ("asis_left", "asis_right"))),
        ("neck_base", (("c7", "jugular_notch"), ("neck",), ("shoulder_left", "shoulder_right"))),
        ("head", (tuple(f"head_{end}_{side}" for end in ("front", "back") for side in SIDES),
                  ("ear_left", "ear_right"), ("nose",))),
        ("mid_hands", (("hand_left", "hand_right"), ("wrist_left", "wrist_right"))),
    ):  # fmt: skip
        for names in sources:
            if all(source in points for source in names):
                points[name] = np.mean([points[source] for source in names], axis=0)
                break
    return points


def bones(points: dict[str, np.ndarray]) -> list[tuple[str, str, str]]:
    """Return the lines of the stick figure: (first point, second point, part); part is lead, trail, trunk or club.

    `points` : result of `drawn_points`; only its names are used. Left is always lead, because left-handers are
    mirrored in the study frame.

    Examples
    --------
    >>> bones({"hip_left": None, "knee_left": None, "toe_right": None})
    [('hip_left', 'knee_left', 'lead')]
    """
    return [(a, b, part) for a, b, part in _all_bones(points) if a in points and b in points]


#: Lines between points of a limb that are not neighbours; they are drawn if the joint between is missing.
PASSING_OVER = frozenset(
    (f"{a}_{side}", f"{b}_{side}")
    for side in SIDES
    for chain in _CHAINS
    for i, a in enumerate(chain)
    for b in chain[i + 2 :]
)


def _all_bones(points: dict[str, np.ndarray]) -> Iterator[tuple[str, str, str]]:
    for side, word in zip(SIDES, ("lead", "trail"), strict=True):
        for chain in _CHAINS:
            there = [f"{joint}_{side}" for joint in chain if f"{joint}_{side}" in points]
            yield from ((a, b, word) for a, b in pairwise(there))
        yield from ((f"{a}_{side}", f"{b}_{side}", word) for a, b in _FEET)
    for a, b in _TRUNK:
        yield a, b, "trunk"
    shaft = [name for name in shaft_points(tuple(points)) if name in points]
    if len(shaft) < 2 and "mid_hands" in points:
        shaft = ["mid_hands", *(name for name in shaft if name == "club_hosel")]
    line = [*shaft, "clubhead"]
    for a, b in pairwise(line):
        yield a, b, "club"
