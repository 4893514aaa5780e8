"""Groups of golfers compared in a posture or strike quantity, with every line a reader may ask for."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np
import pandas as pd

from swinglab import columns
from swinglab.answers.measurement_methods import measured_ways, ways_words
from swinglab.errors import BadTable
from swinglab.records import Comparison, Errors, Finding
from swinglab.statistics.adjusted import compare_adjusted
from swinglab.statistics.cluster_robust import fit_cluster_robust
from swinglab.statistics.design import is_number
from swinglab.statistics.golfer_means import fit_golfer_means
from swinglab.statistics.groups import (
    FEW_IN_A_GROUP,
    compare_means,
    compare_paired,
    golfer_group_means,
    golfers_in_several,
)
from swinglab.statistics.mixed import fit_mixed
from swinglab.statistics.rows import complete_rows, dropped_words, levels_of, listed
from swinglab.statistics.wild import wild_bootstrap

GOLFER = "golfer"
FEWEST_GOLFERS = 6
METHOD = "method"
NO_CLAIM = "no claim: too few golfers"
_MEANS = "regression on golfer means, t on golfers less coefficients"
_NUMBERS = ["estimate", "standard_error", "df", "p", "ci_low", "ci_high"]
_NONE = (np.nan,) * 5
#: From this share of error in the spread between golfers on, it is said.
_MUCH_ERROR = 0.5


@dataclass(frozen=True, slots=True, eq=False)
class _Pair:
    """Two groups of one comparison: their complete rows, the second group compared with the first."""

    asked: Comparison
    value: str
    rows: pd.DataFrame
    groups: tuple
    adjust: tuple[str, ...]
    warnings: tuple[str, ...]

    def line(
        self, level: str, method: str, numbers: Sequence[float], *, unit: str | None = None,
        warnings: Sequence[str] = (),
    ) -> Finding:  # fmt: skip
        """A beside line; numbers: estimate, standard_error, df, p, ci_low, ci_high."""
        estimate, error, df, p, low, high = (float(number) for number in numbers)
        asked = self.asked
        smallest = np.nan if asked.smallest_effect is None or unit else asked.smallest_effect
        return Finding(
            asked.name, "comparison", level, "beside", asked.of, f"{asked.between}[{self.groups[1]}]",
            asked.event or "", estimate, error, df, p, float("nan"), low, high,
            unit or columns.column(self.value).unit, f"{self.groups[1]} against {self.groups[0]}", method,
            int(self.rows[GOLFER].nunique()), len(self.rows), smallest, "", (*self.warnings, *warnings),
        )  # fmt: skip


def compare_groups(table: pd.DataFrame, comparison: Comparison, *, errors: Errors) -> tuple[Finding, ...]:
    """Compare groups of golfers in a quantity; positive where the later group (in declared or sorted order) is higher.

    Judged is the regression on golfer means with the group, and what the comparison adjusts for, as terms.
    Beside it: Welch, exchanged labels and Hedges' g (unadjusted), cluster-robust, mixed model. Golfers that
    stand in several groups (clubs, phases) are compared with themselves. Of more than two groups each pair
    is a question of its own. With fewer than three golfers in a group, or six in all, no claim is made.

    Parameters
    ----------
    table : pandas.DataFrame
        The swing table, one row a swing.
    comparison : Comparison
        The question. A name in `adjust` is a column of the table or a posture quantity (at the same event).
    errors : Errors
        Known errors of the set-up. Placement error spreads golfers apart but leans to no group: it costs
        certainty, which the standard error already shows; where it makes up half of the spread it is said.

    Returns
    -------
    tuple of Finding
        In the quantity's unit; for each pair the default line first.

    Raises
    ------
    BadTable
        Missing columns, one group only, groups that were never measured in the same way, or covariates that
        fix the group.
    """
    value = columns.event_column_name(comparison.of, comparison.event) if comparison.event else comparison.of
    adjust = tuple(_covariate(table, name, comparison.event) for name in comparison.adjust)
    if value in table and not is_number(table[value]):
        raise BadTable(f"{value} is in words: groups are compared in a number")
    rows, dropped = complete_rows(table, numeric=[value], other=[comparison.between, GOLFER, *adjust])
    ways = measured_ways(table.loc[rows.index], names=[comparison.of], event=comparison.event)
    if ways is not None:
        _refuse_confounded(rows[comparison.between], ways)
        rows, adjust = rows.assign(**{METHOD: ways}), (*adjust, METHOD)
    groups = levels_of(rows[comparison.between])
    if len(groups) < 2:
        raise BadTable(f"{comparison.between} tells one group ({listed(groups)}), two or more are compared")
    found: list[Finding] = []
    for pair in combinations(groups, 2):
        two = rows[rows[comparison.between].isin(pair)]
        two = two.assign(**{comparison.between: pd.Categorical(two[comparison.between], pair)})
        said = [*dropped_words(dropped), *([ways_words(ways)] if ways is not None else [])]
        if len(groups) > 2:
            said.append(
                f"one of {len(groups) * (len(groups) - 1) // 2} pairs of groups, each a question of its own"
            )
        found += _compare_pair(_Pair(comparison, value, two, pair, adjust, tuple(said)), errors)
    return tuple(found)


def _compare_pair(pair: _Pair, errors: Errors) -> list[Finding]:
    shared = golfers_in_several(pair.rows, between=pair.asked.between, golfer=GOLFER)
    if 2 * len(shared) >= pair.rows[GOLFER].nunique():
        return _same_golfers(pair)
    # A few golfers in both groups look like a slip of the pen: the refusal names them.
    golfer_group_means(pair.rows, pair.value, between=pair.asked.between, golfer=GOLFER)
    groups = pair.rows.groupby(pair.asked.between, observed=True)[GOLFER].nunique()
    if groups.min() < FEW_IN_A_GROUP or groups.sum() < FEWEST_GOLFERS:
        return [_no_claim(pair, groups)]
    lines = _adjusted_lines(pair) if pair.adjust else _plain_lines(pair)
    lines[0] = replace(lines[0], role="default", warnings=(*lines[0].warnings, *_error_words(pair, errors)))
    return lines


def _plain_lines(pair: _Pair) -> list[Finding]:
    between = pair.asked.between
    simple = compare_means(pair.rows, pair.value, between=between, golfer=GOLFER)
    regressed = fit_golfer_means(pair.rows, pair.value, [between], golfer=GOLFER)
    exchanged = "every exchange" if simple.permutation_exact else "drawn at random"
    line, one = pair.line, "group"
    return [
        line(one, _MEANS, _numbers(regressed.coefficients, pair), warnings=simple.warnings),
        line(one, "Welch's t test on golfer means", (
            simple.difference, simple.standard_error, simple.df, simple.p, simple.ci_low, simple.ci_high)),
        line(one, f"labels exchanged between golfers ({exchanged})", (
            simple.difference, np.nan, np.nan, simple.permutation_p, np.nan, np.nan)),
        line(one, "Hedges' g, noncentral t limits", (
            simple.hedges_g, np.nan, np.nan, np.nan, simple.hedges_g_low, simple.hedges_g_high),
            unit="SD between golfers"),
        *_swing_lines(pair),
    ]  # fmt: skip


def _adjusted_lines(pair: _Pair) -> list[Finding]:
    between, adjust = pair.asked.between, list(pair.adjust)
    fit = fit_golfer_means(pair.rows, pair.value, [between, *adjust], golfer=GOLFER)
    told = f"{_MEANS}, adjusted for {listed(adjust)}"
    plain = fit_golfer_means(pair.rows, pair.value, [between], golfer=GOLFER)
    return [
        pair.line(
            "group", told, _numbers(fit.coefficients, pair), warnings=(*fit.warnings, *_slope_words(pair))
        ),
        pair.line("group", f"{_MEANS}, not adjusted", _numbers(plain.coefficients, pair)),
        *_swing_lines(pair),
    ]


def _swing_lines(pair: _Pair) -> list[Finding]:
    """Lines of the methods that keep every swing; one that the swings cannot carry keeps its reason."""
    terms = [pair.asked.between, *pair.adjust]
    methods = (
        ("cluster-robust (CR2), Satterthwaite df", fit_cluster_robust),
        ("mixed model by REML, Satterthwaite df", fit_mixed),
    )
    found = []
    for words, fit in methods:
        try:
            fitted = fit(pair.rows, pair.value, terms, golfer=GOLFER)
        except BadTable as fault:
            found.append(pair.line("group", words, (np.nan,) * 6, warnings=[fault.what]))
            continue
        found.append(pair.line("group", words, _numbers(fitted.coefficients, pair), warnings=fitted.warnings))
    return [*found, _wild_line(pair, terms)]


def _wild_line(pair: _Pair, terms: list[str]) -> Finding:
    words = "wild cluster bootstrap, null imposed"
    term = f"{pair.asked.between}[{pair.groups[1]}]"
    try:
        wild = wild_bootstrap(pair.rows, pair.value, terms, golfer=GOLFER, term=term)
    except BadTable as fault:
        return pair.line("group", words, (np.nan,) * 6, warnings=[fault.what])
    numbers = wild.estimate, np.nan, np.nan, wild.p, wild.ci_low, wild.ci_high
    return pair.line("group", f"{words} ({wild.weights})", numbers, warnings=wild.warnings)


def _same_golfers(pair: _Pair) -> list[Finding]:
    """Golfers that stand in both groups are compared with themselves."""
    between = pair.asked.between
    both = compare_paired(pair.rows, pair.value, between=between, golfer=GOLFER)
    said = [f"golfers stand in both {listed(pair.groups)}: each is compared with himself or herself"]
    if pair.adjust:
        said.append(
            f"not adjusted for {listed(pair.adjust)}: what is the golfer's own falls out of the difference"
        )
    numbers = (both.difference, both.standard_error, both.df, both.p, both.ci_low, both.ci_high)
    few = both.n_golfers < FEWEST_GOLFERS
    flips = "every sign pattern" if both.permutation_exact else "drawn at random"
    line = pair.line(
        "within", "t test on golfers' own differences, t on golfers - 1",
        (both.difference, *_NONE) if few else numbers, warnings=(*said, *both.warnings),
    )  # fmt: skip
    first = replace(line, role="default", n_golfers=both.n_golfers, reading=NO_CLAIM if few else "")
    if few:
        return [first]
    second = pair.line(
        "within", f"signs of golfers' differences flipped ({flips})",
        (both.difference, np.nan, np.nan, both.permutation_p, np.nan, np.nan),
    )  # fmt: skip
    return [first, replace(second, n_golfers=both.n_golfers)]


def _no_claim(pair: _Pair, golfers: pd.Series) -> Finding:
    means = pair.rows.groupby([pair.asked.between, GOLFER], observed=True)[pair.value].mean()
    first, second = (float(means[group].mean()) for group in pair.groups)
    counts = ", ".join(f"{group}: {golfers[group]}" for group in pair.groups)
    said = (
        f"golfers in each group: {counts}. With fewer than {FEW_IN_A_GROUP} in a group or {FEWEST_GOLFERS} in all "
        "nothing is said of golfers in general"
    )
    line = pair.line(
        "group", "difference of golfer means, described only", (second - first, *_NONE), warnings=[said]
    )
    return replace(line, role="default", reading=NO_CLAIM)


def _numbers(coefficients: pd.DataFrame, pair: _Pair) -> list[float]:
    term = f"{pair.asked.between}[{pair.groups[1]}]"
    return list(coefficients.loc[[term], _NUMBERS].to_numpy(float)[0])


def _slope_words(pair: _Pair) -> tuple[str, ...]:
    """What the groups' own slopes on a numeric covariate say against one adjusted difference."""
    said: list[str] = []
    for name in pair.adjust:
        if not is_number(pair.rows[name]):
            continue
        means = pair.rows.groupby(GOLFER, observed=True).agg(
            {pair.value: "mean", name: "mean", pair.asked.between: "first"}
        )
        try:
            said += compare_adjusted(means, pair.value, covariate=name, between=pair.asked.between).warnings
        except BadTable:
            said.append(f"too few golfers to tell whether the groups share one slope on {name}")
    return tuple(said)


