"""Evenly sampled signals and their rates by polynomials over a sliding window (Savitzky & Golay 1964)."""

from __future__ import annotations

from functools import lru_cache

import numpy as np


def sliding_polynomial(
    values: np.ndarray, length: int, order: int, step_s: float, derivative: int = 1
) -> np.ndarray:
    """Value (derivative 0) or rate (1) at each sample of values (..., n) by a polynomial through the samples around it.

    At the ends it is read from the first and the last full window. length : of the window, odd, at most n. NaN where
    one of the window's samples is missing.

    Examples
    --------
    >>> sliding_polynomial(np.arange(6.0) ** 2, 5, 2, 1.0).round(9).tolist()
    [0.0, 2.0, 4.0, 6.0, 8.0, 10.0]
    """
    weights, half = polynomial_weights(length, order, step_s, derivative), length // 2
    inner = values.shape[-1] - 2 * half
    made = np.empty(values.shape)
    made[..., half : half + inner] = sum(
        weight * values[..., k : k + inner] for k, weight in enumerate(weights[half])
    )
    made[..., :half] = values[..., :length] @ weights[:half].T
    made[..., half + inner :] = values[..., values.shape[-1] - length :] @ weights[half + 1 :].T
    return made


@lru_cache(maxsize=64)
def polynomial_weights(length: int, order: int, step_s: float, derivative: int = 1) -> np.ndarray:
    """(length, length) weights of a window's samples that give the value or rate at each of them; the middle row is
    the sliding one.
    """
    x = np.arange(length) - length // 2
    powers = np.vander(x.astype(float), order + 1, increasing=True)
    wanted = powers
    if derivative:
        wanted = np.zeros_like(powers)
        wanted[:, 1:] = powers[:, :-1] * np.arange(1, order + 1) / step_s
    weights = wanted @ np.linalg.pinv(powers)
    weights.setflags(write=False)
    return weights
