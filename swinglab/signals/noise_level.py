"""Standard deviation of the noise in sampled signals, robust to outliers and unaffected by smooth motion."""

from __future__ import annotations

from math import comb

import numpy as np

#: Factor from the median absolute value to the standard deviation of a normal distribution.
_NORMAL = 1.4826
#: WITHIN: values beyond this many standard deviations are left out. SQUARE_WITHIN: mean square of a normal distribution
#: truncated there, divided by the variance without truncation.
WITHIN, SQUARE_WITHIN = 2.15, 0.8244
_ROUNDS = 5
#: Order of the differences. At 60 Hz fast motion still contributes to fourth differences, but hardly to sixth.
ORDER = 6
#: Fewest differences for an estimate.
_FEWEST = 20


def robust_sd(values: np.ndarray, within: float = WITHIN, square: float = SQUARE_WITHIN) -> np.ndarray:
    """Return a robust standard deviation about zero along the first axis; NaN is ignored.

    The first estimate is from the median absolute value. Each of five iterations then excludes values beyond `within`
    standard deviations of the previous estimate, and treats the others as a truncated normal distribution. The result
    is less affected by outliers than the first estimate and, without outliers, more precise. `square` : mean square of
    a normal distribution truncated at `within`, divided by the variance without truncation.
    """
    size, squared = np.abs(values), values**2
    middle = np.nanmedian if np.isnan(size).any() else np.median
    found = np.asarray(_NORMAL * middle(size, axis=0))
    for _ in range(_ROUNDS):
        counts = size <= within * found
        squares = np.where(counts, squared, 0.0).sum(axis=0)
        found = np.sqrt(squares / np.maximum(counts.sum(axis=0), 1) / square)
    return found


def noise_from_differences(samples: np.ndarray, *, fewest: int = _FEWEST) -> np.ndarray:
    """Return the standard deviation of the white noise in each signal, (k,), from sixth differences.

    `samples` : (n_samples, k), NaN where missing. Sixth differences remove smooth motion nearly completely; for white
    noise of variance s**2 they have the variance 924 s**2. Differences with a missing sample are not used. The result
    is NaN with fewer than `fewest` differences.

    Examples
    --------
    >>> time = np.linspace(0.0, 1.0, 400)[:, None]
    >>> noise = np.random.default_rng(1).normal(0.0, 0.002, (400, 1))
    >>> bool(abs(noise_from_differences(np.sin(6 * time) + noise)[0] - 0.002) < 0.0002)
    True
    """
    differences = np.diff(samples, n=ORDER, axis=0)
    differences = differences[np.isfinite(differences).all(axis=1)]
    if len(differences) < fewest:
        return np.full(samples.shape[1], np.nan)
    return robust_sd(differences) / np.sqrt(comb(2 * ORDER, ORDER))
