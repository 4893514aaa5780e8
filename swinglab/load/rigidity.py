"""How far the markers of a segment move against each other, beyond their noise.

A rigid segment keeps the distances between its markers. Noise that is not white, sliding skin and confused markers
change them. Tissue that moves all markers of a segment together does not: the result is a lower bound.
"""

from __future__ import annotations

from itertools import combinations
from typing import NamedTuple

import numpy as np

from swinglab.conventions import SEGMENT_LANDMARKS

#: Landmarks that keep their distances. Shoulders glide on the thorax, hands and toes bend: they take the value of
#: their segment.
RIGID_SETS: tuple[tuple[str, ...], ...] = (
    ("asis_left", "asis_right", "psis_left", "psis_right", "sacrum"),
    ("jugular_notch", "xiphoid", "c7", "t8"),
    ("head_front_left", "head_front_right", "head_back_left", "head_back_right"),
    ("nose", "ear_left", "ear_right"),
    ("hip_left", "hip_right"),
    *((f"{one}_{side}", f"{other}_{side}") for one, other in (
        ("elbow_lateral", "elbow_medial"), ("wrist_radial", "wrist_ulnar"), ("knee_lateral", "knee_medial"),
        ("ankle_lateral", "ankle_medial"), ("shoulder", "elbow"), ("elbow", "wrist"), ("hip", "knee"),
        ("knee", "ankle")) for side in ("left", "right")),
)  # fmt: skip
#: A distance that varies by less than this (m), or by less than this share of its noise, is constant by construction:
#: a fitted skeleton, points of a rigid cluster.
_CONSTANT_M, _CONSTANT_SHARE = 2e-5, 0.55
_FEWEST = 20


class Rigidity(NamedTuple):
    """deformation_m (k,) and common_noise, as `Trial` holds them."""

    deformation_m: np.ndarray
    common_noise: float


def measure_rigidity(
    names: tuple[str, ...], raw: np.ndarray, smoothed: np.ndarray, used: np.ndarray, noise_left_m: np.ndarray
) -> Rigidity:
    """Motion of markers within their segment that their noise does not explain.

    Parameters
    ----------
    names : tuple of str
        The k landmarks.
    raw, smoothed : np.ndarray
        (n_frames, k, 3) metres before and after smoothing, of the frames of the swing.
    used : np.ndarray
        (n_frames, k) True where a sample was measured, not filled.
    noise_left_m : np.ndarray
        (k,) standard deviation of the noise of one smoothed coordinate.

    Returns
    -------
    Rigidity
        deformation_m : (k,) standard deviation of one coordinate, at least 0; NaN where it cannot be assessed: no
        other marker of the segment, or distances that are constant by construction. common_noise : share of the
        noise's variance that all body markers have in common, 0 to 1: common noise leaves distances unchanged.

    Notes
    -----
    The variance of a smoothed distance is the sum of its markers' variances along it. Half of what exceeds the noise,
    averaged over the distances of a set, is the variance of each of its coordinates.
    """
    place = {name: k for k, name in enumerate(names)}
    sets = [[place[name] for name in members if name in place] for members in RIGID_SETS]
    pairs = [(s, i, j) for s, own in enumerate(sets) for i, j in combinations(own, 2)]
    noise = np.nan_to_num([np.hypot(noise_left_m[i], noise_left_m[j]) for _, i, j in pairs])
    observed = np.array([
        _length_variance(raw, smoothed, used, i, j, least)
        for (_, i, j), least in zip(pairs, np.maximum(_CONSTANT_M, _CONSTANT_SHARE * noise), strict=True)
    ])  # fmt: skip
    known = np.isfinite(observed)
    expected = (noise[known] ** 2).sum()
    common = max(0.0, 1 - observed[known].sum() / expected) if expected > 0 else 0.0
    excess = (observed - (1 - common) * noise**2) / 2
    of_set = np.array([s for s, _, _ in pairs], dtype=int)
    values: dict[int, list[float]] = {}
    for s in np.unique(of_set[known]):
        for k in sets[s]:
            values.setdefault(k, []).append(max(0.0, float(excess[known & (of_set == s)].mean())))
    deformation = np.full(len(names), np.nan)
    for k, squares in values.items():
        deformation[k] = np.sqrt(np.mean(squares))
    for own in segment_places(names).values():
        known_here = deformation[own][np.isfinite(deformation[own])]
        if len(known_here):
            deformation[[k for k in own if np.isnan(deformation[k])]] = np.sqrt(np.mean(known_here**2))
    return Rigidity(deformation, common)


def _length_variance(
    raw: np.ndarray, smoothed: np.ndarray, used: np.ndarray, i: int, j: int, least_m: float
) -> float:
    """Variance of the smoothed distance of two markers, m^2; NaN where it cannot be assessed."""
    seen = used[:, i] & used[:, j]
    if seen.sum() < _FEWEST:
        return np.nan
    before, after = (np.linalg.norm(points[seen, i] - points[seen, j], axis=1) for points in (raw, smoothed))
    return float(after.var()) if before.std() >= least_m else np.nan


def segment_places(names: tuple[str, ...]) -> dict[str, list[int]]:
    """Segment -> the places of its landmarks among those given; segments without one are left out."""
    found = {
        segment: [k for k, n in enumerate(names) if n in own] for segment, own in SEGMENT_LANDMARKS.items()
    }
    return {segment: places for segment, places in found.items() if places}


def deformation_by_segment_mm(names: tuple[str, ...], deformation_m: np.ndarray | None) -> dict[str, float]:
    """Segment -> root mean square deformation of its landmarks in mm; NaN where it cannot be assessed."""
    found, there = {}, segment_places(names)
    for segment in SEGMENT_LANDMARKS:
        places = there.get(segment, [])
        values = np.array([]) if deformation_m is None else deformation_m[places]
        values = values[np.isfinite(values)]
        found[segment] = float(1000 * np.sqrt(np.mean(values**2))) if len(values) else float("nan")
    return found
