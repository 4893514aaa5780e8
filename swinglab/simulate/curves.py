"""Smooth curves over time through given values of a posture at key moments (knots) of a swing."""

from __future__ import annotations

import numpy as np
from scipy.interpolate import CubicSpline, PchipInterpolator
from scipy.ndimage import gaussian_filter1d
from scipy.special import betainc

#: Spacing of the samples of a curve, s.
GRID_S = 0.004
#: Iterations in which the knots are moved until the smoothed curve passes through the values within about 0.01.
ROUNDS = 7
#: Standard deviation (s) of the smoothing kernel, which limits how fast a segment's acceleration can change.
ROUNDING_S = 0.026


def through_knots(times_s: np.ndarray, values: np.ndarray, start_s: float, end_s: float) -> CubicSpline:
    """Return a curve through given values at given times (knots), without overshoot and with continuous acceleration.

    A curve that is monotone between knots (PCHIP) is smoothed by convolution with a Gaussian kernel. The values at the
    knots are adjusted until the smoothed curve passes through the given values.

    Parameters
    ----------
    times_s : numpy.ndarray, (k,)
        Times of the knots, ascending.
    values : numpy.ndarray, (k, c)
        Values at the knots, one column for each quantity.
    start_s, end_s : float
        Time span of the curve, s.

    Returns
    -------
    CubicSpline
        Function from times (n,) to values (n, c).
    """
    grid = np.arange(start_s, end_s + GRID_S / 2, GRID_S)
    # The first and last values are repeated, so that the curve starts and ends at rest.
    times = np.array([times_s[0] - 0.1, *times_s, times_s[-1] + 0.1])
    rows = [0, *range(len(times_s)), len(times_s) - 1]
    inside = np.clip(grid, times[0], times[-1])
    left = np.clip(((times_s - start_s) / GRID_S).astype(int), 0, len(grid) - 2)
    part = ((times_s - grid[left]) / GRID_S)[:, None]
    knots = np.array(values, dtype=float)
    for _ in range(ROUNDS):
        raw = PchipInterpolator(times, knots[rows])(inside)
        rounded = gaussian_filter1d(raw, ROUNDING_S / GRID_S, axis=0, mode="nearest")
        short = values - (1 - part) * rounded[left] - part * rounded[left + 1]
        knots[1:-1] += short[1:-1]  # the ends are constant before and after, and keep their values
    return CubicSpline(grid, rounded)


def step(time_s: np.ndarray, start_s: float, length_s: float, early: float, late: float) -> np.ndarray:
    """Return a smooth increase from 0 to 1 over a duration, at times (n,).

    It is the regularised incomplete beta function with the shape parameters `early` and `late`. Its rate is
    bell-shaped, with the peak at (early - 1) / (early + late - 2) of the duration `length_s`. If both parameters are 3
    or more, the acceleration is continuous.
    """
    return betainc(early, late, np.clip((time_s - start_s) / length_s, 0.0, 1.0))
