"""Deformation: motion of the markers of a segment relative to each other that their noise does not explain.

The distances between markers on a rigid segment are constant. Noise that is not white, sliding skin and exchanged
markers change them. Soft tissue that moves all markers of a segment together does not change them, so the result is a
lower bound of the soft-tissue artefact.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import partial
from itertools import combinations

import numpy as np

from swinglab.conventions import SEGMENT_LANDMARKS
from swinglab.signals import cross, filter_stretches, smooth, white_noise_passed

#: Sets of landmarks with constant distances. Shoulders move relative to the thorax, and hands and toes bend, so they
#: are in no set; such a landmark gets the mean deformation of its segment.
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


def measure_rigidity(
    names: tuple[str, ...], points: np.ndarray, used: np.ndarray, noise_m: np.ndarray, rate_hz: float,
    cutoff_hz: Mapping[str, float],
) -> tuple[np.ndarray, float]:  # fmt: skip
    """Return the deformation of segments: SD of each marker's motion relative to its segment, in excess of the noise.

    Parameters
    ----------
    names : tuple of str
        Names of k landmarks.
    points : np.ndarray
        (n_frames, k, 3) metres before smoothing, of the frames of the swing.
    used : np.ndarray
        (n_frames, k) True where a sample was measured, not filled.
    noise_m : np.ndarray
        (k,) standard deviation of the noise of one coordinate, in metres.
    rate_hz : float
        Frame rate.
    cutoff_hz : mapping
        Landmark -> cut-off frequency of its filter (Hz); landmarks that are not smoothed have no entry.

    Returns
    -------
    deformation_m : np.ndarray
        (k,) standard deviation of one coordinate in metres, at least 0. NaN if it cannot be determined: the segment has
        no other marker, or its distances are constant by construction (simulated or reconstructed markers).
    common_noise : float
        Share of the variance of the noise that is common to all body markers, 0 to 1. Common noise does not change
        the distances between markers.

    Notes
    -----
    Distances between points before smoothing are computed and then filtered like points. (Distances between smoothed
    points would also contain the distortion of fast motion by the filter.) The variance of a distance is the sum of
    the variances of its two markers along it. The deformation variance of a coordinate is half of the variance of a
    distance in excess of the noise, averaged over all distances within the segment. The four markers of pelvis, thorax
    or head lie nearly in a plane, and motion perpendicular to this plane hardly changes distances. Therefore the
    variance of the distance of every four markers from a common plane is included as well. For k markers its weight is
    (k - 3) / (3k - 6): this share of the ways in which the shape can change is perpendicular to the plane.
    """
    place = {name: k for k, name in enumerate(names)}
    sets = [[place[name] for name in members if name in place] for members in RIGID_SETS]
    pairs = [(s, i, j) for s, own in enumerate(sets) for i, j in combinations(own, 2)]
    pairs = [(s, i, j) for s, i, j in pairs if (used[:, i] & used[:, j]).sum() >= _FEWEST]
    of_set, first, second = np.array(pairs, dtype=int).reshape(-1, 3).T
    seen = used[:, first] & used[:, second]
    by_landmark = np.array([cutoff_hz.get(name, 0.0) for name in names])
    cutoffs = np.maximum(by_landmark[first], by_landmark[second])
    passed = np.array([white_noise_passed(rate_hz, cutoff) if cutoff else 1.0 for cutoff in cutoffs])
    expected = passed * np.nan_to_num(noise_m[first] ** 2 + noise_m[second] ** 2)
    lengths = np.linalg.norm(points[:, first] - points[:, second], axis=2)
    least = np.maximum(_CONSTANT_M, _CONSTANT_SHARE * np.sqrt(expected))
    known = lengths.std(axis=0, where=seen) >= least
    for cutoff in np.unique(cutoffs):
        lengths[:, cutoffs == cutoff] = _smoothed(lengths[:, cutoffs == cutoff], rate_hz, cutoff)
    observed = lengths.var(axis=0, where=seen)
    common = 1 - observed[known].sum() / expected[known].sum() if expected[known].any() else 0.0
    common = max(0.0, float(common))
    excess = (observed - (1 - common) * expected) / 2
    squares: dict[int, list[float]] = {}
    for s in np.unique(of_set[known]):
        square = float(excess[known & (of_set == s)].mean())
        members = sets[s]
        if len(members) > 3:
            noise, cutoff = (1 - common) * noise_m[members] ** 2, float(by_landmark[members].max())
            off = _out_of_plane_excess(points[:, members], used[:, members], noise, rate_hz, cutoff)
            square += (len(members) - 3) / (3 * len(members) - 6) * np.nan_to_num(off - square)
        for k in members:
            squares.setdefault(k, []).append(max(0.0, square))
    deformation = np.full(len(names), np.nan)
    for k, some in squares.items():
        deformation[k] = np.sqrt(np.mean(some))
    for segment in SEGMENT_LANDMARKS.values():
        own = [place[name] for name in segment if name in place]
        known_here = deformation[own][np.isfinite(deformation[own])]
        if len(known_here):
            deformation[[k for k in own if np.isnan(deformation[k])]] = np.sqrt(np.mean(known_here**2))
    return deformation, common


def _out_of_plane_excess(
    points: np.ndarray, used: np.ndarray, noise_square: np.ndarray, rate_hz: float, cutoff_hz: float
) -> float:
    """Variance (m^2), in excess of the noise, of the distance of four points from a common plane.

    points : (n_frames, k, 3). noise_square : (k,) variance of one coordinate's noise. The result is the mean over all
    sets of four points; NaN if the k points are visible together in fewer than 20 frames. The distance is the volume
    spanned by four points, divided by the root of the sum of the squared derivatives of this volume with respect to
    each point. It has the noise of one coordinate.
    """
    seen = np.flatnonzero(used.all(axis=1))
    if len(seen) < _FEWEST:
        return float("nan")
    fours = np.array(list(combinations(range(points.shape[1]), 4)))
    some = points[seen[:: max(1, len(seen) // 25)]]
    a, b, c, d = (some[:, fours[:, k]] for k in range(4))
    faces = [cross(c - b, d - b), cross(c - a, d - a), cross(b - a, d - a), cross(b - a, c - a)]
    areas = np.median([(face**2).sum(axis=2) for face in faces], axis=1)
    a, b, c, d = (points[:, fours[:, k]] for k in range(4))
    distance = ((d - a) * cross(b - a, c - a)).sum(axis=2) / np.sqrt(areas.sum(axis=0))
    observed = _smoothed(distance, rate_hz, cutoff_hz)[seen].var(axis=0)
    passed = white_noise_passed(rate_hz, cutoff_hz) if cutoff_hz else 1.0
    noise = passed * (np.nan_to_num(noise_square)[fours.T] * areas).sum(axis=0) / areas.sum(axis=0)
    return float(np.mean(observed - noise))


def _smoothed(signals: np.ndarray, rate_hz: float, cutoff_hz: float) -> np.ndarray:
    """Signals (n_frames, m) smoothed like points; unchanged if `cutoff_hz` is 0 (points that are not smoothed)."""
    if not cutoff_hz:
        return signals
    return filter_stretches(signals[..., None], partial(smooth, rate_hz=rate_hz, cutoff_hz=cutoff_hz))[..., 0]
