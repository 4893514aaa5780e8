"""Comparison of groups of golfers in a posture or strike quantity, by a primary and several supplementary methods."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import Any

import numpy as np
import pandas as pd

from swinglab import columns
from swinglab.answers.between import leverage_notes
from swinglab.answers.cells import GOLFER, KINDS, kind_notes, kinds_of
from swinglab.answers.described import DeclaredColumns, Described, describe
from swinglab.answers.lines import NO_NUMBER, Subject, judged, warned
from swinglab.answers.measurement_methods import measured_ways, ways_words
from swinglab.answers.question import KIND, NONE_DECLARED
from swinglab.answers.rules import FEWEST_GOLFERS, FEWEST_IN_A_GROUP
from swinglab.answers.selection import rows_where
from swinglab.errors import BadTable
from swinglab.finding_words import Note
from swinglab.records import Comparison, Errors, Finding
from swinglab.statistics.adjusted import compare_adjusted
from swinglab.statistics.cluster_robust import fit_cluster_robust
from swinglab.statistics.design import is_number
from swinglab.statistics.estimate import Estimate
from swinglab.statistics.golfer_means import GolferMeansFit, fit_golfer_means
from swinglab.statistics.groups import (
    compare_means,
    compare_paired,
    golfer_group_means,
    golfers_in_several,
)
from swinglab.statistics.mixed import fit_mixed
from swinglab.statistics.rows import complete_rows, dropped_words, levels_of, listed
from swinglab.statistics.wild import wild_bootstrap

METHOD = "method"
#: Share of measurement error in the variance between golfers from which a warning is given.
_MUCH_ERROR = 0.5
_MEANS = Note("golfer_means")


@dataclass(frozen=True, slots=True, eq=False)
class Pair:
    """Two groups of a comparison, and the swings without missing values; differences are second minus first group.

    asked : the question. value : the quantity compared. rows : the swings of both groups. groups : the two
    values of the column that defines the groups. adjust : covariates. warnings : warnings for every finding
    of the pair.
    """

    asked: Comparison
    value: Described
    rows: pd.DataFrame
    groups: tuple
    adjust: tuple[str, ...]
    warnings: tuple[Note, ...]

    def line(
        self, level: str, method: Note, estimate: Estimate, warnings: Sequence[Note] = (), **more: Any
    ) -> Finding:
        """Return the `Finding` of one method for these two groups, with the role of a supplementary method.

        `warnings` : warnings in addition to those of the pair. `more` : further arguments of `Subject.line`.
        """
        asked = self.asked
        subject = Subject(
            asked.name, "comparison", asked.of, f"{asked.between}[{self.groups[1]}]", asked.event or "",
            self.value.unit, f"{self.groups[1]} against {self.groups[0]}", asked.smallest_effect,
            self.adjust,
        )  # fmt: skip
        more = {"n_golfers": int(self.rows[GOLFER].nunique()), "n_swings": len(self.rows)} | more
        return subject.line(level, method, estimate, warnings=(*self.warnings, *warnings), **more)

    @property
    def term(self) -> str:
        """Name of the regression coefficient for the difference between the groups, as ``column[second group]``."""
        return f"{self.asked.between}[{self.groups[1]}]"

    @property
    def same_golfers(self) -> bool:
        """Whether at least half of the golfers are in both groups; differences are then paired by golfer."""
        shared = golfers_in_several(self.rows, between=self.asked.between, golfer=GOLFER)
        return 2 * len(shared) >= self.rows[GOLFER].nunique()


def compare_groups(
    table: pd.DataFrame, comparison: Comparison, *, errors: Errors, declared: DeclaredColumns = NONE_DECLARED
) -> tuple[Finding, ...]:
    """Compare the means of groups of golfers; positive if the later group has the higher mean.

    Groups are in sorted order or, for a categorical column, in the order of its categories. The primary
    method is Welch's test on golfer means or, with covariates, a regression on golfer means. A conclusion
    must be supported by cluster-robust standard errors and the wild bootstrap on the same means and, with
    fewer than six golfers in a group, by Welch's statistic with the smaller group's degrees of freedom (a
    conservative choice: Mickey & Brown 1966). The t test with equal variances, the permutation test and
    Hedges' g (all without covariates) and the mixed model are reported but do not affect the conclusion. If
    the same golfers are in both groups (as for two clubs), their paired differences are tested. With more
    than two groups, each pair is a question of its own. With fewer than three golfers in a group, or fewer
    than six in all, no conclusion is drawn.

    Parameters
    ----------
    table : pandas.DataFrame
        The swing table, one row for each swing.
    comparison : Comparison
        The question. A name in `adjust` is a column of the table or a posture quantity (at the same event).
    errors : Errors
        Known measurement errors. Marker placement error increases the SD between golfers in both groups, so the
        standard error already includes it; a warning is given if it makes up half of that SD or more.
    declared : mapping of str to (label, unit)
        Columns that the user adds to the swing table.

    Returns
    -------
    tuple of Finding
        Differences in the quantity's unit; for each pair of groups the finding of the primary method is first.

    Raises
    ------
    BadTable
        Missing columns, only one group, groups that were never measured by the same method, or covariates that
        determine the group.
    BadRequest
        A quantity that swinglab does not define and that is not in `declared`.
    """
    found: list[Finding] = []
    for pair in pairs_of(table, comparison, declared=declared):
        found += _compare_pair(pair, errors)
    return tuple(found)


def pairs_of(table: pd.DataFrame, comparison: Comparison, *, declared: DeclaredColumns) -> list[Pair]:
    """Return every pair of groups of a comparison with its swings; raises the same errors as `compare_groups`."""
    value = describe(comparison.of, comparison.event, table=table, declared=declared)
    adjust = tuple(_covariate(table, name, comparison.event) for name in comparison.adjust)
    if value.column in table and not is_number(table[value.column]):
        raise BadTable(
            f"the column {value.column} contains text, but groups can be compared only in a numeric quantity",
            do="name a numeric column or quantity in `of`",
        )
    chosen = rows_where(table, comparison.where)
    rows, dropped = complete_rows(chosen, numeric=[value.column], other=[comparison.between, GOLFER, *adjust])
    source = chosen.loc[rows.index]
    notes = [*dropped_words(dropped)]
    ways = measured_ways(source, names=[comparison.of], event=comparison.event)
    if ways is not None:
        _refuse_confounded(rows[comparison.between], ways)
        rows, adjust = rows.assign(**{METHOD: ways}), (*adjust, METHOD)
        notes.append(ways_words(ways))
    if comparison.between not in KINDS:
        rows = rows.assign(**{KIND: kinds_of(source)})
        notes += kind_notes(source, comparison.where, centred=False)
    groups = levels_of(rows[comparison.between])
    if len(groups) < 2:
        raise BadTable(
            f"the column {comparison.between} has one group ({listed(groups)}), but a comparison needs two or more",
            do="name a column with two groups or more in `between`, or check the selection `where`",
        )
    if len(groups) > 2:
        notes.append(Note("one_of_pairs", pairs=len(groups) * (len(groups) - 1) // 2))
    found = []
    for pair in combinations(groups, 2):
        two = rows[rows[comparison.between].isin(pair)]
        two = two.assign(**{comparison.between: pd.Categorical(two[comparison.between], pair)})
        terms = (*adjust, *_kind_term(two))
        found.append(Pair(comparison, value, two, pair, terms, tuple(notes)))
    return found


def _kind_term(rows: pd.DataFrame) -> tuple[str, ...]:
    """Return the kind of swing (club and shot) as a covariate if golfers have different shares of kinds."""
    if KIND not in rows or rows[KIND].nunique() < 2:
        return ()
    shares = pd.crosstab(rows[GOLFER], rows[KIND], normalize="index")
    return (KIND,) if float((shares.max() - shares.min()).max()) > 1e-12 else ()


def _compare_pair(pair: Pair, errors: Errors) -> list[Finding]:
    if pair.same_golfers:
        return _same_golfers(pair)
    # Raises BadTable with the names of golfers who are in both groups: so few are probably a typing error.
    golfer_group_means(pair.rows, pair.value.column, between=pair.asked.between, golfer=GOLFER)
    groups = pair.rows.groupby(pair.asked.between, observed=True)[GOLFER].nunique()
    if groups.min() < FEWEST_IN_A_GROUP or groups.sum() < FEWEST_GOLFERS:
        return [_no_claim(pair, groups)]
    lines = _adjusted_lines(pair) if pair.adjust else _plain_lines(pair)
    lines[0] = warned(judged(lines[0]), _error_words(pair, errors))
    return lines


def _plain_lines(pair: Pair) -> list[Finding]:
    """Return the findings without covariates; primary is Welch's test, which allows unequal variances."""
    between = pair.asked.between
    simple = compare_means(pair.rows, pair.value.column, between=between, golfer=GOLFER)
    regressed = fit_golfer_means(pair.rows, pair.value.column, [between], golfer=GOLFER)
    patterns = "every exchange" if simple.permutation_exact else "drawn at random"
    g = Estimate(simple.hedges_g, ci_low=simple.hedges_g_low, ci_high=simple.hedges_g_high)
    welch = Estimate.by_t(simple.difference, simple.standard_error, simple.df)
    fewest = int(simple.means["golfers"].min())
    # Welch's degrees of freedom are estimated; they are too many if the small group has the larger variance.
    strict = Estimate.by_t(simple.difference, simple.standard_error, fewest - 1)
    return [
        pair.line("group", Note("welch"), welch, simple.warnings),
        *([pair.line("group", Note("welch_smaller_group"), strict)] if fewest < FEWEST_GOLFERS else []),
        *_robust_lines(pair, regressed),
        pair.line("group", _MEANS, Estimate.of_term(regressed.coefficients, pair.term)),
        pair.line(
            "group",
            Note("label_exchange", patterns=patterns),
            Estimate(simple.difference, p=simple.permutation_p),
        ),
        pair.line("group", Note("hedges_g"), g, unit="SD between golfers"),
        _mixed_line(pair),
    ]


