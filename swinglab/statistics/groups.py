"""Comparison of golfer means between two groups (Welch's test, Hedges' g) or between two conditions (paired)."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
import scipy

from swinglab.errors import BadTable
from swinglab.finding_words import Note
from swinglab.statistics.design import NO_ERROR
from swinglab.statistics.effect_size import measure_hedges_g
from swinglab.statistics.permutation import permutation_test_paired, permute_groups
from swinglab.statistics.rows import complete_rows, dropped_words, levels_of, listed

FEW_IN_A_GROUP = 3


@dataclass(frozen=True, slots=True, eq=False)
class GroupMeans:
    """Golfer means by group.

    table : one row for each golfer (index), with the columns group, mean, swings (number of swings). groups : names of
    the groups, the reference group first. dropped : number of rows that are not used because of a missing value.
    """

    table: pd.DataFrame
    groups: tuple
    dropped: int

    def values(self, group: object) -> np.ndarray:
        """Return the golfer means of one group, shape (number of golfers in the group,)."""
        return self.table.loc[self.table["group"] == group, "mean"].to_numpy(float)


@dataclass(frozen=True, slots=True, eq=False)
class MeansComparison:
    """Comparison of two groups of golfers; every difference is second group minus first group.

    groups : names of the (first, second) group. means : one row for each group, with golfers and swings (numbers),
    mean, sd (between golfers), standard_error. difference, standard_error, df, t, p, ci_low, ci_high : Welch's test on
    golfer means, with 95 % limits. hedges_g, hedges_g_low, hedges_g_high : Hedges' g in units of the pooled SD between
    golfers, with 95 % limits. permutation_p : p of the test that exchanges the group labels of golfers.
    permutation_exact : whether it used all possible exchanges.
    """

    groups: tuple
    means: pd.DataFrame
    difference: float
    standard_error: float
    df: float
    t: float
    p: float
    ci_low: float
    ci_high: float
    hedges_g: float
    hedges_g_low: float
    hedges_g_high: float
    permutation_p: float
    permutation_exact: bool
    n_golfers: int
    n_swings: int
    warnings: tuple[Note, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class PairedComparison:
    """Comparison of two conditions within the same golfers; every difference is second minus first condition.

    conditions : names of the (first, second) condition. differences : difference of means of each golfer (index).
    difference, standard_error, df, t, p, ci_low, ci_high : paired t test on these differences, with 95 % limits.
    permutation_p : p of a test that flips the signs of the differences. permutation_exact : whether it used all
    patterns of signs.
    """

    conditions: tuple
    differences: pd.Series
    difference: float
    standard_error: float
    df: float
    t: float
    p: float
    ci_low: float
    ci_high: float
    permutation_p: float
    permutation_exact: bool
    n_golfers: int
    n_swings: int
    warnings: tuple[Note, ...] = ()


def compare_means(
    table: pd.DataFrame, value: str, *, between: str, golfer: str = "golfer"
) -> MeansComparison:
    """Compare the golfer means of two groups by Welch's test; positive if the second group is higher.

    Each golfer counts once, whatever the number of swings.

    Parameters
    ----------
    table : pandas.DataFrame
        One row for each swing.
    value : str
        The numeric column that is compared.
    between : str
        Column that names the group. The first group is the first in the order of a Categorical, otherwise in
        alphabetical order.
    golfer : str
        Column of golfers' codes: which golfer made the swing.

    Returns
    -------
    MeansComparison
        Differences in the unit of `value`.

    Raises
    ------
    BadTable
        Not exactly two groups (with more, keep the rows of two groups at a time); a golfer in both groups (use
        `compare_paired`); fewer than two golfers in a group; no variation between golfers.

    References
    ----------
    Welch 1947; Hedges 1981.

    Examples
    --------
    >>> swings = pd.DataFrame({"golfer": list("AABBCCDDEE"), "group": ["a"] * 4 + ["b"] * 6,
    ...                        "flexion": [10, 12, 14, 12, 20, 22, 25, 23, 18, 20]})
    >>> answer = compare_means(swings, "flexion", between="group")
    >>> round(answer.difference, 2), round(answer.df, 2)
    (9.33, 3.0)
    """
    found = golfer_group_means(table, value, between=between, golfer=golfer)
    if len(found.groups) != 2:
        raise BadTable(
            f"the column {between} has {len(found.groups)} groups ({listed(found.groups)}), but this comparison needs "
            "exactly two",
            do="keep the rows of two groups; compare further pairs separately and adjust their p values",
        )
    first, second = (found.values(group) for group in found.groups)
    if min(len(first), len(second)) < 2:
        raise BadTable(
            f"each group needs two golfers or more: {count_golfers(found)}", do="measure more golfers"
        )
    v1, v2 = np.var(first, ddof=1) / len(first), np.var(second, ddof=1) / len(second)
    if not v1 + v2 > NO_ERROR * max(np.square(first).max(), np.square(second).max()):
        raise BadTable(
            f"in each of the two groups all golfers have the same mean {value}, so no standard error can be estimated",
            do="check the values of the column",
        )
    df = (v1 + v2) ** 2 / (v1**2 / (len(first) - 1) + v2**2 / (len(second) - 1))
    error = float(np.sqrt(v1 + v2))
    difference = float(second.mean() - first.mean())
    line = t_line(difference, error, float(df))
    g = measure_hedges_g(first, second)
    exchanged = permute_groups(first, second)
    return MeansComparison(
        found.groups, _group_table(found), *line, g.g, g.low, g.high, exchanged.p, exchanged.exact,
        len(found.table), int(found.table["swings"].sum()), tuple(_group_warnings(found, value)),
    )  # fmt: skip


def compare_paired(
    table: pd.DataFrame, value: str, *, between: str, golfer: str = "golfer"
) -> PairedComparison:
    """Compare two conditions within the same golfers by a paired t test; positive if the second is higher.

    Each golfer contributes one difference of the means under the two conditions. Golfers with swings under one
    condition only are not used.

    Parameters
    ----------
    table : pandas.DataFrame
        One row for each swing.
    value : str
        The numeric column that is compared.
    between : str
        Column that names the condition, such as club. The first condition is the first in the order of a Categorical,
        otherwise in alphabetical order.
    golfer : str
        Column of golfers' codes: which golfer made the swing.

    Returns
    -------
    PairedComparison
        Differences in the unit of `value`.

    Raises
    ------
    BadTable
        There are not exactly two conditions, fewer than two golfers have swings under both, or all golfers have the
        same difference.

    Examples
    --------
    >>> swings = pd.DataFrame({"golfer": list("AABBCC"), "club": ["iron 7", "wedge"] * 3,
    ...                        "flexion": [10, 12, 14, 15, 20, 26]})
    >>> compare_paired(swings, "flexion", between="club").difference
    3.0
    """
    rows, dropped = complete_rows(table, numeric=[value], other=[between, golfer])
    conditions = levels_of(rows[between])
    if len(conditions) != 2:
        raise BadTable(
            f"the column {between} has {len(conditions)} conditions ({listed(conditions)}), but a paired comparison "
            "needs exactly two",
            do="keep the rows of two conditions",
        )
    means = rows.groupby([golfer, between], observed=True, sort=True)[value].mean().unstack(between)
    both = means.dropna()
    if len(both) < 2:
        raise BadTable(
            f"{len(both)} golfers have swings under both conditions ({listed(conditions)}), but a paired comparison "
            "needs two golfers or more",
            do="measure more golfers under both conditions",
        )
    differences = (both[conditions[1]] - both[conditions[0]]).rename(value)
    spread = float(differences.std(ddof=1))
    if not spread > np.sqrt(NO_ERROR) * np.abs(means.to_numpy()).max():
        raise BadTable(
            f"the difference in {value} between {conditions[0]} and {conditions[1]} is the same for every golfer, so "
            "its standard error cannot be estimated",
            do="check the values of the column",
        )
    n = len(differences)
    flipped = permutation_test_paired(differences.to_numpy())
    warnings = dropped_words(dropped)
    if n < len(means):
        warnings.append(Note("one_condition", golfers=len(means) - n))
    if n < 6:
        warnings.append(Note("few_signs", golfers=n, least=2 / 2**n))
    return PairedComparison(
        conditions, differences, *t_line(float(differences.mean()), spread / np.sqrt(n), n - 1.0), flipped.p,
        flipped.exact, n, int(rows[golfer].isin(both.index).sum()), tuple(warnings),
    )  # fmt: skip


def golfer_group_means(
    table: pd.DataFrame, value: str, *, between: str, golfer: str = "golfer"
) -> GroupMeans:
    """Return the mean of a column for each golfer, with the golfer's group.

    Raises
    ------
    BadTable
        A golfer has swings in more than one group.
    """
    rows, dropped = complete_rows(table, numeric=[value], other=[between, golfer])
    shared = golfers_in_several(rows, between=between, golfer=golfer)
    if shared:
        raise BadTable(
            f"golfer{'s' * (len(shared) != 1)} {listed(shared)} appear{'s' * (len(shared) == 1)} in more than one "
            f"group of the column {between}",
            do="assign each golfer to one group, or compare two conditions of the same golfers with compare_paired",
        )
    means = rows.groupby(golfer, observed=True).agg(
        group=(between, "first"), mean=(value, "mean"), swings=(value, "size")
    )
    return GroupMeans(means, levels_of(rows[between]), dropped)


def golfers_in_several(rows: pd.DataFrame, *, between: str, golfer: str) -> tuple:
    """Return the codes of the golfers who have swings in more than one group of the column `between`."""
    several = rows.groupby(golfer, observed=True)[between].nunique() > 1
    return tuple(several.index[several])


def count_golfers(found: GroupMeans) -> str:
    """Return a text with the number of golfers in each group, for a message."""
    counts = found.table["group"].value_counts()
    return ", ".join(f"{group} has {counts[group]}" for group in found.groups)


def t_line(
    estimate: float, error: float, df: float
) -> tuple[float, float, float, float, float, float, float]:
    """Return (estimate, standard error, df, t, p, ci_low, ci_high) of a two-sided t test, with 95 % limits."""
    t = estimate / error
    half = float(scipy.stats.t.ppf(0.975, df)) * error
    return estimate, error, df, t, float(2 * scipy.stats.t.sf(abs(t), df)), estimate - half, estimate + half


def _group_table(found: GroupMeans) -> pd.DataFrame:
    rows = found.table.groupby("group", observed=True).agg(
        golfers=("mean", "size"), swings=("swings", "sum"), mean=("mean", "mean"), sd=("mean", "std")
    )
    rows["standard_error"] = rows["sd"] / np.sqrt(rows["golfers"])
    return rows.reindex(pd.Index(found.groups, name="group"))  # loc would treat Boolean groups as a mask


def _group_warnings(found: GroupMeans, value: str) -> list[Note]:
    warnings = dropped_words(found.dropped)
    counts = found.table["group"].value_counts()
    few = [f"{group} ({counts[group]})" for group in found.groups if counts[group] < FEW_IN_A_GROUP]
    if few:
        warnings.append(Note("few_in_a_group", fewest=FEW_IN_A_GROUP, groups=", ".join(few)))
    spreads = [np.var(found.values(group), ddof=1) for group in found.groups]
    if min(counts) >= FEW_IN_A_GROUP and max(spreads) > 10 * min(spreads):
        warnings.append(Note("unequal_spread", value=value))
    return warnings
