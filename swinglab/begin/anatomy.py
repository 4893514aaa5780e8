"""Checks whether landmarks are anatomically possible: heights, sides, front and back, medial and lateral."""

from __future__ import annotations

import warnings
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

Points = Mapping[str, np.ndarray]  # landmark -> (n_frames, 3) in the capture's axes, metres

#: Levels of the body: landmarks at about the same height. In a standing person each level is above the one before.
LEVELS = (
    ("heel", "toe", "ankle_lateral", "ankle_medial", "ankle"),
    ("knee_lateral", "knee_medial", "knee"),
    ("asis", "psis", "sacrum", "hip"),
    ("acromion", "shoulder", "jugular_notch", "c7"),
)
#: Stature used where no segment gives an estimate.
_USUAL_STATURE_M = 1.7
#: A level must be above the one before by at least this part of stature (a shank is about 0.25 of it, Winter 2009).
_LEAST_STEP = 0.04
#: Landmarks at both ends of a segment, and its length as a part of stature (Winter 2009, body segment lengths).
_PROPORTIONS = (
    (("knee_lateral", "knee_medial", "knee"), ("ankle_lateral", "ankle_medial", "ankle"), 0.246),
    (("elbow_lateral", "elbow_medial", "elbow"), ("wrist_radial", "wrist_ulnar", "wrist"), 0.146),
    (("acromion", "shoulder"), ("elbow_lateral", "elbow_medial", "elbow"), 0.186),
    (("hip",), ("knee_lateral", "knee_medial", "knee"), 0.245),
)
#: Least and greatest distance between two landmarks, as parts of stature; wide on purpose.
_RANGES = {
    ("acromion_left", "acromion_right"): (0.065, 0.35),
    ("shoulder_left", "shoulder_right"): (0.065, 0.35),
    ("asis_left", "asis_right"): (0.07, 0.25),
    ("psis_left", "psis_right"): (0.02, 0.16),
    ("hip_left", "hip_right"): (0.05, 0.17),
    ("jugular_notch", "c7"): (0.03, 0.16),
    ("jugular_notch", "xiphoid"): (0.05, 0.18),
    ("c7", "t8"): (0.05, 0.24),
    ("xiphoid", "t8"): (0.06, 0.24),
    **{(f"wrist_radial_{s}", f"wrist_ulnar_{s}"): (0.012, 0.075) for s in ("left", "right")},
    **{(f"elbow_lateral_{s}", f"elbow_medial_{s}"): (0.02, 0.085) for s in ("left", "right")},
    **{(f"knee_lateral_{s}", f"knee_medial_{s}"): (0.03, 0.11) for s in ("left", "right")},
    **{(f"ankle_lateral_{s}", f"ankle_medial_{s}"): (0.02, 0.09) for s in ("left", "right")},
}  # fmt: skip
#: The same for hand to wrist, heel to toe, and elbow to wrist or shoulder.
_HAND_RANGE = (0.008, 0.085)
_FOOT_RANGE = (0.05, 0.2)
_ARM_RANGE = (0.06, 0.3)
_OPPOSED = -0.3  # cosine of the angle between two directions, below which they contradict each other


@dataclass(frozen=True, slots=True)
class Contradiction:
    """Landmarks whose positions contradict their names.

    why : the reason in words, such as "the left foot points backwards".
    """

    landmarks: tuple[str, ...]
    why: str


def middle(points: Points, *names: str) -> np.ndarray | None:
    """Return the mean path (n, 3) of the landmarks in `names` that have a path in `points`; None if none has one.

    A frame is NaN if one of the averaged landmarks is not visible in it.
    """
    there = [points[name] for name in names if name in points]
    return None if not there else np.mean(there, axis=0)


def level(points: Points, stems: tuple[str, ...]) -> np.ndarray | None:
    """Return the mean path (n, 3) of a level of the body, such as the knees; None if it has no landmark in `points`.

    Left and right side have equal weight. stems : names of the level's landmarks without side, such as "asis".
    """
    sides = [middle(points, *(f"{stem}_{side}" for stem in stems)) for side in ("left", "right")]
    rows = [row for row in (*sides, middle(points, *stems)) if row is not None]
    return _mean(rows) if rows else None


