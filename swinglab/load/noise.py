"""How much a landmark's coordinates shake: the standard deviation of one coordinate's noise in `raw_m`."""

from __future__ import annotations

from math import comb

import numpy as np

from swinglab.load.smoothing import gain

#: From the median absolute value to the standard deviation of a normal distribution.
_NORMAL = 1.4826
_ORDER = 4
#: No camera system shakes less than this: such points were smoothed by whoever made the file.
_SMOOTHED_M = 1e-5


def noise_from_residual(
    raw: np.ndarray, smoothed: np.ndarray, used: np.ndarray, rate_hz: float, cutoff_hz: float
) -> float:
    """From what smoothing took off, (n_frames, 3), corrected for the noise that passed; NaN with few samples.

    White noise of variance s^2 leaves s^2 x mean((1 - gain)^2) in the residual. The median absolute value is
    used, so that the short fast part, where the residual holds motion too, does not count as noise.
    """
    residual = (raw - smoothed)[used]
    if len(residual) < 20:
        return float("nan")
    kept = np.mean((1 - gain(rate_hz, cutoff_hz, (np.arange(400) + 0.5) / 800 * rate_hz)) ** 2)
    return float(np.sqrt(np.mean(_spread(residual) ** 2) / kept))


def noise_from_differences(raw: np.ndarray, used: np.ndarray) -> float:
    """From fourth differences of unsmoothed samples, (n_frames, 3): white noise of variance s^2 gives 70 s^2."""
    points = np.where(used[:, None], raw, np.nan)
    differences = np.diff(points, n=_ORDER, axis=0)
    differences = differences[np.isfinite(differences).all(axis=1)]
    if len(differences) < 20:
        return float("nan")
    return float(np.sqrt(np.mean(_spread(differences) ** 2) / comb(2 * _ORDER, _ORDER)))


def doubt_noise(noise_m: np.ndarray) -> list[str]:
    """A sentence where most points shake less than any measurement does."""
    seen = noise_m[np.isfinite(noise_m)]
    if not len(seen) or np.median(seen) >= _SMOOTHED_M:
        return []
    return [
        f"the points shake by {1000 * np.median(seen):.1g} mm only: they were smoothed before (or made without noise), "
        "so standard errors from noise say too little"
    ]


def _spread(values: np.ndarray) -> np.ndarray:
    """Robust standard deviation of each coordinate."""
    return _NORMAL * np.median(np.abs(values), axis=0)
