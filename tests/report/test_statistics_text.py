"""The statistics part of the methods text against study.toml, findings.csv and the constants in the code."""

from __future__ import annotations

import inspect
from dataclasses import replace

import pandas as pd
import pytest

from swinglab.answers import judging, planning, rules
from swinglab.records import Errors, Finding, Lesson
from swinglab.report.statistics_text import LEVELS, statistics_text
from swinglab.report.wording import label
from swinglab.statistics import autoregression, wild
from swinglab.study import Study


@pytest.fixture(scope="module")
def written(answered: tuple) -> tuple[str, Study, list[Finding], pd.DataFrame]:
    """The text of the small study, the study, its judged lines, and findings.csv."""
    study, _, findings, out = answered
    return statistics_text(study, findings), study, [f for f in findings if f.role == "default"], pd.read_csv(
        out / "findings.csv"
    )  # fmt: skip


def test_every_question_stands_with_its_numbers(written: tuple) -> None:
    """Truth: made. Level, judged method, golfers, swings, smallest effect and expectation as in findings.csv."""
    text, study, default, table = written
    rows = table[table["role"] == "default"]
    assert len(rows) == len(default) == text.split("Errors given for this set-up")[0].count("\n- ")
    for row, finding in zip(rows.itertuples(), default, strict=True):
        (sentence,) = [part for part in text.split("\n") if part.startswith(f"- {finding.name}: ")]
        assert f"{label(row.outcome)}" in sentence and f"; {LEVELS[row.level]};" in sentence
        assert f"method: {row.method};" in sentence
        assert f"{row.n_golfers} golfer" in sentence and f"{row.n_swings} swing" in sentence
        expected = (
            "no smallest"
            if pd.isna(row.smallest_effect)
            else f"smallest effect that matters {row.smallest_effect:g} "
        )
        assert expected in sentence
    for question in study.questions:
        if getattr(question, "expect", "either") != "either":
            of = f" of the change in {label(question.outcome)}" if isinstance(question, Lesson) else ""
            assert f"expected sign{of}: {question.expect}" in text


def test_errors_are_those_of_the_study(written: tuple) -> None:
    """Truth: made. Values of [errors]; what is not given reads as not known."""
    text, study, _, _ = written
    placement = study.errors.placement_deg
    assert (f"marker placement {placement:g} deg" if placement is not None else "placement not known") in text
    bare = replace(study, errors=Errors(placement_deg=2.5))
    assert "marker placement 2.5 deg, soft tissue not known" in statistics_text(bare, written[2])


def test_constants_are_those_the_code_uses(written: tuple) -> None:
    """Truth: made. Level, fewest golfers, prior, chance of the plan, draws and seed, from where they are used."""
    _, study, default, _ = written
    text = statistics_text(study, [*default, replace(default[0], level="golfer", golfer="G1")])
    drawn = inspect.signature(wild.wild_bootstrap).parameters
    for part in (
        f"below {rules.ALPHA:g}", f"fewer than {rules.FEWEST_GOLFERS} golfers", f"power of {planning.CHANCE:g}",
        f"{drawn['samples'].default:,} random draws", f"seed {drawn['seed'].default}",
        f"^-{autoregression.PRIOR_POWER:g}", "Holm 1979", "90 % interval", "80 % interval ",
        "is not adjusted for the number of questions",
    ):  # fmt: skip
        assert part in text, part


def test_centring_drift_and_random_effects_are_described(written: tuple) -> None:
    """Truth: made. Swings are centred on the session's mean, and the text says so."""
    text, _, default, _ = written
    assert "were centred on the mean of the golfer's swings in the session" in text
    drift = any("no_order" in f.warning_keys for f in default)
    assert ("No drift was removed" in text) == drift
    for part in ("a random intercept and a random slope for each golfer", "Satterthwaite", "one less than"):
        assert part in text


def test_supplementary_methods_are_those_that_judge(written: tuple) -> None:
    """Truth: made. Each level that was answered names its supplementary methods, and no other."""
    text, _, _, table = written
    for level in judging.COMPANIONS:
        assert (f"- {LEVELS[level]}: " in text.split("compared with supplementary methods")[1]) == (
            level in set(table["level"])
        )


def test_the_tests_of_each_family_are_those_with_an_adjusted_p(written: tuple) -> None:
    """Truth: made. As many tests as findings.csv has adjusted p values; a lesson's two steps are two tests."""
    text, _, _, table = written
    adjusted = table[table["p_adjusted"].notna() & (table["method_key"] != "with_excluded_swings")]
    families = adjusted["name"].map(table[table["role"] == "default"].set_index("name")["family"])
    for family, number in families.value_counts().items():
        words = "golfers in general" if family == judging.STUDY else family
        assert f"{words} ({number} test{'s' * (number > 1)})" in text


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ({"target": (16.0, 20.0)}, "; aim 16 to 20 deg;"),
        ({"target_value": 18.0, "target_width": 2.0}, "; aim 18 deg plus and minus 2 deg;"),
        ({"target_value": 18.0}, "; aim 18 deg plus and minus its standard deviation before the lesson;"),
        ({}, ""),
    ],
)
def test_the_aim_of_a_lesson_is_given(written: tuple, given: dict, words: str) -> None:
    """Truth: made. The target range as in study.toml; a lesson without one has no aim."""
    _, study, default, _ = written
    lesson = Lesson("L", "G01", "phase", "thorax_lateral_flexion_deg", "impact", "attack_angle_deg", **given)
    line = replace(default[0], name="L", kind="lesson", level="golfer")
    text = statistics_text(replace(study, lessons=(lesson,)), [*default, line])
    (sentence,) = [part for part in text.split("\n") if part.startswith("- L: ")]
    assert words in sentence and ("aim" in sentence) == bool(words)


def test_a_running_lesson_and_a_choice_of_swings_are_named(written: tuple) -> None:
    """Truth: made. A lesson still running, and a question about one club."""
    _, study, default, _ = written
    running = replace(default[-1], kind="lesson", level="golfer", reading_key="lesson_running")
    assert "1 lesson still running" in statistics_text(study, [*default, running])
    hunch = replace(study.hunches[0], where={"club": ("7 iron",)})
    assert "swings with club 7 iron" in statistics_text(replace(study, hunches=(hunch,)), default)


@pytest.mark.parametrize(
    ("limits", "words"),
    [
        ({"from": 3, "to": 18}, "3 to 18"),
        ({"from": 3}, "3 or more"),
        ({"to": 18.5}, "up to 18.5"),
        ({}, "known"),
        (["a", "b"], "a, b"),
    ],
)
def test_a_selection_of_swings_has_its_limits(written: tuple, limits: object, words: str) -> None:
    """Truth: made. A range was written as "order from, to", without its limits."""
    _, study, default, _ = written
    hunch = replace(study.hunches[0], where={"order": limits})
    changed = replace(study, hunches=(hunch, *study.hunches[1:]))
    assert f"swings with order {words}" in statistics_text(changed, default)


def test_placement_counts_in_a_lesson_over_several_sessions(written: tuple) -> None:
    """Truth: made. With lessons, the text no longer says that placement error counts between golfers only."""
    _, study, default, _ = written
    lesson = Lesson("lesson", "G1", "phase", "thorax_lateral_flexion_deg", "impact", "attack_angle_deg")
    with_one, without = (statistics_text(replace(study, lessons=given), default) for given in ((lesson,), ()))
    sentence = "It also counts in a lesson whose phases were recorded in different sessions"
    assert sentence in with_one and "between golfers only" not in with_one
    assert sentence not in without and "it counts between golfers only" in without
