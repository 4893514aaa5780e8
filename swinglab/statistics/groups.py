"""Comparisons of golfer means: two groups (Welch, Hedges' g, permutation) or two conditions (paired)."""

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
    """Golfer means by group, ready to compare.

    table : one row a golfer: index golfer; columns group, mean, swings. groups : their names, the base first.
    dropped : rows left out for a missing value.
    """

    table: pd.DataFrame
    groups: tuple
    dropped: int

    def values(self, group: object) -> np.ndarray:
        """Means of the golfers in a group, (golfers in the group,)."""
        return self.table.loc[self.table["group"] == group, "mean"].to_numpy(float)


@dataclass(frozen=True, slots=True, eq=False)
class MeansComparison:
    """Two groups of golfers compared; every difference is second group minus first.

    groups : (first, second), the first the base. means : index group; golfers, swings, mean, sd (between
    golfers), standard_error. difference, standard_error, df, t, p, ci_low, ci_high : Welch's test on golfer
    means. hedges_g, hedges_g_low, hedges_g_high : in pooled SD between golfers. permutation_p : from exchanging
    the group labels of golfers; permutation_exact : whether all exchanges were used.
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
    """The same golfers under two conditions; every difference is second minus first.

    difference, standard_error, df, t, p, ci_low, ci_high : paired t test on golfers' differences.
    permutation_p : of a test that flips the signs of the differences. differences : indexed by golfer.
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
    """Compare two groups of golfers on their golfer means, positive where the second group lies higher.

    Each golfer counts once, whatever the number of swings.

    Parameters
    ----------
    table : pandas.DataFrame
        One row a swing.
    value : str
        The numeric column compared.
    between : str
        The column of the two groups; the base is the first in declared (Categorical) or sorted order.
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
            f"{between} holds {len(found.groups)} groups ({listed(found.groups)}), two are compared",
            do="keep the rows of two groups; compare further pairs separately and adjust their p values",
        )
    first, second = (found.values(group) for group in found.groups)
    if min(len(first), len(second)) < 2:
        raise BadTable(f"each group needs two golfers or more: {count_golfers(found)}")
    v1, v2 = np.var(first, ddof=1) / len(first), np.var(second, ddof=1) / len(second)
    if not v1 + v2 > NO_ERROR * max(np.square(first).max(), np.square(second).max()):
        raise BadTable(f"all golfers of a group have the same mean {value}, so no error can be estimated")
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
    """Compare two conditions within the same golfers, positive where the second lies higher.

    Each golfer gives one difference of condition means; golfers seen under one condition only are left out
    and counted. Raises BadTable where there are not two conditions, or fewer than two golfers saw both.

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
            f"{between} holds {len(conditions)} conditions ({listed(conditions)}), two are compared"
        )
    means = rows.groupby([golfer, between], observed=True, sort=True)[value].mean().unstack(between)
    both = means.dropna()
    if len(both) < 2:
        raise BadTable(f"{len(both)} golfers have swings under both {listed(conditions)}, two are needed")
    differences = (both[conditions[1]] - both[conditions[0]]).rename(value)
    spread = float(differences.std(ddof=1))
    if not spread > np.sqrt(NO_ERROR) * np.abs(means.to_numpy()).max():
        raise BadTable(f"every golfer has the same difference of {value}, so no error can be estimated")
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
    """Mean and group of each golfer. Raises BadTable if a golfer appears in more than one group."""
    rows, dropped = complete_rows(table, numeric=[value], other=[between, golfer])
    shared = golfers_in_several(rows, between=between, golfer=golfer)
    if shared:
        raise BadTable(
            f"{listed(shared)} appear{'s' * (len(shared) == 1)} in more than one group of {between}",
            do="keep each golfer in one group, or compare the same golfers under both with compare_paired",
        )
    means = rows.groupby(golfer, observed=True).agg(
        group=(between, "first"), mean=(value, "mean"), swings=(value, "size")
    )
    return GroupMeans(means, levels_of(rows[between]), dropped)


def golfers_in_several(rows: pd.DataFrame, *, between: str, golfer: str) -> tuple:
    """Golfers that appear in more than one group."""
    several = rows.groupby(golfer, observed=True)[between].nunique() > 1
    return tuple(several.index[several])


def count_golfers(found: GroupMeans) -> str:
    """Text with the number of golfers in each group."""
    counts = found.table["group"].value_counts()
    return ", ".join(f"{group} has {counts[group]}" for group in found.groups)


def t_line(
    estimate: float, error: float, df: float
) -> tuple[float, float, float, float, float, float, float]:
    """Two-sided t test: (estimate, standard error, df, t, p, ci_low, ci_high), with 95 % limits."""
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