def _adjusted_lines(pair: Pair) -> list[Finding]:
    between, adjust = pair.asked.between, list(pair.adjust)
    fit = fit_golfer_means(pair.rows, pair.value.column, [between, *adjust], golfer=GOLFER)
    plain = fit_golfer_means(pair.rows, pair.value.column, [between], golfer=GOLFER)
    notes = (*fit.warnings, *leverage_notes(fit, pair.term), *_slope_words(pair))
    return [
        pair.line("group", _MEANS, Estimate.of_term(fit.coefficients, pair.term), notes),
        *_robust_lines(pair, fit),
        pair.line(
            "group", _MEANS, Estimate.of_term(plain.coefficients, pair.term), correction="not_adjusted",
            adjusted_for=(),
        ),
        _mixed_line(pair),
    ]  # fmt: skip


def _robust_lines(pair: Pair, fit: GolferMeansFit) -> list[Finding]:
    """Return the supplementary findings on the same golfer means: cluster-robust (CR2) and wild bootstrap."""
    means = fit.means.reset_index()
    terms = list(fit.means.columns[1:])
    cr2 = fit_cluster_robust(means, pair.value.column, terms, golfer=GOLFER)
    wild = wild_bootstrap(means, pair.value.column, terms, golfer=GOLFER, term=pair.term)
    return [
        pair.line(
            "group", Note("cluster_robust"), Estimate.of_term(cr2.coefficients, pair.term), cr2.warnings
        ),
        pair.line("group", Note("wild_bootstrap", weights=wild.weights), wild.as_estimate(), wild.warnings),
    ]


