"""Standard errors from marker noise: what is left of it after smoothing, carried through the construction."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import cache

import numpy as np
from scipy import signal

from swinglab.conventions import SEGMENT_LANDMARKS
from swinglab.records import Trial
from swinglab.segments.geometry import wrapped

#: Errors change as slowly as posture does: they are computed this far apart and interpolated between; in a
#: capture longer than ten seconds further apart, so that they are never computed more often than this.
NODES_EVERY_S = 0.025
MOST_NODES = 400
#: Correction of the cut-off for two passes of a second-order Butterworth filter (Winter 2009).
TWO_PASSES = 0.80224


@cache
def smoothed_noise(cutoff_hz: float, rate_hz: float) -> float:
    """What two passes of a second-order Butterworth filter leave of white noise's standard deviation.

    Exact for the filter away from the ends of the capture: the mean over all frequencies of the squared
    gain; near ``sqrt(2.08 cutoff / rate)`` where the cut-off is far below half the rate. 1 at or above it.

    Examples
    --------
    >>> round(smoothed_noise(12.0, 240.0), 3)
    0.322
    """
    if not cutoff_hz < 0.49 * rate_hz:
        return 1.0
    design = rate_hz / np.pi * np.arctan(np.tan(np.pi * cutoff_hz / rate_hz) / TWO_PASSES)
    b, a = signal.butter(2, design / (rate_hz / 2))
    _, gain = signal.freqz(b, a, worN=8192)
    return float(np.sqrt(np.mean(np.abs(gain) ** 4)))


def point_noise(trial: Trial) -> dict[str, float]:
    """Standard deviation (m) of one coordinate's noise in `Trial.points_m`, by landmark; NaN if not known.

    Landmarks of a segment with a cut-off were smoothed, the club's were not. A filled sample counts like a
    measured one.
    """
    cutoffs = {
        landmark: trial.cutoff_hz[segment]
        for segment, landmarks in SEGMENT_LANDMARKS.items()
        if segment in trial.cutoff_hz
        for landmark in landmarks
    }
    return {
        name: float(noise)
        * (smoothed_noise(float(cutoffs[name]), float(trial.rate_hz)) if name in cutoffs else 1.0)
        for name, noise in zip(trial.landmarks, trial.noise_m, strict=True)
    }


def carried_through(
    points: Mapping[str, np.ndarray],
    noise_m: Mapping[str, float],
    measure: Callable[[Mapping[str, np.ndarray]], list[np.ndarray]],
    angle: np.ndarray,
    time_s: np.ndarray,
) -> np.ndarray:
    """Standard errors (n_frames, n_quantities) of what `measure` makes of points with independent noise.

    Each coordinate is moved by one standard deviation in turn; the changes add as squares. `measure` takes
    points (k, n, 3), k being 1 for those that are not moved, and gives each quantity's values (k or 1, n);
    `angle` says which quantities are angles, whose changes are taken the short way round.
    """
    nodes = _nodes(time_s)
    still = {name: xyz[None, nodes] for name, xyz in points.items()}
    before = measure(still)
    squares = np.zeros((len(nodes), len(before)))
    for names in _blocks([name for name in points if noise_m[name] != 0.0]):
        after = measure(still | _moved(still, names, noise_m))
        for k, (values, first) in enumerate(zip(after, before, strict=True)):
            change = values - first
            if angle[k]:
                change = wrapped(change)
            squares[:, k] += np.einsum("in,in->n", change, change)
    return _between_nodes(np.sqrt(squares), time_s[nodes], time_s)


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
    still: Mapping[str, np.ndarray], names: list[str], noise_m: Mapping[str, float]
) -> dict[str, np.ndarray]:
    """The points of these landmarks (3 x landmarks, n, 3), one coordinate moved in each."""
    moved = {name: np.repeat(still[name], 3 * len(names), axis=0) for name in names}
    for i, name in enumerate(names):
        for coordinate in range(3):
            moved[name][3 * i + coordinate, :, coordinate] += noise_m[name]
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
