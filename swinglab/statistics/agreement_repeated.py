"""Agreement of two methods on repeated swings, allowing for the correlation of swings of one golfer."""

from __future__ import annotations

import numpy as np
import pandas as pd
import scipy
from scipy import special

from swinglab.errors import BadTable
from swinglab.statistics.repeatability import Agreement
from swinglab.statistics.rows import complete_rows, dropped_words

FEWEST_GOLFERS = 3
_Z = float(special.ndtri(0.975))


def agreement_by_golfer(table: pd.DataFrame, a: str, b: str, *, golfer: str = "golfer") -> Agreement:
    """Return bias and limits of agreement of two methods on repeated swings; the bias is positive if a is larger.

    The differences a - b vary between golfers and within each golfer. The limits of agreement include both parts,
    and the confidence intervals of the limits allow for the number of golfers.

    Parameters
    ----------
    table : DataFrame
        One row for each swing.
    a, b : str
        Columns with the values of the two methods, in the same unit. Rows that lack one of the two values are not used.
    golfer : str
        Column of golfers' codes: which golfer made the swing.

    Returns
    -------
    Agreement
        bias : mean over golfers of each golfer's mean a - b, with an interval from t (degrees of freedom: number of
        golfers minus 1). sd : SD of a - b of single swings, within and between golfers together. lower, upper : bias
        -/+ 1.96 sd, with intervals by the method of variance estimates recovery.

    Raises
    ------
    BadTable
        Unknown columns, or fewer than three golfers with both values.

    References
    ----------
    Bland & Altman 2007 (several observations of each individual); Zou 2013 (intervals). Both from memory.
    """
    rows, dropped = complete_rows(table, numeric=[a, b], other=[golfer])
    difference = rows[a].astype(float) - rows[b].astype(float)
    own = difference.groupby(rows[golfer])
    means, sizes = own.mean().to_numpy(), own.size().to_numpy(float)
    golfers, swings = len(means), len(difference)
    if golfers < FEWEST_GOLFERS:
        raise BadTable(
            f"{golfers} golfer{'s have' if golfers != 1 else ' has'} swings with both {a} and {b}, but limits of "
            f"agreement need {FEWEST_GOLFERS} golfers or more",
            do="measure more golfers with both methods",
        )
    within_df = swings - golfers
    within = float(((difference - own.transform("mean")) ** 2).sum() / within_df) if within_df else 0.0
    between = float(means.var(ddof=1))
    share = 1.0 - float((1.0 / sizes).mean())
    sd = float(np.sqrt(between + share * within))
    low, high = _variance_limits(between, golfers - 1, share * within, within_df)
    bias = float(means.mean())
    half = float(scipy.stats.t.ppf(0.975, golfers - 1) * np.sqrt(between / golfers))
    inner = float(np.hypot(half, _Z * (sd - np.sqrt(low))))
    outer = float(np.hypot(half, _Z * (np.sqrt(high) - sd)))
    lower, upper = bias - _Z * sd, bias + _Z * sd
    return Agreement(
        bias, bias - half, bias + half, sd, lower, lower - outer, lower + inner, upper, upper - inner,
        upper + outer, swings, tuple(dropped_words(dropped)),
    )  # fmt: skip


def _variance_limits(between: float, between_df: int, within: float, within_df: int) -> tuple[float, float]:
    """95 % confidence limits of the sum of two variances, from the chi-squared limits of each."""
    down, up = 0.0, 0.0
    for variance, df in ((between, between_df), (within, within_df)):
        if df > 0:
            down += (variance * (1 - df / scipy.stats.chi2.ppf(0.975, df))) ** 2
            up += (variance * (df / scipy.stats.chi2.ppf(0.025, df) - 1)) ** 2
    total = between + within
    return max(0.0, total - float(np.sqrt(down))), total + float(np.sqrt(up))
