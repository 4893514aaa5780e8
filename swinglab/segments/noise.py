"""Standard errors of posture: noise after smoothing, deformation and the filter's bias, through the construction."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import NamedTuple

import numpy as np

from swinglab.conventions import SEGMENT_LANDMARKS
from swinglab.records import Trial
from swinglab.segments.filter_bias import BIAS_OVER_SECOND, cutoffs_by_landmark, smoothed_again
from swinglab.segments.geometry import wrapped
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
    own, share, common = dict[str, float](), dict[str, float](), dict[str, float]()
    for k, name in enumerate(trial.landmarks):
        if not trial.has(name):
            continue
        passed = white_noise_passed(trial.rate_hz, cutoffs[name]) if name in cutoffs else 1.0
        variance = passed * trial.noise_m[k] ** 2
        together = trial.common_noise if name in cutoffs else 0.0
        deformation = 0.0 if trial.deformation_m is None else np.nan_to_num(trial.deformation_m[k])
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
    still = {name: xyz[None, nodes] for name, xyz in points.items()}
    before = measure(still)
    variances, by_noise = np.zeros((2, len(nodes), len(before)))
    for displaced, share in _displacements(still, errors):
        after = measure(still | displaced)
        for k, (values, first) in enumerate(zip(after, before, strict=True)):
            if len(values) > 1:  # else it does not depend on these
                change = values - first
                change = wrapped(change) if angle[k] else change
                variances[:, k] += np.einsum("in,in->n", change, change)
                by_noise[:, k] += np.einsum("in,in,i->n", change, change, share)
    again = {name: xyz[None, nodes] for name, xyz in smoothed_again(trial, points).items()}
    for k, (values, first) in enumerate(zip(measure(again), before, strict=True)):
        moved = (wrapped(values - first) if angle[k] else values - first)[0]
        variances[:, k] += np.where(moved**2 > variances[:, k], (BIAS_OVER_SECOND * moved) ** 2, 0.0)
    total, noise = (_between_nodes(np.sqrt(v), time_s[nodes], time_s) for v in (variances, by_noise))
    return total, noise


def _displacements(
    still: Mapping[str, np.ndarray], errors: PointErrors
) -> list[tuple[dict[str, np.ndarray], np.ndarray]]:
    """Points (3 x landmarks, n, 3), one coordinate displaced in each, and the share of noise in each (3 x landmarks,);
    then all body points at once (3, n, 3)."""
    blocks: dict[str, list[str]] = {}
    for name in still:
        if errors.own_m[name] != 0.0:
            blocks.setdefault(_BLOCK_OF.get(name, "club"), []).append(name)
    found = []
    for names in blocks.values():
        moved = {name: np.repeat(still[name], 3 * len(names), axis=0) for name in names}
        for i, name in enumerate(names):
            for coordinate in range(3):
                moved[name][3 * i + coordinate, :, coordinate] += errors.own_m[name]
        found.append((moved, np.repeat([errors.noise_share[name] for name in names], 3)))
    together = {name: still[name] + sd * np.eye(3)[:, None, :] for name, sd in errors.common_m.items()}
    return [*found, (together, np.ones(3))] if together else found


def _nodes(time_s: np.ndarray, rate_hz: float, contact_s: float | None) -> np.ndarray:
    """Frames at which errors are computed, first and last among them, more about contact."""
    every = max(1, int(NODES_EVERY_S * rate_hz), -(-len(time_s) // MOST_NODES))
    about = () if contact_s is None else np.searchsorted(time_s, np.add(contact_s, NODES_ABOUT_CONTACT_S))
    return np.unique(np.clip([*range(0, len(time_s), every), *about, len(time_s) - 1], 0, len(time_s) - 1))


def _between_nodes(at_nodes: np.ndarray, node_s: np.ndarray, time_s: np.ndarray) -> np.ndarray:
    """Each quantity's errors interpolated in time over the nodes that have one."""
    out = np.full((len(time_s), at_nodes.shape[1]), np.nan)
    for k, column in enumerate(at_nodes.T):
        seen = np.isfinite(column)
        if seen.any():
            out[:, k] = np.interp(time_s, node_s[seen], column[seen])
    return out
