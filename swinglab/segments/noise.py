"""Standard errors from marker noise: what is left of it after smoothing, carried through the construction."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import NamedTuple

import numpy as np

from swinglab.conventions import SEGMENT_LANDMARKS
from swinglab.records import Trial
from swinglab.segments.geometry import wrapped
from swinglab.signals import gain, white_noise_passed

#: Errors change as slowly as posture does: they are computed this far apart and interpolated between; in a
#: capture longer than ten seconds further apart, so that they are never computed more often than this.
NODES_EVERY_S = 0.025
MOST_NODES = 400


class PointNoise(NamedTuple):
    """Noise of points: sd_m, landmark -> (n_frames, 3) standard deviations of its coordinates in metres, NaN if not
    known; correlation, (3k, 3k) of the coordinates in the order of sd_m, None where they are independent."""

    sd_m: dict[str, np.ndarray]
    correlation: np.ndarray | None


def point_noise(trial: Trial) -> PointNoise:
    """The noise of `Trial.points_m`, as smoothing leaves it, for the landmarks that are there at all.

    Landmarks of a segment with a cut-off were smoothed, the club's were not. Noise that two landmarks share is
    shared after smoothing too, less so the more their cut-offs differ. Noise that changes in time does so for the
    smoothed points too. A filled sample counts like a measured one.
    """
    cutoffs = {
        landmark: trial.cutoff_hz[segment]
        for segment, landmarks in SEGMENT_LANDMARKS.items()
        if segment in trial.cutoff_hz
        for landmark in landmarks
    }
    there = [k for k, name in enumerate(trial.landmarks) if trial.has(name)]
    names = [trial.landmarks[k] for k in there]
    rate = float(trial.rate_hz)
    left = np.array(
        [np.sqrt(white_noise_passed(rate, float(cutoffs[n]))) if n in cutoffs else 1.0 for n in names]
    )
    in_time = 1.0 if trial.noise_in_time is None else trial.noise_in_time[:, there]
    sd = np.broadcast_to(left * trial.noise_m[there] * in_time, (len(trial.time_s), len(there)))
    sd = np.repeat(sd.T[..., None], 3, axis=2)
    if trial.noise_covariance is None:
        return PointNoise(dict(zip(names, sd, strict=True)), None)
    places = (3 * np.array(there)[:, None] + np.arange(3)).ravel()
    covariance = trial.noise_covariance[np.ix_(places, places)]
    own = np.sqrt(np.diag(covariance))
    different = np.array([float(cutoffs.get(n, rate)) for n in names])
    kept = np.kron(_kept_together(different, rate), np.ones((3, 3)))
    size = np.outer(own, own)
    # An axis may have no noise at all, as the depth of points in a plane.
    correlation = np.divide(kept * covariance, size, out=np.eye(len(size)), where=size > 0)
    return PointNoise(dict(zip(names, sd * own.reshape(-1, 1, 3), strict=True)), correlation)


def _kept_together(cutoffs_hz: np.ndarray, rate_hz: float) -> np.ndarray:
    """(k, k) correlation that is left of the same white noise after smoothing at two cut-offs."""
    kinds, which = np.unique(cutoffs_hz, return_inverse=True)
    frequencies = (np.arange(400) + 0.5) / 800 * rate_hz
    smoothed = [cutoff < 0.49 * rate_hz for cutoff in kinds]
    gains = np.stack([
        gain(rate_hz, float(cutoff), frequencies) if low else np.ones(400)
        for cutoff, low in zip(kinds, smoothed, strict=True)
    ])  # fmt: skip
    gains /= np.linalg.norm(gains, axis=1, keepdims=True)
    return (gains @ gains.T)[np.ix_(which, which)]


def carried_through(
    points: Mapping[str, np.ndarray],
    noise: PointNoise,
    measure: Callable[[Mapping[str, np.ndarray]], list[np.ndarray]],
    angle: np.ndarray,
    time_s: np.ndarray,
) -> np.ndarray:
    """Standard errors (n_frames, n_quantities) of what `measure` makes of points with noise.

    Each coordinate is moved by one standard deviation in turn; with the changes d and the correlation R of the
    coordinates' noise the variance is d' R d, the sum of squares where they are independent. `measure` takes
    points (k, n, 3), k being 1 for those that are not moved, and gives each quantity's values (k or 1, n);
    `angle` says which quantities are angles, whose changes are taken the short way round.
    """
    nodes = _nodes(time_s)
    still = {name: xyz[None, nodes] for name, xyz in points.items()}
    sd_m = {name: sd[nodes] for name, sd in noise.sd_m.items()}
    before = measure(still)
    place = {name: 3 * k for k, name in enumerate(noise.sd_m)}
    changes: list[list[np.ndarray]] = [[] for _ in before]
    moved_by: list[list[int]] = [[] for _ in before]
    for names in _blocks([name for name in points if (sd_m[name] != 0.0).any()]):
        rows = [place[name] + coordinate for name in names for coordinate in range(3)]
        after = measure(still | _moved(still, names, sd_m))
        for k, (values, first) in enumerate(zip(after, before, strict=True)):
            if len(values) == len(rows):  # else it hangs on none of these
                change = values - first
                changes[k].append(wrapped(change) if angle[k] else change)
                moved_by[k] += rows
    variances = np.zeros((len(nodes), len(before)))
    for k, parts in enumerate(changes):
        if parts:
            variances[:, k] = _variance(np.concatenate(parts), np.array(moved_by[k]), noise.correlation)
    return _between_nodes(np.sqrt(variances), time_s[nodes], time_s)


def _variance(change: np.ndarray, rows: np.ndarray, correlation: np.ndarray | None) -> np.ndarray:
    """(n,) d' R d of the changes (3k, n) by the coordinates in these rows of the correlation."""
    if correlation is None:
        return np.einsum("in,in->n", change, change)
    counts = ~(change == 0.0).all(axis=1)
    change, rows = change[counts], rows[counts]
    together = correlation[np.ix_(rows, rows)] @ change
    return np.maximum(np.einsum("in,in->n", together, change), 0.0)


def _blocks(names: list[str]) -> list[list[str]]:
    """Landmarks to be moved in one go: what hangs on none of them is then computed once for all of them."""
    trunk = {name for part in ("pelvis", "thorax", "head") for name in SEGMENT_LANDMARKS[part]}
    arms = {
        name for part, own in SEGMENT_LANDMARKS.items() if part.startswith(("arm", "hand")) for name in own
    }
    blocks: dict[str, list[str]] = {}
    for name in names:
        kind = "trunk" if name in trunk else "arms" if name in arms else "club" if "club" in name else "legs"
        blocks.setdefault(kind, []).append(name)
    return list(blocks.values())


def _moved(
    still: Mapping[str, np.ndarray], names: list[str], sd_m: Mapping[str, np.ndarray]
) -> dict[str, np.ndarray]:
    """The points of these landmarks (3 x landmarks, n, 3), one coordinate moved in each."""
    moved = {name: np.repeat(still[name], 3 * len(names), axis=0) for name in names}
    for i, name in enumerate(names):
        for coordinate in range(3):
            moved[name][3 * i + coordinate, :, coordinate] += sd_m[name][:, coordinate]
    return moved


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
