"""Comparisons of groups as findings: which line is judged, what stands beside it, what is refused."""

from __future__ import annotations

import numpy as np
import pytest
from made_questions import BEND, group_table
from scipy import stats

from swinglab.answers import compare_groups, judge
from swinglab.errors import BadTable
from swinglab.records import Comparison, Errors, Finding
from swinglab.statistics import compare_means, fit_golfer_means, wild_bootstrap


def asked(**changes: object) -> Comparison:
    """A comparison of forward bend at impact between groups."""
    fields = {"name": "bend", "of": "thorax_flexion_deg", "event": "impact", "between": "group"} | changes
    return Comparison(**fields)  # type: ignore[arg-type]


def by_method(findings: tuple[Finding, ...], start: str) -> Finding:
    """The one line whose method begins so."""
    (found,) = [f for f in findings if f.method.startswith(start)]
    return found


def test_the_judged_line_is_welch_on_golfer_means() -> None:
    """Truth: other. scipy's Welch test on golfer means; companions are the kit's fits, called on their own."""
    table = group_table()
    found = compare_groups(table, asked(smallest_effect=3.0), errors=Errors())
    line = fit_golfer_means(table, BEND, ["group"]).coefficients.loc["group[skilled]"]
    first = found[0]
    assert [f.role for f in found] == ["default"] + ["beside"] * 6
    means = table.groupby("golfer", as_index=False).agg({BEND: "mean", "group": "first"})
    wild = wild_bootstrap(means, BEND, ["group"], term="group[skilled]")
    assert by_method(found, "wild cluster bootstrap").p == wild.p
    a, b = (means.loc[means["group"] == name, BEND] for name in ("skilled", "learners"))
    other = stats.ttest_ind(a, b, equal_var=False)
    assert (first.estimate, first.df, first.p) == pytest.approx((a.mean() - b.mean(), other.df, other.pvalue))
    pooled = by_method(found, "regression on golfer means")
    assert (pooled.estimate, pooled.standard_error, pooled.df, pooled.p) == pytest.approx(
        tuple(line[["estimate", "standard_error", "df", "p"]])
    )
    assert (first.kind, first.level, first.per) == ("comparison", "group", "skilled against learners")
    assert (first.outcome, first.event, first.unit) == ("thorax_flexion_deg", "impact", "deg")
    assert first.method_key == "welch" and first.smallest_effect == 3.0 and first.n_golfers == 14
    welch = compare_means(table, BEND, between="group")
    assert by_method(found, "labels exchanged").p == pytest.approx(welch.permutation_p)
    g = by_method(found, "Hedges")
    assert (g.ci_low, g.ci_high) == pytest.approx((welch.hedges_g_low, welch.hedges_g_high))
    assert g.unit == "SD between golfers" and np.isnan(g.p) and np.isnan(g.smallest_effect)
    assert judge(found, [asked()])[0].reading == "a difference was found"


def test_four_golfers_that_spread_most_do_not_settle_a_difference_alone() -> None:
    """Truth: other. Welch's statistic by scipy, its p with 3 degrees of freedom: without it, a difference."""
    table = group_table(golfers=(4, 12), difference=4.0, seed=4)
    found = compare_groups(table, asked(), errors=Errors())
    strict = next(f for f in found if f.method_key == "welch_smaller_group")
    means = table.groupby("golfer", as_index=False).agg({BEND: "mean", "group": "first"})
    a, b = (means.loc[means["group"] == name, BEND] for name in ("skilled", "learners"))
    statistic = stats.ttest_ind(a, b, equal_var=False).statistic
    assert strict.p == pytest.approx(2 * stats.t.sf(abs(statistic), 3))
    assert found[0].p < 0.05 < strict.p
    read = judge(found, [asked()])[0]
    assert (read.reading_key, read.not_supported_by) == ("methods_disagree", "welch_smaller_group")
    others = [f for f in found if f is not strict]
    assert judge(others, [asked()])[0].reading_key == "difference"


def test_no_difference_is_not_settled_or_too_small() -> None:
    """Truth: made. No difference: not settled; with a wide smallest effect: too small to matter."""
    table = group_table(difference=0.0, seed=4)
    narrow, wide = asked(smallest_effect=0.5), asked(smallest_effect=8.0)
    assert judge(compare_groups(table, narrow, errors=Errors()), [narrow])[0].reading.startswith(
        "not settled"
    )
    assert judge(compare_groups(table, wide, errors=Errors()), [wide])[0].reading == "too small to matter"


def test_adjusting_takes_a_confounder_away() -> None:
    """Truth: made. All of the difference is speed's: gone once speed is a term; unadjusted beside it."""
    table = group_table(golfers=(10, 10), difference=0.0, seed=5)
    fast = (table["group"] == "skilled") * 6.0
    table["clubhead_speed_mps"] += fast
    table[BEND] += 1.5 * (table["clubhead_speed_mps"] - 36)
    found = compare_groups(table, asked(adjust=("clubhead_speed_mps", "sex")), errors=Errors())
    assert found[0].adjusted_for == ("clubhead_speed_mps", "sex")
    plain = next(f for f in found if f.correction == "not_adjusted")
    assert plain.p < 0.001 < 0.05 < found[0].p
    assert found[0].df == 20 - 4


