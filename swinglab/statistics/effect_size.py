"""Standardised mean difference of two groups (Hedges' g), with confidence limits from the noncentral t."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import scipy
from scipy import optimize, special


@dataclass(frozen=True, slots=True)
class HedgesG:
    """Hedges' g, in units of the pooled SD within groups, with its confidence limits low and high."""

    g: float
    low: float
    high: float


def hedges_correction(df: float) -> float:
    """Return the factor J by which Cohen's d is multiplied to give the unbiased Hedges' g.

    `df` : degrees of freedom of the pooled SD, n1 + n2 - 2.

    Examples
    --------
    >>> round(hedges_correction(10), 4)
    0.9227
    """
    return float(np.exp(special.gammaln(df / 2) - special.gammaln((df - 1) / 2)) / np.sqrt(df / 2))


def measure_hedges_g(first: np.ndarray, second: np.ndarray, *, level: float = 0.95) -> HedgesG:
    """Return Hedges' g of two groups of values; positive if the mean of the second group is higher.

    d = (mean of second - mean of first) / pooled SD; g = J d with the exact gamma correction J (Hedges 1981). The
    limits are J times those of d, from the noncentral t distribution with n1 + n2 - 2 degrees of freedom. The result
    is NaN with fewer than four values in both groups together, or if the pooled SD is 0. `first` : (n1,). `second` :
    (n2,). `level` : confidence level of the limits.
    """
    n1, n2 = len(first), len(second)
    df = n1 + n2 - 2
    if df < 2:
        return HedgesG(np.nan, np.nan, np.nan)
    pooled = np.sqrt((np.var(first) * n1 + np.var(second) * n2) / df)
    if not pooled > 0:
        return HedgesG(np.nan, np.nan, np.nan)
    d = (np.mean(second) - np.mean(first)) / pooled
    root = np.sqrt(n1 * n2 / (n1 + n2))
    low, high = noncentrality_limits(float(d * root), df, level=level)
    j = hedges_correction(df)
    return HedgesG(float(j * d), j * low / root, j * high / root)


def noncentrality_limits(t: float, df: float, *, level: float = 0.95) -> tuple[float, float]:
    """Return confidence limits (low, high) of the noncentrality parameter of an observed t with df degrees of freedom.

    They are the parameters at which t is the upper or lower (1 - level) / 2 quantile of the noncentral t distribution.
    """
    tail = (1 - level) / 2

    def solve(target: float) -> float:
        def short(nc: float) -> float:
            return float(scipy.stats.nct.cdf(t, df, nc)) - target

        step = 5.0 + abs(t) / 2
        low, high = t - step, t + step
        while short(low) < 0:
            low -= step
        while short(high) > 0:
            high += step
        return float(optimize.brentq(short, low, high, xtol=1e-12))

    return solve(1 - tail), solve(tail)
