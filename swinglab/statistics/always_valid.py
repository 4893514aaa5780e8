"""Confidence limits that stay valid when a growing series is analysed repeatedly (a confidence sequence)."""

from __future__ import annotations

import numpy as np
import scipy

from swinglab.statistics.estimate import LEVELS, Estimate


def always_valid(own: Estimate, *, scale: float) -> Estimate:
    """Return the estimate with 95, 90 and 80 % limits that are valid at all repeated analyses of a growing series.

    With probability 95 %, the true value lies inside the 95 % limits at every analysis, not only at one.

    Parameters
    ----------
    own : Estimate
        The estimate at the present analysis, with its standard error and degrees of freedom.
    scale : float
        Size of an effect worth finding, in the unit of the estimate and above 0, chosen before the data are seen.
        Compared with limits for a single analysis, the limits are least widened when the standard error is about a
        third of this size.

    Notes
    -----
    Robbins' normal mixture: the likelihood ratio compares effects drawn from N(0, scale^2) with no effect. If there
    is no effect, the probability that it exceeds 1 / alpha in one or more of the analyses is at most alpha (Ville's
    inequality). The resulting bound for a normal variable is converted to the t value with the same tail
    probability. The p value is the reciprocal of the likelihood ratio, at most 1.

    References
    ----------
    robbins1970 (references/references.bib), known from citations only

    Examples
    --------
    >>> once = Estimate.by_t(1.0, 0.4, 30)
    >>> every = always_valid(once, scale=1.0)
    >>> every.ci_low < once.ci_low and every.p > once.p
    True
    """
    variance = own.standard_error**2
    ratio = variance / (variance + scale**2)
    factor = (variance + scale**2) / scale**2
    limits = []
    for level in LEVELS:
        bound = float(np.sqrt(factor * (2 * np.log(1 / (1 - level)) + np.log(1 / ratio))))
        half = _as_t(bound, own.df) * own.standard_error
        limits += [own.estimate - half, own.estimate + half]
    z = _as_normal(abs(own.estimate) / own.standard_error, own.df)
    evidence = 0.5 * np.log(ratio) + z**2 / (2 * factor)
    return Estimate(own.estimate, own.standard_error, own.df, float(min(1.0, np.exp(-evidence))), *limits)


def _as_t(bound: float, df: float) -> float:
    """Convert a normal quantile to the t quantile with the same tail probability."""
    return float(scipy.stats.t.isf(scipy.stats.norm.sf(bound), df)) if np.isfinite(df) else bound


def _as_normal(t: float, df: float) -> float:
    """Convert a t quantile to the normal quantile with the same tail probability."""
    return float(scipy.stats.norm.isf(scipy.stats.t.sf(t, df))) if np.isfinite(df) else t
