"""Standard errors of posture: marker noise after smoothing and deformation, propagated through the construction."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import NamedTuple

import numpy as np

from swinglab.conventions import SEGMENT_LANDMARKS
from swinglab.records import Trial
from swinglab.segments.geometry import wrapped
from swinglab.signals import white_noise_passed

#: Errors change as slowly as posture does: they are computed this far apart and interpolated between; in a
#: capture longer than ten seconds further apart, so that they are never computed more often than this.
NODES_EVERY_S = 0.025
MOST_NODES = 400


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
    cutoffs = {
        landmark: trial.cutoff_hz[segment]
        for segment, landmarks in SEGMENT_LANDMARKS.items()
        if segment in trial.cutoff_hz
        for landmark in landmarks
    }
    own: dict[str, float] = {}
    share: dict[str, float] = {}
    common: dict[str, float] = {}
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
    time_s: np.ndarray,
) -> tuple[np.ndarray, np.ndarray]:
    """Standard errors of what `measure` gives for points with these errors, and their part from noise alone.

    Both (n_frames, n_quantities).
    Each coordinate is displaced by one standard deviation in turn; the variance is the sum of the squared changes.
    `measure` takes points (k, n, 3), k being 1 for those that are not displaced, and gives each quantity's values
    (k or 1, n); `angle` marks the quantities that are angles, whose changes are taken the short way round.
    """
    nodes = _nodes(time_s)
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
    total, noise = (_between_nodes(np.sqrt(v), time_s[nodes], time_s) for v in (variances, by_noise))
    return total, noise


def _displacements(
    still: Mapping[str, np.ndarray], errors: PointErrors
) -> list[tuple[dict[str, np.ndarray], np.ndarray]]:
    """Points (3 x landmarks, n, 3), one coordinate displaced in each, and the share of noise in each (3 x landmarks,);
    then all body points at once (3, n, 3)."""
    found = []
    for names in _blocks([name for name in still if errors.own_m[name] != 0.0]):
        moved = {name: np.repeat(still[name], 3 * len(names), axis=0) for name in names}
        for i, name in enumerate(names):
            for coordinate in range(3):
                moved[name][3 * i + coordinate, :, coordinate] += errors.own_m[name]
        found.append((moved, np.repeat([errors.noise_share[name] for name in names], 3)))
    together = {name: still[name] + sd * np.eye(3)[:, None, :] for name, sd in errors.common_m.items()}
    return [*found, (together, np.ones(3))] if together else found


def _blocks(names: list[str]) -> list[list[str]]:
    """Landmarks displaced in one call: what depends on none of them is computed once for all of them."""
    trunk = {name for part in ("pelvis", "thorax", "head") for name in SEGMENT_LANDMARKS[part]}
    arms = {
        name for part, own in SEGMENT_LANDMARKS.items() if part.startswith(("arm", "hand")) for name in own
    }
    blocks: dict[str, list[str]] = {}
    for name in names:
        kind = "trunk" if name in trunk else "arms" if name in arms else "club" if "club" in name else "legs"
        blocks.setdefault(kind, []).append(name)
    return list(blocks.values())


def _nodes(time_s: np.ndarray) -> np.ndarray:
    """Frames at which errors are computed, first and last among them."""
    step = (time_s[-1] - time_s[0]) / max(len(time_s) - 1, 1)
    every = max(1, int(NODES_EVERY_S / step), -(-len(time_s) // MOST_NODES)) if step > 0 else 1
    return np.unique(np.append(np.arange(0, len(time_s), every), len(time_s) - 1))


def _between_nodes(at_nodes: np.ndarray, node_s: np.ndarray, time_s: np.ndarray) -> np.ndarray:
    """Each quantity's errors interpolated in time over the nodes that have one."""
    out = np.full((len(time_s), at_nodes.shape[1]), np.nan)
    for k, column in enumerate(at_nodes.T):
        seen = np.isfinite(column)
        if seen.any():
            out[:, k] = np.interp(time_s, node_s[seen], column[seen])
    return out
