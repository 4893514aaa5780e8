"""Findings in words: direction, size and interval, nothing beyond the evidence."""

from __future__ import annotations

import re

import pytest

from swinglab.records import Finding
from swinglab.report import wording
from swinglab.report.answer_tables import answers_table, write_tables

NAN = float("nan")


def line(**changes: object) -> Finding:
    values = {
        "name": "tilt", "kind": "hunch", "level": "within", "role": "default", "outcome": "low_point_ahead_cm",
        "predictor": "thorax_lateral_flexion_deg", "event": "shaft_horizontal_down", "estimate": 2.31,
        "standard_error": 0.7, "df": 9.0, "p": 0.0123, "p_adjusted": 0.0246, "ci_low": 0.81, "ci_high": 3.79,
        "unit": "cm", "per": "10 deg of thorax lateral flexion", "method": "m", "n_golfers": 10, "n_swings": 80,
    } | changes  # fmt: skip
    return Finding(**values)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({}, "10 deg more thorax lateral flexion (trail side lower) at delivery goes with a low point ahead of the "
             "ball 2.3 cm further toward the target [0.8, 3.8], p = .012."),
        ({"estimate": -2.31, "ci_low": -3.79, "ci_high": -0.81}, "2.3 cm further from the target [0.8, 3.8]"),
        ({"ci_low": -0.5}, "2.3 cm [−0.5, 3.8] different (+ = further toward the target)"),
        ({"level": "between"}, "Between golfers (one golfer's mean against another's), 10 deg more"),
        ({"level": "golfer"}, "For this player, in these sessions, 10 deg more"),
        ({"p": 0.0001}, "p < .001"),
        ({"p": NAN}, "[0.8, 3.8]."),
        ({"estimate": NAN, "warnings": ("too few swings",)}, "No number can be given: too few swings"),
        ({"kind": "comparison", "per": "skilled against learners"}, "Skilled against learners: low point ahead"),
    ],
)  # fmt: skip
def test_sentences(changes: dict, words: str) -> None:
    """made: the sentence of one line."""
    assert words in wording.sentence(line(**changes))


def test_no_word_of_cause() -> None:
    """made: a relation is never given as a cause."""
    for level in ("within", "between", "golfer"):
        shown = wording.sentence(line(level=level))
        assert not re.search(r"\b(cause|causes|makes|leads to|effect of|improves|because)\b", shown)


def test_further_units_follow_an_estimate() -> None:
    """published: 1 in = 2.54 cm (NIST Special Publication 811, B.8); another quantity's unit changes nothing."""
    assert wording.sentence(line(), ["mph", "in"]).endswith("p = .012; in inches: 0.91 [0.32, 1.49].")
    assert wording.sentence(line(), ["mph"]) == wording.sentence(line())


def test_precision_follows_the_interval() -> None:
    """made: two digits of half the interval; zero has no sign."""
    assert wording.rounded(0.04, line(ci_low=-1.3, ci_high=1.4)) == "0.0"
    assert wording.rounded(-0.04, line(ci_low=-1.3, ci_high=1.4)) == "0.0"
    assert wording.rounded(12.345, line(ci_low=-20.0, ci_high=45.0)) == "12"
    assert wording.rounded(0.01234, line(ci_low=0.012, ci_high=0.013)) == "0.01234"


def test_tables_for_other_programs(tmp_path) -> None:
    """made: what LaTeX and HTML would take for their own signs is escaped."""
    table = answers_table((line(name="a_b & 50 % <x>", method="{x}"),))
    write_tables({"answers": table}, tmp_path)
    tex, page = ((tmp_path / f"answers.{end}").read_text(encoding="utf-8") for end in ("tex", "html"))
    assert r"a\_b \& 50 \% $<$x$>$" in tex and r"\{x\}" in tex
    assert "a_b &amp; 50 % &lt;x&gt;" in page


@pytest.mark.parametrize(
    ("value", "unit", "also", "words"),
    [
        (-0.04, "deg", (), "0.0 deg"),
        (-0.537, "cm", (), "−0.5 cm"),
        (44.704, "mps", ("mph", "in"), "44.7 m/s (100.0 mph)"),
        (-25.4, "cm", ("in",), "−25.4 cm (−10.0 in)"),
        (NAN, "cm", ("in",), "–"),
        (1.2345, "s", (), "1.234 s"),
    ],
)
def test_one_sensible_precision(value: float, unit: str, also: tuple, words: str) -> None:
    """published: an inch is 2.54 cm and a mile 1609.344 m exactly (international yard and pound agreement, 1959)."""
    assert wording.with_unit(value, unit, also) == words


def test_a_lesson_says_what_lies_beyond_the_drift_and_what_in_all() -> None:
    """made: the figure shows the change in all, the judged line the step beyond the drift; both are stated."""
    judged = line(kind="lesson", level="golfer", outcome="attack_angle_deg", predictor="", event="", estimate=-0.494,
                  ci_low=-1.12, ci_high=0.45, unit="deg", per="after against before", method_key="step_beside_trend",
                  p_adjusted=0.463)  # fmt: skip
    plain = line(kind="lesson", level="golfer", role="beside", outcome="attack_angle_deg", predictor="", event="",
                 estimate=1.0515, ci_low=0.3, ci_high=1.91, unit="deg", per="after against before",
                 method_key="step_without_trend")  # fmt: skip
    assert wording.headline(judged, [judged, plain]) == (
        "Attack angle, beyond the drift: −0.49 deg [−1.12, 0.45], adjusted p = .463; in all: +1.05 deg."
    )
