"""Anatomical directions from landmarks: up, left and front of the body, region by region."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from swinglab.records import Trial

#: Number of frames in the sample of a trial: at least this many (or all) and less than twice as many.
FRAMES = 60

#: Pairs of left and right landmarks in each region, by their stem (the name without its side). Pairs of the arms are
#: not listed, because they cross in a swing; they are checked by segment lengths.
PAIRS = {
    "pelvis": ("asis", "psis", "hip"),
    "thorax": ("acromion", "shoulder"),
    "head": ("head_front", "head_back", "ear"),
    "legs": ("knee_lateral", "knee_medial", "knee", "ankle_lateral", "ankle_medial", "ankle", "heel", "toe"),
}
#: Front and back landmarks of each region.
FRONT_BACK = {
    "pelvis": (("asis_left", "asis_right"), ("psis_left", "psis_right", "sacrum")),
    "thorax, upper": (("jugular_notch",), ("c7",)),
    "thorax, lower": (("xiphoid",), ("t8",)),
    "head": (("head_front_left", "head_front_right", "nose"), ("head_back_left", "head_back_right", "ear_left",
                                                             "ear_right")),
    "left foot": (("toe_left",), ("heel_left",)),
    "right foot": (("toe_right",), ("heel_right",)),
}  # fmt: skip
#: Levels from the top of the body to the bottom; of each list the first set that is present is used.
_TOPS = (
    ("head_front_left", "head_front_right", "head_back_left", "head_back_right", "nose", "ear_left", "ear_right"),
    ("c7", "neck"),
    ("acromion_left", "acromion_right", "shoulder_left", "shoulder_right", "jugular_notch"),
)  # fmt: skip
_FEET = tuple(
    f"{stem}_{side}"
    for stem in ("ankle_lateral", "ankle_medial", "ankle", "heel", "toe")
    for side in ("left", "right")
)
_KNEES = tuple(
    f"{stem}_{side}" for stem in ("knee_lateral", "knee_medial", "knee") for side in ("left", "right")
)
_PELVIS = ("asis_left", "asis_right", "psis_left", "psis_right", "sacrum", "hip_left", "hip_right")


@dataclass(frozen=True, slots=True, eq=False)
class Frames:
    """Positions of landmarks in a sample of a trial's frames: landmark -> (n, 3), in metres, in the study frame."""

    points: dict[str, np.ndarray]

    def has(self, *names: str) -> bool:
        """Return whether all of these landmarks are in the sample."""
        return all(name in self.points for name in names)

    def mean(self, names: Iterable[str]) -> np.ndarray | None:
        """Return the mean position (n, 3) of these landmarks, without missing ones; None if all are missing."""
        there = [self.points[name] for name in names if name in self.points]
        return np.mean(there, axis=0) if there else None

    def swapped(self, *exchanges: tuple[str, str]) -> Frames:
        """Return the same sample with the names in each of these pairs of landmarks exchanged."""
        points = dict(self.points)
        for one, other in exchanges:
            points[one], points[other] = points[other], points[one]
        return Frames(points)


def some_frames(trial: Trial) -> Frames:
    """Return a sample of frames spread evenly over a trial; landmarks that are never seen are left out."""
    step = max(1, len(trial.time_s) // FRAMES)
    points = trial.points_m[::step]
    seen = np.isfinite(points[..., 0]).any(axis=0)
    return Frames({name: points[:, k] for k, name in enumerate(trial.landmarks) if seen[k]})


def unit_rows(vectors: np.ndarray) -> np.ndarray:
    """Return (n, 3) vectors scaled to unit length; NaN for rows of length 0 or with missing values."""
    length = np.linalg.norm(vectors, axis=-1, keepdims=True)
    with np.errstate(invalid="ignore", divide="ignore"):
        return vectors / np.where(length > 0, length, np.nan)


def middle_row(vectors: np.ndarray) -> np.ndarray | None:
    """Return the median direction, a unit vector (3,), of (n, 3) vectors; None if every row has missing values."""
    rows = vectors[np.isfinite(vectors).all(axis=-1)]
    if not len(rows):
        return None
    middle = np.median(rows, axis=0)
    length = float(np.linalg.norm(middle))
    return middle / length if length > 0 else None


def low_middle_high(lengths: np.ndarray) -> tuple[float, float, float] | None:
    """Return the 10th, 50th and 90th percentile of the finite lengths; None with fewer than five of them."""
    seen = np.sort(lengths)
    seen = seen[: len(seen) - int(np.isnan(seen).sum())]
    if len(seen) < 5:
        return None
    last = len(seen) - 1
    low, middle, high = (float(seen[round(share * last)]) for share in (0.1, 0.5, 0.9))
    return low, middle, high


def body_up(body: Frames) -> tuple[np.ndarray | None, bool]:
    """Return (n, 3) unit vectors from the lowest to the highest visible part of the body.

    The second value returned says whether the lowest part is on the legs. The vectors are None if landmarks of the
    upper or of the lower body are missing.
    """
    top = next((found for names in _TOPS if (found := body.mean(names)) is not None), None)
    for names, legs in ((_FEET, True), (_KNEES, True), (_PELVIS, False)):
        low = body.mean(names)
        if top is not None and low is not None:
            return unit_rows(top - low), legs
    return None, False


def left_of(body: Frames, stem: str) -> np.ndarray | None:
    """Return (n, 3) unit vectors from the right landmark of a pair to the left one; None if one is missing.

    stem : name of the landmarks without their side, such as "asis".
    """
    left, right = f"{stem}_left", f"{stem}_right"
    return unit_rows(body.points[left] - body.points[right]) if body.has(left, right) else None


def body_left(body: Frames) -> np.ndarray | None:
    """Return (n, 3) unit vectors that point to the body's left side, averaged over pelvis, thorax and legs."""
    found = [left_of(body, stem) for region in ("pelvis", "thorax", "legs") for stem in PAIRS[region]]
    there = [vectors for vectors in found if vectors is not None]
    if not there:
        return None
    return unit_rows(np.nansum(there, axis=0)) if len(there) > 1 else there[0]


def front_of(body: Frames, region: str) -> np.ndarray | None:
    """Return (n, 3) vectors (m) from the back to the front of a body region, such as the pelvis.

    They point from the mean of the region's back landmarks to the mean of its front landmarks; None if one is missing.
    """
    front, back = (body.mean(names) for names in FRONT_BACK[region])
    return None if front is None or back is None else front - back


def stance_left(body: Frames) -> np.ndarray | None:
    """Return the unit vector (3,) from the right to the left foot; None without landmarks on both feet."""
    left = body.mean(name for name in _FEET if name.endswith("left"))
    right = body.mean(name for name in _FEET if name.endswith("right"))
    if left is not None and right is not None:
        return middle_row(unit_rows(left - right))
    return None
