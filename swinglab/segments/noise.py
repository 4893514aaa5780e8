"""Standard errors of posture: noise, deformation and filter bias of the points, propagated to the quantities."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import NamedTuple

import numpy as np

from swinglab.conventions import SEGMENT_LANDMARKS
from swinglab.records import Trial
from swinglab.segments.filter_bias import BIAS_OVER_SECOND, cutoffs_by_landmark, smoothed_again
from swinglab.segments.geometry import shortest_change
from swinglab.signals import white_noise_passed

#: Errors change slowly, so they are computed at nodes this far apart and interpolated. In captures longer than ten
#: seconds the nodes are further apart, so that there are never more than the second number.
NODES_EVERY_S = 0.025
MOST_NODES = 400
#: Distance of the nodes around contact, where the filter's bias changes faster.
NODES_ABOUT_CONTACT_S = (-0.02, -0.01, 0.0, 0.01, 0.02)
#: Landmarks that are displaced in one call; all others are displaced in a second one, in which the quantities of the
#: trunk are computed only once. Every further call would cost more time than it saves.
_TRUNK = frozenset(
    name
    for segment, own in SEGMENT_LANDMARKS.items()
    if segment.startswith(("pelvis", "thorax", "head"))
    for name in own
)


class PointErrors(NamedTuple):
    """Errors of landmark positions: landmark -> standard deviation of one coordinate in metres.

    own_m : error that is independent of other landmarks; NaN if unknown. noise_share : share of the variance (own_m
    squared) that is due to noise; the rest is deformation. common_m : error from noise that displaces all body
    landmarks together; it can differ in size between landmarks.
    """

    own_m: dict[str, float]
    noise_share: dict[str, float]
    common_m: dict[str, float]


def point_errors(trial: Trial) -> PointErrors:
    """Return the errors of the positions `Trial.points_m` of a swing, for the landmarks that are present.

    They consist of the noise that remains after smoothing (points of the club are not smoothed) and the deformation of
    the segment (motion of its markers relative to each other). A filled sample has the same error as a measured one.
    """
    cutoffs = cutoffs_by_landmark(trial)
    by_cutoff = {hz: white_noise_passed(trial.rate_hz, hz) for hz in set(cutoffs.values())}
    own, share, common = dict[str, float](), dict[str, float](), dict[str, float]()
    there = np.isfinite(trial.points_m).any(axis=(0, 2))
    unknown = np.zeros(len(trial.landmarks))
    deformations = np.nan_to_num(unknown if trial.deformation_m is None else trial.deformation_m).tolist()
    for k, name in enumerate(trial.landmarks):
        if not there[k]:
            continue
        variance = (by_cutoff[cutoffs[name]] if name in cutoffs else 1.0) * float(trial.noise_m[k]) ** 2
        together = trial.common_noise if name in cutoffs else 0.0
        deformation = deformations[k]
        total = (1 - together) * variance + deformation**2
        own[name] = float(np.sqrt(total))
        share[name] = 1 - deformation**2 / total if total > 0 else 1.0
        if together > 0:
            common[name] = float(np.sqrt(together * variance))
    return PointErrors(own, share, common)


def propagate_errors(
    points: Mapping[str, np.ndarray],
    errors: PointErrors,
    measure: Callable[[Mapping[str, np.ndarray]], list[np.ndarray]],
    angle: np.ndarray,
    trial: Trial,
) -> tuple[np.ndarray, np.ndarray]:
    """Propagate errors of positions to quantities; return standard errors, and the part of them that is due to noise.

    Both results are (n_frames, n_quantities), in the units of the quantities. Each coordinate is displaced by one
    standard deviation, one after the other, and the variance is the sum of the squared changes. The bias of the filter
    is included if the change by a second smoothing (`smoothed_again`) exceeds the other errors. `points` : landmark ->
    positions (n_frames, 3) in m. `measure` : function that takes landmark -> positions (k, n, 3), with k = 1 for points
    that are not displaced, and returns the values (k or 1, n) of each quantity. `angle` : mask of the quantities that
    are angles; their changes are wrapped to -180 to 180 degrees.
    """
    time_s = trial.time_s
    nodes = _nodes(time_s, trial.rate_hz, trial.contact_time_s)
    still = _at_nodes(points, nodes)
    changed = _changed_together(still, _at_nodes(smoothed_again(trial, points), nodes), errors.common_m)
    before, together, again = zip(*(np.split(values, [1, -1]) for values in measure(changed)), strict=True)
    variances, by_noise = np.zeros((2, len(before), len(nodes)))

    def add(after: Sequence[np.ndarray], share: np.ndarray) -> None:
        for is_angle in (False, True):
            depend = [k for k, values in enumerate(after) if len(values) > 1 and angle[k] == is_angle]
            if depend:
                change = np.stack([after[k] - before[k] for k in depend])
                squares = (shortest_change(change) if is_angle else change) ** 2
                variances[depend] += squares.sum(axis=1)
                by_noise[depend] += share @ squares

    for displaced, share in _displacements(still, errors):
        add(measure(still | displaced), share)
    if errors.common_m:
        add(together, np.ones(3))
    moved = np.concatenate(again) - np.concatenate(before)
    moved[angle] = shortest_change(moved[angle])
    variances += np.where(moved**2 > variances, (BIAS_OVER_SECOND * moved) ** 2, 0.0)
    total, noise = _between_nodes(np.sqrt([variances, by_noise]), time_s[nodes], time_s)
    return total.T, noise.T


def _at_nodes(points: Mapping[str, np.ndarray], nodes: np.ndarray) -> dict[str, np.ndarray]:
    """Points at the nodes, (1, n_nodes, 3) by landmark, each component contiguous in memory."""
    some = np.stack([xyz[nodes].T for xyz in points.values()])
    return {name: some[k].T[None] for k, name in enumerate(points)}


def _changed_together(
    still: Mapping[str, np.ndarray], again: Mapping[str, np.ndarray], common_m: Mapping[str, float]
) -> dict[str, np.ndarray]:
    """Points (5, n, 3): unchanged, the whole body displaced along each of the three axes, and smoothed again."""
    made = {}
    for name, xyz in still.items():
        rows = np.empty((3, 5, xyz.shape[1])).transpose(1, 2, 0)
        rows[:4], rows[4] = xyz, again[name][0]
        for coordinate in range(3):
            rows[1 + coordinate, :, coordinate] += common_m.get(name, 0.0)
        made[name] = rows
    return made


def _displacements(
    still: Mapping[str, np.ndarray], errors: PointErrors
) -> Iterator[tuple[dict[str, np.ndarray], np.ndarray]]:
    """Yield points (3 x landmarks, n, 3), each with one coordinate displaced, and their noise shares."""
    uncertain = [name for name in still if errors.own_m[name] != 0.0]
    trunk = [name for name in uncertain if name in _TRUNK]
    for names in (trunk, [name for name in uncertain if name not in _TRUNK]):
        if not names:
            continue
        moved = {}
        for i, name in enumerate(names):
            xyz = np.empty((3, 3 * len(names), still[name].shape[1])).transpose(1, 2, 0)
            xyz[:] = still[name]
            for coordinate in range(3):
                xyz[3 * i + coordinate, :, coordinate] += errors.own_m[name]
            moved[name] = xyz
        yield moved, np.repeat([errors.noise_share[name] for name in names], 3)


def _nodes(time_s: np.ndarray, rate_hz: float, contact_s: float | None) -> np.ndarray:
    """Frames at which errors are computed, including the first and the last, and denser around contact."""
    every = max(1, int(NODES_EVERY_S * rate_hz), -(-len(time_s) // MOST_NODES))
    about = () if contact_s is None else np.searchsorted(time_s, np.add(contact_s, NODES_ABOUT_CONTACT_S))
    return np.unique(np.clip([*range(0, len(time_s), every), *about, len(time_s) - 1], 0, len(time_s) - 1))


def _between_nodes(at_nodes: np.ndarray, node_s: np.ndarray, time_s: np.ndarray) -> np.ndarray:
    """Interpolate errors (..., n_nodes) in time to (..., n_frames), skipping nodes without an error."""
    later = np.clip(np.searchsorted(node_s, time_s), 1, max(len(node_s) - 1, 1)) % len(node_s)
    earlier = np.maximum(later - 1, 0)
    share = (time_s - node_s[earlier]) / np.where(later > earlier, node_s[later] - node_s[earlier], 1.0)
    out = at_nodes[..., earlier] * (1 - share) + at_nodes[..., later] * share
    whole = np.isfinite(at_nodes).all(axis=-1)
    for place in zip(*np.nonzero(~whole), strict=True):
        seen = np.isfinite(at_nodes[place])
        out[place] = np.interp(time_s, node_s[seen], at_nodes[place][seen]) if seen.any() else np.nan
    return out
