"""Rates of change of evenly sampled signals by polynomials over a sliding window (Savitzky & Golay 1964)."""

from __future__ import annotations

from functools import lru_cache

import numpy as np


def sliding_rate(values: np.ndarray, length: int, order: int, step_s: float) -> np.ndarray:
    """Rate of change of values (n,) at each sample by a polynomial through the `length` samples around it.

    At the ends it is read from the first and the last full window. length : odd, at most n. NaN where one of the
    window's samples is missing.

    Examples
    --------
    >>> sliding_rate(np.arange(6.0) ** 2, 5, 2, 1.0).round(9).tolist()
    [0.0, 2.0, 4.0, 6.0, 8.0, 10.0]
    """
    weights, half = rate_weights(length, order, step_s), length // 2
    rates = np.empty(len(values))
    rates[half : len(values) - half] = np.correlate(values, weights[half], "valid")
    rates[:half] = weights[:half] @ values[:length]
    rates[len(values) - half :] = weights[half + 1 :] @ values[len(values) - length :]
    return rates


@lru_cache(maxsize=64)
def rate_weights(length: int, order: int, step_s: float) -> np.ndarray:
    """(length, length) weights of a window's samples that give the rate at each of them; the middle row is the
    sliding one.
    """
    x = np.arange(length) - length // 2
    powers = np.vander(x.astype(float), order + 1, increasing=True)
    rates = np.zeros_like(powers)
    rates[:, 1:] = powers[:, :-1] * np.arange(1, order + 1)
    weights = rates @ np.linalg.pinv(powers) / step_s
    weights.setflags(write=False)
    return weights