def test_slopes_that_differ_between_groups_are_said() -> None:
    """Truth: made. Speed raises the value in one group and lowers it in the other."""
    table = group_table(golfers=(10, 10), difference=0.0, seed=6)
    sign = np.where(table["group"] == "skilled", 1.0, -1.0)
    table[BEND] += 3 * sign * (table["clubhead_speed_mps"] - 36)
    found = compare_groups(table, asked(adjust=("clubhead_speed_mps",)), errors=Errors())
    assert any("slopes on clubhead_speed_mps differ" in said for said in found[0].warnings)


def test_few_golfers_make_no_claim() -> None:
    """Truth: made. Two golfers in a group, or five in all: the difference is shown, nothing is tested."""
    for golfers in ((2, 8), (3, 2)):
        table = group_table(golfers=golfers)
        (line,) = judge(compare_groups(table, asked(), errors=Errors()), [asked()])
        assert line.role == "default" and np.isfinite(line.estimate) and np.isnan(line.p)
        assert line.reading == "no claim: too few golfers"
        assert any("no claim is made about golfers in general" in said for said in line.warnings)


def test_the_same_golfers_under_two_clubs_are_paired() -> None:
    """Truth: made. A column of swings: each golfer compared with himself; a strike quantity has no event."""
    table = group_table()
    table["clubhead_speed_mps"] += np.where(table["club"] == "wedge", -2.0, 0.0)
    found = compare_groups(table, asked(of="clubhead_speed_mps", event=None, between="club"), errors=Errors())
    assert [f.level for f in found] == ["within", "within"] and found[0].df == 13
    assert found[0].estimate == pytest.approx(-2.0, abs=0.4) and found[1].p < 0.001
    assert any("himself or herself" in said for said in found[0].warnings)


def test_each_pair_of_three_groups_is_judged_with_its_own_companions() -> None:
    """Truth: made. Three groups: three judged lines, p by Holm over them, no rival of another pair."""
    table = group_table(golfers=(6, 12), difference=-8.0)
    table.loc[table["golfer"] >= "G12", "group"] = "tour"
    found = judge(compare_groups(table, asked(), errors=Errors()), [asked()])
    judged = [f for f in found if f.role == "default"]
    assert [f.per for f in judged] == [
        "skilled against learners",
        "tour against learners",
        "tour against skilled",
    ]
    assert [f.reading_key for f in judged] == ["difference", "difference", "not_settled"]
    assert judged[0].p_adjusted > judged[0].p


def test_ways_of_measuring_are_a_term_or_a_refusal() -> None:
    """Truth: made. Methods that part the groups are refused; those spread over both become a term."""
    table = group_table()
    table["thorax_frame_method"] = np.where(table["group"] == "skilled", "c7, t8", "stand-in")
    with pytest.raises(BadTable, match="learners and skilled were measured by different methods"):
        compare_groups(table, asked(), errors=Errors())
    odd = table["golfer"].str[-1].astype(int) % 2 == 1
    table["thorax_frame_method"] = np.where(odd, "c7, t8", "stand-in")
    found = compare_groups(table, asked(), errors=Errors())
    assert found[0].adjusted_for == ("method",)
    assert any("adjusted for the measurement method" in said for said in found[0].warnings)
    strike = asked(of="clubhead_speed_mps", event=None)
    assert not compare_groups(table, strike, errors=Errors())[0].adjusted_for


def test_placement_error_that_makes_the_spread_is_said() -> None:
    """Truth: made. Golfers spread by 2 deg: a placement error of 3 deg is all of it."""
    found = compare_groups(group_table(), asked(), errors=Errors(placement_deg=3.0))
    assert any("marker placement error (3 deg)" in said for said in found[0].warnings)
    assert not any("marker placement" in said for said in compare_groups(
        group_table(), asked(), errors=Errors(placement_deg=0.5))[0].warnings)  # fmt: skip


def test_what_cannot_be_asked_is_refused() -> None:
    """Truth: made. One group, words for a value, a column that is not there."""
    table = group_table()
    with pytest.raises(BadTable, match="has one group"):
        compare_groups(table.assign(group="all"), asked(), errors=Errors())
    with pytest.raises(BadTable, match="contains text"):
        compare_groups(table.assign(**{BEND: "x"}), asked(), errors=Errors())
    with pytest.raises(BadTable, match="no column grup"):
        compare_groups(table, asked(between="grup"), errors=Errors())


def test_one_swing_a_golfer_still_has_its_judged_line() -> None:
    """Truth: made. Methods that need several swings say so; golfer means do not need them."""
    table = group_table().groupby("golfer").head(1)
    found = compare_groups(table, asked(), errors=Errors())
    assert np.isfinite(found[0].p) and found[0].n_swings == 14
    mixed = by_method(found, "mixed model")
    assert np.isfinite(mixed.p) or mixed.warnings


def test_one_golfer_in_both_groups_is_refused_by_name() -> None:
    """Truth: made. Thirteen golfers in one group each, one in both: a slip, not a paired question."""
    table = group_table()
    table.loc[3, "group"] = "skilled"
    with pytest.raises(BadTable, match="G00 appears in more than one group"):
        compare_groups(table, asked(), errors=Errors())
