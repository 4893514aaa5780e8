"""Nonlinear term of a natural cubic spline with three knots, for a test of curvature."""

from __future__ import annotations

import numpy as np

#: Knots as quantiles of the predictor, the usual ones for three knots [harrell2001].
QUANTILES = (0.1, 0.5, 0.9)


def spline_knots(x: np.ndarray) -> np.ndarray:
    """Return three knots, (3,), at the 10th, 50th and 90th percentile of the predictor x (n,)."""
    return np.quantile(x, QUANTILES)


def natural_spline(x: np.ndarray, knots: np.ndarray) -> np.ndarray:
    """Return the nonlinear term of a natural cubic spline: 0 below the first knot, linear with slope 1 above the last.

    In a model with x and this term, the coefficient of this term is the slope above the last knot minus the slope below
    the first knot.

    Parameters
    ----------
    x : (n,)
        Predictor.
    knots : (3,)
        In rising order.

    Returns
    -------
    (n,)
        In units of the predictor. All zero if two knots are equal; curvature then cannot be estimated.

    References
    ----------
    harrell2001
    """
    first, middle, last = np.asarray(knots, float)
    low, high = middle - first, last - middle
    if min(low, high) <= 1e-9 * (last - first) or not last > first:
        return np.zeros_like(np.asarray(x, float))
    cubes = [np.maximum(x - knot, 0.0) ** 3 for knot in (first, middle, last)]
    bend = cubes[0] - cubes[1] * (last - first) / high + cubes[2] * low / high
    return bend / (3 * low * (last - first))
