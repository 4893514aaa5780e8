"""Analysis of covariance: groups compared at the same value of a covariate."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
import scipy

from swinglab.errors import BadTable
from swinglab.finding_words import Note
from swinglab.statistics.design import NO_ERROR
from swinglab.statistics.groups import t_line
from swinglab.statistics.rows import complete_rows, dropped_words, levels_of

#: A warning reports that the groups' slopes differ if p of their equality is below this.
_SLOPES_DIFFER = 0.05


@dataclass(frozen=True, slots=True)
class FTest:
    """Result of an F test: statistic, degrees of freedom of numerator and denominator, and p value."""

    F: float
    df1: float
    df2: float
    p: float


@dataclass(frozen=True, slots=True, eq=False)
class AdjustedComparison:
    """Group means of an outcome, adjusted to one value of a covariate, and their differences.

    adjusted_means : one row for each group (index: its name), with estimate, standard_error, ci_low, ci_high (95 %)
    and rows (number of rows).
    differences : each group minus the first group (index: "group - first group"), with estimate, standard_error, df,
    t, p, ci_low, ci_high. group : F test that all adjusted means are equal. slopes_equal : F test that all groups have
    the same slope. slope, slope_standard_error : the common slope, outcome units per covariate unit. at : value of
    the covariate to which the means are adjusted, its mean over all rows.
    """

    adjusted_means: pd.DataFrame
    differences: pd.DataFrame
    group: FTest
    slopes_equal: FTest
    slope: float
    slope_standard_error: float
    at: float
    n_rows: int
    warnings: tuple[Note, ...] = ()


def compare_adjusted(
    table: pd.DataFrame, outcome: str, *, covariate: str, between: str
) -> AdjustedComparison:
    """Compare group means of an outcome, adjusted to the same value of a covariate (analysis of covariance).

    Rows must be independent: if golfers have several swings, give one row for each golfer (the golfer's means).

    Parameters
    ----------
    table : pandas.DataFrame
        One row for each independent case.
    outcome, covariate : str
        Numeric columns.
    between : str
        Column that names the group of each row; two groups or more.

    Returns
    -------
    AdjustedComparison
        Means in the outcome's unit, adjusted to the mean of the covariate over all rows.

    Raises
    ------
    BadTable
        Fewer than two groups, a covariate that is not numeric, or too few rows to estimate a slope for each group.

    Examples
    --------
    >>> rows = pd.DataFrame({"group": list("aaaabbbb"), "speed": [30, 32, 34, 36, 34, 36, 38, 40],
    ...                      "angle": [-5, -4.5, -4.1, -3.4, -3, -2.4, -2.1, -1.5]})
    >>> answer = compare_adjusted(rows, "angle", covariate="speed", between="group")
    >>> [round(float(mean), 2) for mean in answer.adjusted_means["estimate"]]
    [-3.75, -2.75]
    """
    rows, dropped = complete_rows(table, numeric=[outcome, covariate], other=[between])
    levels = levels_of(rows[between])
    if len(levels) < 2:
        raise BadTable(
            f"the column {between} has one group ({levels[0]}), but a comparison needs two or more",
            do="add rows of a second group, or name another column in between",
        )
    member = np.column_stack([(rows[between] == level).to_numpy(float) for level in levels])
    y, c = rows[outcome].to_numpy(float), rows[covariate].to_numpy(float)
    at = float(c.mean())
    k, n = len(levels), len(c)
    if n <= 2 * k or min(np.ptp(c[column > 0]) for column in member.T) <= 0:
        raise BadTable(
            f"{n} rows in {k} groups are too few for a slope in each group",
            do=f"give each group three rows or more with different values of {covariate}",
        )
    # One indicator for each group and the centred covariate: the coefficients are the adjusted means and the slope.
    same = _fit(np.column_stack([member, c - at]), y)
    own = _fit(np.column_stack([member, member * (c - at)[:, None]]), y)
    if same.rss <= NO_ERROR * float(y @ y):
        raise BadTable(
            f"{outcome} is fitted without any error (all residuals are 0), so no standard error can be estimated",
            do=f"check that {outcome} was not computed from {covariate}",
        )
    none = _fit(np.column_stack([np.ones(len(c)), c - at]), y)
    group = _f_test(none.rss, same.rss, k - 1, n - k - 1)
    slopes = _f_test(same.rss, own.rss, k - 1, n - 2 * k)
    errors = np.sqrt(np.diag(same.covariance))
    half = scipy.stats.t.ppf(0.975, n - k - 1) * errors[:k]
    means = pd.DataFrame(
        {"estimate": same.b[:k], "standard_error": errors[:k], "ci_low": same.b[:k] - half,
         "ci_high": same.b[:k] + half, "rows": member.sum(axis=0).astype(int)},
        index=pd.Index(levels, name=between),
    )  # fmt: skip
    return AdjustedComparison(
        means, _differences(levels, same, n - k - 1), group, slopes, float(same.b[k]), float(errors[k]), at, n,
        tuple(_warnings(dropped, slopes, own.b[k:], levels, member, c, covariate)),
    )  # fmt: skip


@dataclass(frozen=True, slots=True, eq=False)
class _LeastSquares:
    b: np.ndarray
    covariance: np.ndarray
    rss: float


def _fit(x: np.ndarray, y: np.ndarray) -> _LeastSquares:
    b, *_ = np.linalg.lstsq(x, y, rcond=None)
    rss = float(((y - x @ b) ** 2).sum())
    inverse = np.linalg.pinv(x.T @ x)
    return _LeastSquares(b, inverse * rss / max(len(y) - x.shape[1], 1), rss)


def _f_test(rss_short: float, rss_long: float, df1: int, df2: int) -> FTest:
    f = max(rss_short - rss_long, 0.0) / df1 / (rss_long / df2) if rss_long > 0 else np.inf
    return FTest(float(f), df1, df2, float(scipy.stats.f.sf(f, df1, df2)))


def _differences(levels: tuple, fit: _LeastSquares, df: int) -> pd.DataFrame:
    k = len(levels)
    lines = {}
    for j in range(1, k):
        contrast = np.zeros(k + 1)
        contrast[[0, j]] = -1.0, 1.0
        error = float(np.sqrt(contrast @ fit.covariance @ contrast))
        lines[f"{levels[j]} - {levels[0]}"] = t_line(float(contrast @ fit.b), error, float(df))
    names = ["estimate", "standard_error", "df", "t", "p", "ci_low", "ci_high"]
    return pd.DataFrame.from_dict(lines, orient="index", columns=names)


def _warnings(
    dropped: int, slopes: FTest, own: np.ndarray, levels: tuple, member: np.ndarray, c: np.ndarray, name: str
) -> list[Note]:
    notes = dropped_words(dropped)
    if slopes.p < _SLOPES_DIFFER:
        each = ", ".join(f"{level} {slope:.3g}" for level, slope in zip(levels, own, strict=True))
        notes.append(Note("slopes_differ_by_group", name=name, p=slopes.p, each=each, at=float(c.mean())))
    low = max(c[column > 0].min() for column in member.T)
    high = min(c[column > 0].max() for column in member.T)
    if low > high:
        notes.append(Note("no_shared_range", name=name))
    return notes
