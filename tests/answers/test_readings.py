"""The readings: the four rules in their order, Holm over a study, methods that disagree."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest
from scipy import stats

from swinglab import finding_words
from swinglab.answers import judge
from swinglab.answers.lines import Subject, read_as
from swinglab.finding_words import Note
from swinglab.records import Comparison, Hunch
from swinglab.statistics.estimate import Estimate

GONE = float("nan")


def line(
    name="h",
    *,
    estimate=1.0,
    error=0.2,
    df=20.0,
    role="default",
    method="random_slope",
    smallest=GONE,
    **more,
):
    """A line with p and limits that follow from estimate, error and df."""
    subject = Subject(
        name,
        "hunch",
        "attack_angle_deg",
        "thorax_flexion_deg",
        "impact",
        "deg",
        "10 deg of thorax flexion",
        smallest,
    )
    by_t = Estimate.by_t(estimate, error, df)
    made = subject.line("within", Note(method, **FACTS.get(method, {})), by_t, n_golfers=12, n_swings=240)
    return replace(made, role=role, **more)


FACTS = {"wild_bootstrap": {"weights": "signs"}, "random_slope": {"drift": ""}, "block_signs": {"length": 3}}


def asked(name="h", expect="positive") -> Hunch:
    return Hunch(name, "attack_angle_deg", "thorax_flexion_deg", "impact", expect=expect)


@pytest.mark.parametrize(
    ("given", "expect", "reading"),
    [
        ({"estimate": 1.0}, "positive", "borne out"),
        ({"estimate": 1.0}, "negative", "contradicted"),
        ({"estimate": -1.0}, "negative", "borne out"),
        ({"estimate": -1.0}, "either", "a relation was found"),
        ({"estimate": 0.1}, "positive", "not settled"),
        ({"estimate": 0.5, "error": 0.1, "smallest": 1.0}, "positive", "too small to matter"),
        ({"estimate": 0.5, "error": 0.1, "smallest": 0.6}, "positive", "borne out"),
        ({"estimate": 0.1, "error": 0.1, "smallest": 0.2}, "positive", "not settled"),
    ],
)
def test_the_four_rules_in_their_order(given: dict, expect: str, reading: str) -> None:
    """Truth: made. An effect clearly there, but inside +/- smallest_effect, is too small before it is anything else."""
    (found,) = judge([line(**given)], [asked(expect=expect)])
    assert found.reading.split(":")[0] == reading
    assert found.p_adjusted == pytest.approx(found.p)


def test_equivalence_uses_the_90_percent_interval() -> None:
    """Truth: made. A limit between the 90 % and the 95 % interval is enough."""
    high = {level: 0.2 + stats.t.ppf(level, 20) * 0.2 for level in (0.95, 0.975)}
    between = 0.5 * (high[0.95] + high[0.975])
    (found,) = judge([line(estimate=0.2, smallest=between)], [asked()])
    assert found.reading == "too small to matter"
    (found,) = judge([line(estimate=0.2, smallest=0.99 * high[0.95])], [asked()])
    assert found.reading.startswith("not settled")


def test_p_is_adjusted_over_the_default_lines_of_the_study() -> None:
    """Truth: other. Holm by hand: .01, .02, .04 become .03, .04, .04; a line beside or without p does not count."""
    lines = [
        line("a", p=0.02), line("b", p=0.01), line("a", role="beside", p=0.001), line("c", p=0.04),
        line("d", estimate=GONE, p=GONE),
    ]  # fmt: skip
    found = judge(lines, {name: asked(name) for name in "abcd"})
    np.testing.assert_allclose([f.p_adjusted for f in found if f.role == "default"][:3], [0.04, 0.03, 0.04])
    assert np.isnan(found[2].p_adjusted) and found[2].reading == ""
    assert np.isnan(found[4].p_adjusted) and found[4].reading.startswith("not settled")
    crowd = judge([line("a", p=0.03), line("b", p=0.04)], [asked("a"), asked("b")])
    assert all(f.reading.startswith("not settled") for f in crowd)


@pytest.mark.parametrize(
    ("method", "rival", "reading"),
    [
        ("cluster_robust", {"p": 0.2}, "methods_disagree"),
        ("cluster_robust", {"estimate": -1.0}, "methods_disagree"),
        ("own_slopes", {"p": 0.2}, "methods_disagree"),
        ("wild_bootstrap", {"p": 0.2}, "methods_disagree"),
        ("wild_bootstrap", {"p": 0.04}, "borne_out"),
        ("wild_bootstrap", {"p": GONE}, "borne_out"),
        ("random_slope", {"estimate": -0.2}, "borne_out"),
        ("cluster_robust", {"p": 0.2, "level": "between"}, "borne_out"),
    ],
)
def test_a_direction_needs_the_support_of_every_companion(method: str, rival: dict, reading: str) -> None:
    """Truth: made. A companion supports with its sign and an unadjusted p below .05; other lines and levels do not
    count, nor does a companion without a p."""
    found = judge([line(), line(role="beside", method=method, **rival)], [asked()])
    assert found[0].reading_key == reading
    assert found[0].not_supported_by == (method if reading == "methods_disagree" else "")


def test_support_is_unadjusted_where_the_verdict_is_adjusted() -> None:
    """Truth: made. Judged among four questions, p = .01 becomes .04; a companion at .04 supports it."""
    many = [line(p=0.01), *(line(name, p=0.9, estimate=0.01) for name in "abc")]
    rival = line(role="beside", method="cluster_robust", p=0.04)
    found = judge([*many, rival], [asked(name) for name in "habc"])
    assert (found[0].reading_key, found[0].p_adjusted) == ("borne_out", pytest.approx(0.04))


def test_nothing_is_unsettled_twice_and_too_small_needs_80_percent_intervals() -> None:
    """Truth: made. Not settled by the default stays so whatever companions read; too small needs them inside."""
    rival = line(role="beside", method="cluster_robust", estimate=-3.0)
    found = judge([line(estimate=0.1, smallest=0.2), rival], [asked()])
    assert found[0].reading_key == "not_settled"
    small = line(estimate=0.1, error=0.1, smallest=1.0)
    near = {"estimate": 0.7, "error": 0.2, "smallest": 1.0, "role": "beside", "method": "cluster_robust"}
    half = stats.t.ppf(0.9, 20) * 0.2
    inside, outside = line(**near | {"estimate": 0.99 - half}), line(**near | {"estimate": 1.01 - half})
    assert judge([small, inside], [asked()])[0].reading_key == "too_small"
    assert judge([small, outside], [asked()])[0].reading_key == "methods_disagree"
    endless = replace(inside, ci80_high=np.inf)
    assert judge([small, endless], [asked()])[0].reading_key == "methods_disagree"


def test_families_are_the_golfer_and_the_study() -> None:
    """Truth: other. Holm by hand in each family: one golfer does not alter another, a named family joins them."""
    lines = [
        line("a", p=0.04), line("b", p=0.03, level="golfer", golfer="G1"),
        line("c", p=0.02, level="golfer", golfer="G2"), line("d", p=0.01, level="golfer", golfer="G2"),
    ]  # fmt: skip
    found = judge(lines, [asked(name) for name in "abcd"])
    np.testing.assert_allclose([f.p_adjusted for f in found], [0.04, 0.03, 0.02, 0.02])
    assert [f.family for f in found] == ["study", "golfer G1", "golfer G2", "golfer G2"]
    joined = judge(lines, [replace(asked(name), family="all") for name in "abcd"])
    np.testing.assert_allclose([f.p_adjusted for f in joined], [0.06, 0.06, 0.06, 0.04])


def test_an_unsettled_reading_plans_for_the_reading() -> None:
    """Truth: other. scipy: with the number named both readings have a chance of .85, with one fewer they do not."""
    (found,) = judge([line(estimate=0.1, error=0.3, df=11.0, smallest=0.3)], [asked()])
    assert f"about {found.needed:.0f} golfers" in found.reading and "(12 now)" in found.reading
    assert min(chances(found.needed, taken=1)) == pytest.approx(0.85, abs=0.005)
    assert min(chances(found.needed - 2, taken=1)) < 0.85
    (unplanned,) = judge([line(estimate=0.1, error=0.3)], [asked()])
    assert np.isnan(unplanned.needed) and "smallest_effect" in unplanned.reading


def chances(golfers: float, *, taken: int) -> tuple[float, float]:
    """Chances of both readings with so many golfers, by scipy; 12 golfers have an error of .3, the smallest effect."""
    df, error = golfers - taken, 0.3 * np.sqrt(12 / golfers)
    small = 2 * stats.t.cdf(0.3 / error - stats.t.ppf(0.95, df), df) - 1
    return small, stats.nct.sf(stats.t.ppf(0.975, df), df, 0.3 / error)


def test_the_number_of_golfers_is_that_of_all_groups_together() -> None:
    """Truth: other. The error of a difference falls with the root of all golfers: not halved, not doubled."""
    one = line(estimate=0.1, error=0.3, df=10.0, smallest=0.3)
    of_groups = replace(one, kind="comparison", level="group")
    (found,) = judge([of_groups], [Comparison("h", "thorax_flexion_deg", "impact", "group")])
    assert min(chances(found.needed, taken=2)) == pytest.approx(0.85, abs=0.005)
    assert min(chances(found.needed - 2, taken=2)) < 0.85


def test_a_comparison_is_read_in_its_own_words_and_readings_given_before_stay() -> None:
    """Truth: made."""
    comparison = Comparison("c", "thorax_flexion_deg", "impact", "group")
    of_groups = line("c", kind="comparison", level="group")
    kept = read_as(line("k", estimate=GONE, p=GONE), Note("no_claim"))
    found = judge([of_groups, kept], [comparison, asked("k")])
    assert found[0].reading == "a difference was found"
    assert found[1].reading == "no claim: too few golfers"


#: Words that ask for something.
ASKS = re.compile(
    r"\b(measure|see the|see a|check|record|add|report|compare|rely|do not use|repeat|place the|use the|give the|"
    r"restore|interpret|make more|reduce|choose|with these swings|needs)\b", re.I,
)  # fmt: skip
#: Statements of what was done or found that leave nothing to do.
STATEMENTS = {
    "one_golfer", "golfers_in_both", "not_adjusted_paired", "one_of_pairs", "no_answer_at_level", "no_fit",
    "zero_slope_variance", "zero_intercept_variance", "zero_session_variance", "no_golfer_variance", "no_correlation",
    "screen_family", "unequal_spread", "registered", "kinds_centred", "kinds_term", "contact_steps", "no_contact_model",
    "aim_counts", "beyond_plan", "detectable",
}  # fmt: skip


def test_a_warning_asks_for_something_or_is_a_statement() -> None:
    """Truth: made. A new warning must say what to do; one that cannot is listed here by its key."""
    silent = {
        key for key, text in finding_words.WARNINGS.items()
        if not ASKS.search(text)
    }  # fmt: skip
    assert silent == STATEMENTS
