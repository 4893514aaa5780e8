"""Standard errors from marker noise: what is left of it after smoothing, carried through the construction."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import cache

import numpy as np
from scipy import signal

from swinglab.conventions import SEGMENT_LANDMARKS
from swinglab.records import Trial

#: Errors change as slowly as posture does: they are computed this far apart and interpolated between.
NODES_EVERY_S = 0.025
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
    0.323
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
    measure: Callable[[Mapping[str, np.ndarray]], tuple[np.ndarray, np.ndarray]],
    time_s: np.ndarray,
) -> np.ndarray:
    """Standard errors (n_frames, n_quantities) of what `measure` makes of points with independent noise.

    Each coordinate is moved by one standard deviation in turn; the changes add as squares. `measure` takes
    points (..., n, 3) and gives values (..., n, n_quantities) and which of them are angles, whose changes
    are taken the short way round.
    """
    nodes = _nodes(time_s)
    names = [name for name in points if noise_m[name] != 0.0]
    moved = 3 * len(names)
    stacked = {name: np.repeat(xyz[None, nodes], moved + 1, axis=0) for name, xyz in points.items()}
    for i, name in enumerate(names):
        for coordinate in range(3):
            stacked[name][3 * i + coordinate, :, coordinate] += noise_m[name]
    values, angle = measure(stacked)
    change = values[:moved] - values[moved]
    change[..., angle] = (change[..., angle] + 180.0) % 360.0 - 180.0
    at_nodes = np.sqrt((change**2).sum(axis=0))
    return _between_nodes(at_nodes, time_s[nodes], time_s)


def _nodes(time_s: np.ndarray) -> np.ndarray:
    """Frames at which errors are computed, first and last among them."""
    step = (time_s[-1] - time_s[0]) / max(len(time_s) - 1, 1)
    every = max(1, int(NODES_EVERY_S / step)) if step > 0 else 1
    return np.unique(np.append(np.arange(0, len(time_s), every), len(time_s) - 1))


def _between_nodes(at_nodes: np.ndarray, node_s: np.ndarray, time_s: np.ndarray) -> np.ndarray:
    """Each quantity's errors interpolated in time over the nodes that have one."""
    out = np.full((len(time_s), at_nodes.shape[1]), np.nan)
    for k, column in enumerate(at_nodes.T):
        seen = np.isfinite(column)
        if seen.any():
            out[:, k] = np.interp(time_s, node_s[seen], column[seen])
    return out
