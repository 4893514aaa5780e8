"""SD between sessions of one golfer, without the contribution of the variation between swings."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd
import scipy

from swinglab.errors import BadTable
from swinglab.finding_words import Note
from swinglab.statistics.rows import complete_rows, dropped_words

#: Fewest degrees of freedom (sessions minus golfers). With 2 the upper limit would be six times the estimate.
FEWEST_DF = 3


@dataclass(frozen=True, slots=True)
class NestedSpread:
    """Standard deviation between sessions of one golfer, without the contribution of the variance between swings.

    sd, ci_low, ci_high : SD between sessions with 95 % limits, in the unit of the values; root mean square over the
    columns if there are several. swing_sd : SD of swings about the mean of their session; NaN if no session has two
    swings, and sd then includes the variation between swings. df : number of sessions minus number of golfers.
    n_golfers, n_sessions, n_swings : numbers used.
    """

    sd: float
    ci_low: float
    ci_high: float
    swing_sd: float
    df: int
    n_golfers: int
    n_sessions: int
    n_swings: int
    warnings: tuple[Note, ...] = ()


def nested_spread(
    table: pd.DataFrame, values: Sequence[str], *, session: str = "session", golfer: str = "golfer"
) -> NestedSpread:
    """Estimate the SD between sessions of one golfer, without the contribution of the variation between swings.

    The method is an analysis of variance of unweighted session means: the variance of a golfer's session means minus
    the part that is due to the variance between swings. A negative result is set to 0.

    Parameters
    ----------
    table : pandas.DataFrame
        One row for each swing; golfers with one session are left out.
    values : sequence of str
        Numeric columns in one unit. Their variances are averaged.
    session, golfer : str
        Columns of codes; the same session code of two golfers counts as two sessions.

    Returns
    -------
    NestedSpread
        `sd` is the standard deviation between sessions, in the unit of the columns, with 95 % limits. They combine
        the chi-squared limits of the mean squares between sessions and between swings by the method of variance
        estimates recovery (MOVER; Zou & Donner 2008). Several columns are correlated, so their degrees of freedom
        are reduced by the covariance matrix of the columns (Box 1954). With one swing in each session the variance
        between swings is not known and stays in `sd`.

    Raises
    ------
    BadTable
        Unknown columns, or fewer than three degrees of freedom (sessions minus golfers).

    References
    ----------
    Burdick & Graybill 1992; Zou & Donner 2008; Box 1954; from memory, not compared with the papers.

    Examples
    --------
    >>> swings = pd.DataFrame({"golfer": list("AABBCC"), "session": list("121212"), "tilt": [1, 3, 7, 9, 4, 6]})
    >>> round(nested_spread(swings, ["tilt"]).sd, 3)
    1.414
    """
    names = list(dict.fromkeys(values))
    rows, dropped = complete_rows(table, numeric=names, other=[golfer, session])
    rows = rows[rows.groupby(golfer)[session].transform("nunique") > 1]
    keys = [rows[golfer].to_numpy(), rows[session].to_numpy()]
    means = rows[names].astype(float).groupby(keys).mean()
    sizes = rows.groupby(keys).size().to_numpy(float)
    owner = means.index.get_level_values(0)
    own = means.groupby(owner)
    sessions, golfers, swings = len(means), own.ngroups, len(rows)
    df = sessions - golfers
    if df < FEWEST_DF:
        raise BadTable(
            f"{golfers} golfer{'s' * (golfers != 1)} with {sessions} sessions: {df} repeated "
            f"session{'s' * (df != 1)}, and {FEWEST_DF} or more are needed for the SD between sessions",
            do="measure golfers in further sessions; a repeated session is a golfer's second or later session",
        )
    between, between_df = _mean_square((means - own.transform("mean")).to_numpy(), df)
    # The swings of a golfer's k sessions (n swings each) contribute (1 - 1/k) * sum(1/n) times the swing variance.
    count = own[names[0]].transform("size").to_numpy(float)
    share = float(((1 - 1 / count) / sizes).sum() / df)
    deviations = (
        rows[names].astype(float) - rows[names].astype(float).groupby(keys).transform("mean")
    ).to_numpy()
    within, within_df = _mean_square(deviations, swings - sessions)
    low, high = _difference_limits(between, between_df, share * within, within_df)
    sd = float(np.sqrt(max(between - share * within, 0.0)))
    swing_sd = float(np.sqrt(within)) if swings > sessions else float("nan")
    return NestedSpread(
        sd, low, high, swing_sd, df, golfers, sessions, swings, tuple(dropped_words(dropped))
    )  # fmt: skip


def _mean_square(deviations: np.ndarray, df: int) -> tuple[float, float]:
    """Mean square over columns of deviations (n, q), and its effective degrees of freedom."""
    if df == 0:
        return 0.0, 0.0
    covariance = deviations.T @ deviations / df
    trace = float(np.trace(covariance))
    squares = float((covariance**2).sum())
    return trace / len(covariance), df * trace**2 / squares if squares > 0 else float(df)


def _difference_limits(a: float, a_df: float, b: float, b_df: float) -> tuple[float, float]:
    """95 % limits of sqrt(a - b), each variance with its own chi-squared limits."""
    (a_low, a_high), (b_low, b_high) = _limits(a, a_df), _limits(b, b_df)
    low = a - b - np.hypot(a - a_low, b_high - b)
    high = a - b + np.hypot(a_high - a, b - b_low)
    return float(np.sqrt(max(low, 0.0))), float(np.sqrt(max(high, 0.0)))


def _limits(variance: float, df: float) -> tuple[float, float]:
    if df == 0:
        return variance, variance
    return variance * df / float(scipy.stats.chi2.ppf(0.975, df)), variance * df / float(
        scipy.stats.chi2.ppf(0.025, df)
    )