def _mixed_line(pair: Pair) -> Finding:
    """Return the finding of the mixed model on all swings, or the reason why it could not be fitted."""
    method = Note("mixed_model")
    try:
        fitted = fit_mixed(pair.rows, pair.value.column, [pair.asked.between, *pair.adjust], golfer=GOLFER)
    except BadTable as fault:
        return pair.line("group", method, NO_NUMBER, (Note("no_fit", why=fault.what),))
    return pair.line("group", method, Estimate.of_term(fitted.coefficients, pair.term), fitted.warnings)


def _same_golfers(pair: Pair) -> list[Finding]:
    """Return the findings from paired differences of the golfers who are in both groups."""
    both = compare_paired(pair.rows, pair.value.column, between=pair.asked.between, golfer=GOLFER)
    notes = [Note("golfers_in_both", groups=listed(pair.groups))]
    if pair.adjust:
        notes.append(Note("not_adjusted_paired", names=listed(pair.adjust)))
    few = both.n_golfers < FEWEST_GOLFERS
    own = Estimate(both.difference) if few else Estimate.by_t(both.difference, both.standard_error, both.df)
    first = judged(
        pair.line(
            "within", Note("paired_t"), own, (*notes, *both.warnings), n_golfers=both.n_golfers, named=()
        ),
        reading=Note("no_claim") if few else None,
    )
    if few:
        return [first]
    method = Note(
        "difference_signs", patterns="every sign pattern" if both.permutation_exact else "drawn at random"
    )
    flipped = Estimate(both.difference, p=both.permutation_p)
    return [first, pair.line("within", method, flipped, n_golfers=both.n_golfers, named=())]


