"""Zero-phase Butterworth low-pass filter, its exact gain, and the share of white noise that passes it.

The filter is dual-pass: a second-order Butterworth filter is applied forward and then backward. Design, with the
correction for two passes: Winter (2009), Robertson et al.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache

import numpy as np
import scipy

from swinglab.signals.stretches import stretches

#: (2**(1/n) - 1)**(1/4) for n = 2 passes of a second-order filter.
DUAL_PASS = (2**0.5 - 1) ** 0.25
#: Fewer samples than this are not filtered.
SHORTEST_STRETCH = 13


def design_frequency(rate_hz: float, cutoff_hz: float) -> float:
    """Return the cut-off (Hz) of a single pass such that two passes together have the cut-off `cutoff_hz`.

    The correction is applied to the pre-warped frequency, as in the source (Winter 2009).

    Examples
    --------
    >>> round(design_frequency(250, 12), 3)
    14.896
    """
    return float(rate_hz / np.pi * np.arctan(_warped_design(rate_hz, cutoff_hz)))


def _warped_design(rate_hz: float, cutoff_hz: float) -> float:
    return float(np.tan(np.pi * cutoff_hz / rate_hz) / DUAL_PASS)


@lru_cache(maxsize=256)
def _filter(rate_hz: float, cutoff_hz: float) -> tuple[np.ndarray, np.ndarray]:
    """Numerator and denominator (2, 3) of the filter, and its steady state (2,) for a constant input of 1."""
    b, a = scipy.signal.butter(2, design_frequency(rate_hz, cutoff_hz) / (rate_hz / 2))
    return np.stack([b, a]), scipy.signal.lfilter_zi(b, a)


def gain(rate_hz: float, cutoff_hz: float, frequency_hz: np.ndarray | float) -> np.ndarray:
    """Return the gain of the dual-pass filter at each frequency: 1 at 0 Hz, 0.7071 at the cut-off.

    Examples
    --------
    >>> float(gain(240.0, 12.0, 12.0).round(4))
    0.7071
    """
    warped = np.tan(np.pi * np.asarray(frequency_hz) / rate_hz)
    return 1 / (1 + (warped / _warped_design(rate_hz, cutoff_hz)) ** 4)


def white_noise_passed(rate_hz: float, cutoff_hz: float) -> float:
    """Return the share of the variance of white noise that passes the filter, away from the ends of the signal.

    Parameters
    ----------
    rate_hz, cutoff_hz : float
        Sampling rate, and cut-off of the two passes together.

    Returns
    -------
    float
        Mean of the squared gain over all frequencies, exact; 1 if the cut-off is 0.49 times the rate or higher.

    Notes
    -----
    With t = tan(pi f / rate) and the warped design frequency d, the mean is 2/pi times the integral over t from 0 to
    infinity of 1 / ((1 + t**2) (1 + (t / d)**4)**2), which has a closed form by partial fractions. For cut-offs far
    below half the rate it tends to 3 d / (4 sqrt(2)), about 2.08 times cut-off / rate.

    Examples
    --------
    >>> round(white_noise_passed(60.0, 12.0), 3)
    0.398
    """
    if not cutoff_hz < 0.49 * rate_hz:
        return 1.0
    d = _warped_design(rate_hz, cutoff_hz)
    fourth = d**4
    double = fourth**2 + (d**5 - d**7) / np.sqrt(2)
    single = (3 * d - d**3) / (4 * np.sqrt(2))
    return float(double / (1 + fourth) ** 2 + single / (1 + fourth))


def smooth(columns: np.ndarray, rate_hz: float, cutoff_hz: float) -> np.ndarray:
    """Filter signals (n_columns, n_samples) forward and backward with the dual-pass filter; NaN is not allowed.

    `cutoff_hz` : cut-off of the two passes together. Both ends are extended by point reflection (odd padding). Signals
    with fewer than SHORTEST_STRETCH samples are returned unchanged.
    """
    samples = columns.shape[-1]
    if samples < SHORTEST_STRETCH:
        return columns
    # Padding by three periods of the cut-off, so that the filter's transient decays before the data begin.
    pad = min(samples - 1, max(9, round(3 * rate_hz / cutoff_hz)))
    before = 2 * columns[..., :1] - columns[..., pad:0:-1]
    after = 2 * columns[..., -1:] - columns[..., -2 : -pad - 2 : -1]
    passed = np.concatenate([before, columns, after], axis=-1)
    (b, a), rest = _filter(rate_hz, cutoff_hz)
    for _ in range(2):
        passed, _state = scipy.signal.lfilter(b, a, passed, zi=rest * passed[..., :1])
        passed = passed[..., ::-1]
    return passed[..., pad : pad + samples]


def filter_stretches(points: np.ndarray, filtered: Callable[[np.ndarray], np.ndarray]) -> np.ndarray:
    """Filter points (n_samples, k, values) separately in each period without missing samples.

    `points` : NaN where missing. `filtered` : function that filters signals (n_columns, n_samples) without NaN and
    returns the same shape.
    """
    n, _, values = points.shape
    out = points.copy()
    seen = np.isfinite(points).all(axis=2)
    whole = seen.all(axis=0)
    if whole.any():
        columns = points[:, whole].reshape(n, -1).T
        out[:, whole] = filtered(columns).T.reshape(n, -1, values)
    for j in np.flatnonzero(~whole):
        for stretch in stretches(seen[:, j]):
            out[stretch, j] = filtered(points[stretch, j].T).T
    return out
