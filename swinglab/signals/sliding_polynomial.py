"""Smoothing and differentiation by polynomials in a sliding window (Savitzky & Golay 1964)."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view


def sliding_polynomial(
    values: np.ndarray, length: int, order: int, step_s: float, derivative: int = 1
) -> np.ndarray:
    """Smooth (derivative 0) or differentiate (derivative 1) signals by a polynomial in a sliding window.

    `values` : (..., n) with equal time steps of `step_s` seconds. `length` : number of samples in the window, odd, at
    most n. `order` : highest power of the polynomial. Samples near the ends are computed from the polynomial of the
    first or last full window. The result (..., n) is NaN if a sample of the window is missing; a derivative is per
    second.

    Examples
    --------
    >>> (sliding_polynomial(np.arange(6.0) ** 2, 5, 2, 1.0).round(9) + 0.0).tolist()
    [0.0, 2.0, 4.0, 6.0, 8.0, 10.0]
    """
    weights, half = polynomial_weights(length, order, step_s, derivative), length // 2
    inner = values.shape[-1] - 2 * half
    made = np.empty(values.shape)
    made[..., half : half + inner] = sliding_window_view(values, length, axis=-1) @ weights[half]
    made[..., :half] = values[..., :length] @ weights[:half].T
    made[..., half + inner :] = values[..., values.shape[-1] - length :] @ weights[half + 1 :].T
    return made


@lru_cache(maxsize=64)
def polynomial_weights(length: int, order: int, step_s: float, derivative: int = 1) -> np.ndarray:
    """Return weights (length, length) of the samples of a window; row i gives the value or derivative at sample i.

    `sliding_polynomial` uses the middle row in every window, and the other rows in the first and the last window only.
    Arguments as in `sliding_polynomial`.
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
