"""Geometry beside regression in the report: what it says of the demo, and where it says nothing."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pandas as pd
import pytest

from swinglab import shipped_folder
from swinglab.answers import GeometryBesideRegression
from swinglab.report import geometry
from swinglab.report.geometry import (
    compare_with_geometry,
    draw_geometry,
    geometry_beside,
    geometry_sentences,
    golfer_rows,
    not_after_a_lesson,
)
from swinglab.study import Results, Study, load_or_measure, open_study

TILT = "thorax_lateral_flexion_deg"


@pytest.fixture(scope="module")
def demo(measured_demo: Path) -> tuple[Study, Results]:
    """The demo study as measured."""
    study = open_study(measured_demo)
    return study, load_or_measure(study)


@pytest.fixture(scope="module")
def found(demo: tuple[Study, Results]) -> GeometryBesideRegression:
    """The comparison for the demo's first hunch: tilt at delivery and the attack angle."""
    study, results = demo
    return compare_with_geometry(study, results, study.hunches[0])


def test_a_change_is_not_predicted_from_swings_after_the_lesson() -> None:
    """Truth: made. A has swings before the lesson: those alone; B has none: any but those after it."""
    table = pd.DataFrame({"golfer": [*"AAA", *"BB"], "phase": ["before", "after", "later", "", "after"]})
    assert list(not_after_a_lesson(table).index) == [0, 3]
    assert len(not_after_a_lesson(table[["golfer"]])) == 5


def test_players_slope_and_difference_are_what_the_simulation_put_in(found: GeometryBesideRegression) -> None:
    """Truth: made. The golfers' own true slopes; the hands answer in part, so that geometry gives more than they do."""
    truth = pd.read_csv(
        shipped_folder("data_demo") / "truth" / "truth_sensitivity.csv", dtype={"golfer": str}
    )
    own = truth[
        (truth["level"] == "within") & (truth["posture"] == TILT) & (truth["outcome"] == "attack_angle_deg")
    ]
    true_slope = 10 * float(own["slope"].mean())
    assert found.players.ci_low < true_slope < found.players.ci_high
    assert found.difference.ci_low <= true_slope - found.geometric.estimate <= found.difference.ci_high


def test_a_change_is_predicted_better_than_by_no_change(found: GeometryBesideRegression) -> None:
    """Truth: made. G07 and G09 have a before and an after; no swing from after was moved for the prediction."""
    assert sorted(found.held_out["golfer"]) == ["G07", "G09"]
    assert found.prediction_error["geometry"] < found.prediction_error["no_change"] / 2


def test_the_sentences_hold_the_numbers_and_no_verdict(found: GeometryBesideRegression) -> None:
    """Truth: other (the records). Neither a percentage nor a cause is claimed."""
    sentences = geometry_sentences(found)
    text = " ".join(sentences)
    assert f"{found.geometric.estimate:.2f}" in text and "12 golfers" in text and "G07, G09" in text
    assert "%" not in text and "is not evidence of a cause" in text
    clear = replace(found, difference=replace(found.difference, ci_low=-1.0, ci_high=-0.2))
    assert "does not include 0" in geometry_sentences(clear)[1]
    assert len(geometry_sentences(replace(found, held_out=found.held_out.iloc[:0]))) == 2
    assert len(draw_geometry(found).axes.get_yticklabels()) == 3
    assert len(golfer_rows(found)) == len(found.by_golfer)


def test_each_question_stands_once_and_what_geometry_cannot_answer_not_at_all(
    demo: tuple[Study, Results], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Truth: made. Two hunches of the demo share tilt and attack angle, a third is about the way back."""
    monkeypatch.setattr(geometry, "MOST_GOLFERS", 3)
    study, results = demo
    (one,) = geometry_beside(study, results)
    assert one.question == study.hunches[0].name and one.drawn is not None
    assert geometry_beside(replace(study, hunches=study.hunches[2:]), results) == []
    none = replace(study.hunches[0], where={"club": ["no such club"]})
    (missing,) = geometry_beside(replace(study, hunches=(none,)), results)
    assert missing.drawn is None and "could not be compared with" in missing.sentences[0]