def _error_words(pair: _Pair, errors: Errors) -> list[str]:
    column = columns.column(pair.value)
    if column.kind != "posture" or column.unit != "deg" or not errors.placement_deg:
        return []
    means = pair.rows.groupby([pair.asked.between, GOLFER], observed=True)[pair.value].mean()
    spread = float(np.mean([means[group].var() for group in pair.groups]))
    share = errors.placement_deg**2 / spread
    if share < _MUCH_ERROR:
        return []
    return [
        f"marker placement ({errors.placement_deg:g} deg) makes up {min(share, 1):.0%} of the spread between golfers "
        "of a group"
    ]


def _refuse_confounded(groups: pd.Series, ways: np.ndarray) -> None:
    """BadTable where two groups were never measured in the same way."""
    used = {group: set(ways[(groups == group).to_numpy()]) for group in levels_of(groups)}
    apart = [f"{a} and {b}" for a, b in combinations(used, 2) if not used[a] & used[b]]
    if apart:
        raise BadTable(
            f"{listed(apart)} were measured in different ways ({'; '.join(sorted(set(ways)))}), so a difference may be "
            "the method's",
            do="compare golfers measured in one way",
        )


def _covariate(table: pd.DataFrame, name: str, event: str | None) -> str:
    """The column that a name in `adjust` stands for."""
    if name in table.columns or event is None or name not in columns.QUANTITIES:
        return name
    return columns.event_column_name(name, event)
