"""Standard errors of posture: noise after smoothing, deformation and the filter's bias, through the construction."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import NamedTuple

import numpy as np

from swinglab.conventions import SEGMENT_LANDMARKS
from swinglab.records import Trial
from swinglab.segments.filter_bias import BIAS_OVER_SECOND, cutoffs_by_landmark, smoothed_again
from swinglab.segments.geometry import shortest_change
from swinglab.signals import white_noise_passed

#: Errors change as slowly as posture does: they are computed this far apart and interpolated between; in a
#: capture longer than ten seconds further apart, so that they are never computed more often than this.
NODES_EVERY_S = 0.025
MOST_NODES = 400
#: Around contact the filter's bias changes faster.
NODES_ABOUT_CONTACT_S = (-0.02, -0.01, 0.0, 0.01, 0.02)
#: Landmarks displaced in one call: what depends on none of them is computed once for all of them.
_BLOCK = {"pelvis": "trunk", "thorax": "trunk", "head": "trunk", "arm": "arms", "hand": "arms"}
_BLOCK_OF = {
    name: _BLOCK.get(segment.split("_")[0], "legs")
    for segment, own in SEGMENT_LANDMARKS.items()
    for name in own
}


class PointErrors(NamedTuple):
    """Errors of points as measured with, standard deviation of one coordinate in metres by landmark.

    own_m : each landmark's, independent of the others; NaN where not known. noise_share : the part of own_m squared
    that is noise, the rest being deformation. common_m : noise that displaces all body landmarks alike, scaled by
    each one's value.
    """

    own_m: dict[str, float]
    noise_share: dict[str, float]
    common_m: dict[str, float]


def point_errors(trial: Trial) -> PointErrors:
    """Errors of `Trial.points_m` for the landmarks that are there.

    Noise as smoothing leaves it (the club's points are not smoothed), and the deformation of the segment. A filled
    sample counts like a measured one.
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
    """Standard errors of what `measure` gives for points with these errors, and their part from noise alone.

    Both (n_frames, n_quantities).
    Each coordinate is displaced by one standard deviation in turn; the variance is the sum of the squared changes.
    The filter's bias (`smoothed_again`) counts where it stands out of the other errors.
    `measure` takes points (k, n, 3), k being 1 for those that are not displaced, and gives each quantity's values
    (k or 1, n); `angle` marks the quantities that are angles, whose changes are taken the short way round.
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
    """(1, n_nodes, 3) by landmark, each component contiguous in memory."""
    some = np.stack([xyz[nodes].T for xyz in points.values()])
    return {name: some[k].T[None] for k, name in enumerate(points)}


def _changed_together(
    still: Mapping[str, np.ndarray], again: Mapping[str, np.ndarray], common_m: Mapping[str, float]
) -> dict[str, np.ndarray]:
    """Points (5, n, 3): as they are, all of the body displaced along each axis, smoothed again."""
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
    """Points (3 x landmarks, n, 3), one coordinate displaced in each, and the shares of noise (3 x landmarks,)."""
    blocks: dict[str, list[str]] = {}
    for name in still:
        if errors.own_m[name] != 0.0:
            blocks.setdefault(_BLOCK_OF.get(name, "club"), []).append(name)
    for names in blocks.values():
        moved = {}
        for i, name in enumerate(names):
            xyz = np.empty((3, 3 * len(names), still[name].shape[1])).transpose(1, 2, 0)
            xyz[:] = still[name]
            for coordinate in range(3):
                xyz[3 * i + coordinate, :, coordinate] += errors.own_m[name]
            moved[name] = xyz
        yield moved, np.repeat([errors.noise_share[name] for name in names], 3)


def _nodes(time_s: np.ndarray, rate_hz: float, contact_s: float | None) -> np.ndarray:
    """Frames at which errors are computed, first and last among them, more about contact."""
    every = max(1, int(NODES_EVERY_S * rate_hz), -(-len(time_s) // MOST_NODES))
    about = () if contact_s is None else np.searchsorted(time_s, np.add(contact_s, NODES_ABOUT_CONTACT_S))
    return np.unique(np.clip([*range(0, len(time_s), every), *about, len(time_s) - 1], 0, len(time_s) - 1))


def _between_nodes(at_nodes: np.ndarray, node_s: np.ndarray, time_s: np.ndarray) -> np.ndarray:
    """Errors (..., n_nodes) interpolated in time, (..., n_frames), over the nodes that have one."""
    later = np.clip(np.searchsorted(node_s, time_s), 1, max(len(node_s) - 1, 1)) % len(node_s)
    earlier = np.maximum(later - 1, 0)
    share = (time_s - node_s[earlier]) / np.where(later > earlier, node_s[later] - node_s[earlier], 1.0)
    out = at_nodes[..., earlier] * (1 - share) + at_nodes[..., later] * share
    whole = np.isfinite(at_nodes).all(axis=-1)
    for place in zip(*np.nonzero(~whole), strict=True):
        seen = np.isfinite(at_nodes[place])
        out[place] = np.interp(time_s, node_s[seen], at_nodes[place][seen]) if seen.any() else np.nan
    return out
