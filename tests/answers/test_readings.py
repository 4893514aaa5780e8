"""The readings: the four rules in their order, Holm over a study, methods that disagree."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy import stats

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
    made = subject.line("within", Note(method, weights="signs"), by_t, n_golfers=12, n_swings=240)
    return replace(made, role=role, **more)


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
        ("cluster_robust", {"estimate": 0.2}, "not settled: methods disagree"),
        ("wild_bootstrap", {"p": 0.2}, "not settled: methods disagree"),
        ("wild_bootstrap", {"p": 0.01}, "borne out"),
        ("random_slope", {"estimate": 0.2}, "borne out"),
        ("cluster_robust", {"estimate": 0.2, "level": "between"}, "borne out"),
    ],
)
def test_methods_that_read_otherwise_unsettle(method: str, rival: dict, reading: str) -> None:
    """Truth: made. CR2 and the bootstrap of the same question count; other lines and levels do not."""
    found = judge([line(), line(role="beside", method=method, **rival)], [asked()])
    assert found[0].reading == reading


def test_an_unsettled_reading_says_how_many_golfers_would_do() -> None:
    """Truth: other. The number named gives the named interval by t, one fewer does not."""
    (found,) = judge([line(estimate=0.1, error=0.3, smallest=0.3)], [asked()])
    need = int(found.reading.split("about ")[1].split()[0])
    assert "(12 now)" in found.reading and "+/- 0.3 deg" in found.reading
    spread = 0.3 * np.sqrt(12)

    def half(golfers: int) -> float:
        return stats.t.ppf(0.975, golfers - 1) * spread / np.sqrt(golfers)

    assert half(need) <= 0.3 < half(need - 1)


def test_a_comparison_is_read_in_its_own_words_and_readings_given_before_stay() -> None:
    """Truth: made."""
    comparison = Comparison("c", "thorax_flexion_deg", "impact", "group")
    of_groups = line("c", kind="comparison", level="group")
    kept = read_as(line("k", estimate=GONE, p=GONE), Note("no_claim"))
    found = judge([of_groups, kept], [comparison, asked("k")])
    assert found[0].reading == "a difference was found"
    assert found[1].reading == "no claim: too few golfers"
