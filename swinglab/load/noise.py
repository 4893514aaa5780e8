"""Noise of the markers as captured: one standard deviation a marker, of one coordinate."""

from __future__ import annotations

from collections.abc import Collection, Mapping

import numpy as np

from swinglab.conventions import SEGMENT_LANDMARKS
from swinglab.signals import gain, noise_from_differences, robust_sd

#: Fewer samples than this give no estimate.
FEWEST = 20
#: No camera system has less noise than this: such points were smoothed before.
_SMOOTHED_M = 1e-5


def measure_noise(
    names: tuple[str, ...], raw: np.ndarray, smoothed: np.ndarray, used: np.ndarray, rate_hz: float,
    cutoff_hz: Mapping[str, float], too_low: Collection[str] = (), near: slice = slice(None),
) -> np.ndarray:  # fmt: skip
    """Standard deviation (k,) of one coordinate's white noise in raw points (n_frames, k, 3), metres.

    Body points: from what smoothing removed near the swing, corrected for the noise that the filter passes. Points of
    club and ball, and segments whose cut-off is too low for their motion: from sixth differences of all frames.

    Parameters
    ----------
    names : tuple of str
        The k landmarks.
    raw, smoothed : np.ndarray
        (n_frames, k, 3) metres before and after smoothing.
    used : np.ndarray
        (n_frames, k) True where a sample was measured.
    rate_hz : float
    cutoff_hz : mapping
        Segment -> cut-off of the smoothing.
    too_low : collection of str
        Segments of which smoothing removes motion too.
    near : slice
        Frames of the swing: markers in motion have more noise than at a long address.

    Returns
    -------
    np.ndarray
        NaN for landmarks with too few samples.
    """
    cutoffs = {
        name: cutoff
        for segment, cutoff in cutoff_hz.items()
        if segment not in too_low
        for name in SEGMENT_LANDMARKS[segment]
    }
    noise = np.full(len(names), np.nan)
    for k, name in enumerate(names):
        if name in cutoffs:
            where = near if used[near, k].sum() >= FEWEST else slice(None)  # hidden during the swing
            removed = (raw[where, k] - smoothed[where, k])[used[where, k]]
            by_axis = _noise_from_residual(removed, rate_hz, cutoffs[name])
        else:
            by_axis = noise_from_differences(np.where(used[:, k, None], raw[:, k], np.nan))
        noise[k] = np.sqrt(np.mean(by_axis**2))
    return noise


def _noise_from_residual(removed: np.ndarray, rate_hz: float, cutoff_hz: float) -> np.ndarray:
    """(3,) from what smoothing removed (n, 3): white noise of variance s^2 leaves s^2 x mean of (1 - gain)^2."""
    if len(removed) < FEWEST:
        return np.full(3, np.nan)
    frequencies = (np.arange(400) + 0.5) / 800 * rate_hz
    share = np.mean((1 - gain(rate_hz, cutoff_hz, frequencies)) ** 2)
    return robust_sd(removed) / np.sqrt(share)


def warn_of_smoothed_points(noise_m: np.ndarray) -> list[str]:
    """A warning where most points have less noise than any measurement."""
    seen = noise_m[np.isfinite(noise_m)]
    if not len(seen) or np.median(seen) >= _SMOOTHED_M:
        return []
    return [
        f"the noise of the points is only {1000 * np.median(seen):.1g} mm: they were smoothed before (or simulated "
        "without noise), so standard errors from noise are too small"
    ]