def _mean(rows: list[np.ndarray]) -> np.ndarray:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", RuntimeWarning)  # frames in which none is seen stay NaN
        return np.nanmean(rows, axis=0)


def typical(values: np.ndarray) -> float:
    """Return the median of the finite values of an array; NaN if there are none."""
    finite = values[np.isfinite(values)]
    return float(np.median(finite)) if finite.size else float("nan")


def long_axis(points: Points) -> np.ndarray | None:
    """Return the unit vector (3,) from the lowest to the highest visible level of the body, such as feet to head.

    None if fewer than two levels are visible.
    """
    rows = [level(points, stems) for stems in (*LEVELS, ("head_front", "head_back", "ear", "nose"))]
    there = [row for row in rows if row is not None]
    if len(there) < 2:
        return None
    steps = there[-1] - there[0]
    vector = np.array([typical(steps[:, axis]) for axis in range(3)])
    length = np.linalg.norm(vector)
    return vector / length if np.isfinite(length) and length > 0 else None


def stature(points: Points) -> float:
    """Return the stature estimated from segment lengths (median over segments), in the unit of the points.

    NaN if no segment length is known.
    """
    found = []
    for tops, bottoms, part in _PROPORTIONS:
        for side in ("left", "right"):
            top = middle(points, *(f"{stem}_{side}" for stem in tops))
            bottom = middle(points, *(f"{stem}_{side}" for stem in bottoms))
            if top is not None and bottom is not None:
                found.append(typical(np.linalg.norm(top - bottom, axis=1)) / part)
    return typical(np.array(found, dtype=float))


def contradictions(
    points: Points, up: np.ndarray | None, size: float, *, moving: bool
) -> list[Contradiction]:
    """Return all contradictions between the positions of landmarks and their names.

    Parameters
    ----------
    points : mapping
        Landmark -> positions (n, 3).
    up : numpy.ndarray, (3,), or None
        Unit vector up; None if unknown.
    size : float
        Stature in the unit of the points; NaN if unknown.
    moving : bool
        Whether any marker moves in the capture. If none does, two landmarks may have been recorded at different
        times, so the limits of the distance between them are wider.
    """
    found = _distances(points, size if np.isfinite(size) else _USUAL_STATURE_M, moving)
    found += _inside_out(points)
    if up is not None:
        found += _heights(points, up, size) + _front_and_back(points, up)
    return found


def _distances(points: Points, size: float, moving: bool) -> list[Contradiction]:
    ranges = dict(_RANGES)
    for side in ("left", "right"):
        for stem in ("wrist_radial", "wrist_ulnar", "wrist"):
            ranges[(f"hand_{side}", f"{stem}_{side}")] = _HAND_RANGE
        for stem in ("elbow_lateral", "elbow"):
            for other in ("wrist_radial", "wrist", "acromion", "shoulder"):
                ranges[(f"{stem}_{side}", f"{other}_{side}")] = _ARM_RANGE
        if moving:
            ranges[(f"heel_{side}", f"toe_{side}")] = _FOOT_RANGE
    found = []
    for (one, other), (low, high) in ranges.items():
        if one not in points or other not in points:
            continue
        apart = typical(np.linalg.norm(points[one] - points[other], axis=1)) / size
        if not moving:  # the places of two landmarks may come from different times
            high *= 1.5
            low *= 0.6 if high < 0.2 else 1.0
        if apart < low or apart > high:
            words = "close to each other" if apart < low else "far apart"
            found.append(Contradiction((one, other), f"{one} and {other} are too {words}"))
    return found