def _no_claim(pair: Pair, golfers: pd.Series) -> Finding:
    means = pair.rows.groupby([pair.asked.between, GOLFER], observed=True)[pair.value.column].mean()
    first, second = (float(means[group].mean()) for group in pair.groups)
    counts = ", ".join(f"{group}: {golfers[group]}" for group in pair.groups)
    note = Note("few_in_groups", counts=counts, fewest_each=FEWEST_IN_A_GROUP, fewest=FEWEST_GOLFERS)
    line = pair.line("group", Note("described"), Estimate(second - first), [note], named=())
    return judged(line, reading=Note("no_claim"))


def _slope_words(pair: Pair) -> tuple[Note, ...]:
    """Return notes on numeric covariates whose slope differs between the groups."""
    notes: list[Note] = []
    for name in pair.adjust:
        if not is_number(pair.rows[name]):
            continue
        means = pair.rows.groupby(GOLFER, observed=True).agg(
            {pair.value.column: "mean", name: "mean", pair.asked.between: "first"}
        )
        try:
            notes += compare_adjusted(
                means, pair.value.column, covariate=name, between=pair.asked.between
            ).warnings
        except BadTable:
            notes.append(Note("slopes_not_compared", name=name))
    return tuple(notes)


def _error_words(pair: Pair, errors: Errors) -> list[Note]:
    known = pair.value.known
    if known is None or known.kind != "posture" or known.unit != "deg" or not errors.placement_deg:
        return []
    means = pair.rows.groupby([pair.asked.between, GOLFER], observed=True)[pair.value.column].mean()
    spread = float(np.mean([means[group].var() for group in pair.groups]))
    share = errors.placement_deg**2 / spread
    if share < _MUCH_ERROR:
        return []
    return [Note("placement_in_spread", degrees=errors.placement_deg, share=min(share, 1.0))]


def _refuse_confounded(groups: pd.Series, ways: np.ndarray) -> None:
    """Raise BadTable where two groups were never measured by the same method."""
    used = {group: set(ways[(groups == group).to_numpy()]) for group in levels_of(groups)}
    apart = [f"{a} and {b}" for a, b in combinations(used, 2) if not used[a] & used[b]]
    if apart:
        raise BadTable(
            f"the groups {listed(apart)} were measured by different methods ({'; '.join(sorted(set(ways)))}), so a "
            "difference may come from the methods and not from the golfers",
            do="compare golfers who were measured by the same method",
        )


def _covariate(table: pd.DataFrame, name: str, event: str | None) -> str:
    """Return the column that a name in `adjust` refers to."""
    if name in table.columns or event is None or name not in columns.QUANTITIES:
        return name
    return columns.event_column_name(name, event)