def _heights(points: Points, up: np.ndarray, size: float) -> list[Contradiction]:
    """Return landmarks of legs, pelvis and shoulders whose heights are not in the order of the levels.

    The landmarks that contradict most others are removed first, until the rest are in order.
    """
    rank = {stem: k for k, stems in enumerate(LEVELS) for stem in stems}
    heights = {}
    for name, path in points.items():
        stem = name.removesuffix("_left").removesuffix("_right")
        height = typical(path @ up)
        if stem in rank and np.isfinite(height):
            heights[name] = (rank[stem], height)
    margin = _LEAST_STEP * (size if np.isfinite(size) else 0.0)
    found: list[Contradiction] = []
    while True:
        wrong = {
            name: [
                o
                for o, (k2, h2) in heights.items()
                if (k2 > k and h2 < h + margin) or (k2 < k and h2 > h - margin)
            ]
            for name, (k, h) in heights.items()
        }
        worst = max(wrong, key=lambda name: len(wrong[name]), default=None)
        if worst is None or not wrong[worst]:
            return found
        most = len(wrong[worst])
        together = tuple(name for name in wrong if len(wrong[name]) == most)
        found.append(
            Contradiction(
                together,
                f"the height of {', '.join(together)} contradicts that of {', '.join(wrong[worst][:3])}",
            )
        )
        for name in together:
            del heights[name]


def _cosine(a: np.ndarray, b: np.ndarray) -> float:
    lengths = np.linalg.norm(a, axis=1) * np.linalg.norm(b, axis=1)
    with np.errstate(invalid="ignore", divide="ignore"):
        return typical(np.einsum("ij,ij->i", a, b) / lengths)


_LEFTS = {
    "pelvis": ("asis", "psis", "hip"),
    "thorax": ("acromion", "shoulder"),
    "head": ("head_front", "head_back", "ear"),
}
_FRONTS = {
    "pelvis": ("asis_left", "asis_right"),
    "thorax": ("jugular_notch", "xiphoid"),
    "head": ("head_front_left", "head_front_right", "nose"),
}
_BACKS = {
    "pelvis": ("psis_left", "psis_right", "sacrum"),
    "thorax": ("c7", "t8"),
    "head": ("head_back_left", "head_back_right", "ear_left", "ear_right"),
}


def directions(points: Points, part: str) -> tuple[tuple[str, ...], np.ndarray | None, np.ndarray | None]:
    """Return the landmarks of a body part, and its directions (n, 3) to the left and forward, not of unit length.

    part : "pelvis", "thorax" or "head". A direction is None if its landmarks are missing.
    """
    names: list[str] = []
    left = None
    for stem in _LEFTS[part]:
        pair = [f"{stem}_{side}" for side in ("left", "right")]
        if all(name in points for name in pair):
            left = points[pair[0]] - points[pair[1]]
            names += pair
            break
    front, back = middle(points, *_FRONTS[part]), middle(points, *_BACKS[part])
    forward = None if front is None or back is None else front - back
    names += [name for name in (*_FRONTS[part], *_BACKS[part]) if name in points and name not in names]
    return tuple(names), left, forward


def _front_and_back(points: Points, up: np.ndarray) -> list[Contradiction]:
    """Return contradictions: front and back of a part against its left and right, and feet that point backwards."""
    parts = {part: directions(points, part) for part in ("pelvis", "thorax", "head")}
    found, agreed = [], []
    for part, (names, left, forward) in parts.items():
        if left is None or forward is None:
            continue
        if _cosine(left, np.cross(up, forward)) < _OPPOSED:
            found.append(
                Contradiction(
                    names,
                    f"the left and right landmarks of the {part} contradict its front and back landmarks",
                )
            )
        else:
            agreed.append(forward)
    forwards = agreed or []
    for side in ("left", "right"):
        heel, toe = points.get(f"heel_{side}"), points.get(f"toe_{side}")
        if heel is None or toe is None or not forwards:
            continue
        if _cosine(toe - heel, forwards[0]) < -0.5:
            found.append(Contradiction((f"heel_{side}", f"toe_{side}"), f"the {side} foot points backwards"))
    return found


def _inside_out(points: Points) -> list[Contradiction]:
    """Return a contradiction for knees or ankles whose medial points are farther apart than their lateral points."""
    found = []
    for joint in ("knee", "ankle"):
        names = tuple(
            f"{joint}_{place}_{side}" for place in ("lateral", "medial") for side in ("left", "right")
        )
        if not all(name in points for name in names):
            continue
        outer, outer_right, inner, inner_right = (points[name] for name in names)
        wider = np.linalg.norm(outer - outer_right, axis=1) - np.linalg.norm(inner - inner_right, axis=1)
        if typical(wider) < 0:
            found.append(
                Contradiction(
                    names, f"the medial points of the {joint}s are farther apart than the lateral points"
                )
            )
    return found
