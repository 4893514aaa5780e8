"""The picture and sentence of stored results that a notebook's page shows before its controls are there."""

from __future__ import annotations

from datetime import date
from html import escape

import pytest

from swinglab.lab import kit_notebooks
from swinglab.records import Comparison, Hunch, Lesson
from swinglab.report.first_picture import first_picture
from swinglab.report.wording import sentence

DAY = date(2026, 11, 5)


@pytest.mark.parametrize(
    ("notebook", "kind"), [("05", Hunch), ("06", Comparison), ("07", Lesson), ("10", Hunch)]
)
def test_it_is_the_answer_of_the_opening_question(answered, notebook: str, kind: type) -> None:
    """Truth: other (`wording.sentence` of the judged line)."""
    study, results, findings, _ = answered
    shown = first_picture(study, results, findings, f"{notebook}_a_name.ipynb", DAY)
    asked = [question for question in study.questions if isinstance(question, kind)]
    if not asked:
        assert "by golfer" in shown
        return
    judged = next(f for f in findings if f.name == asked[0].name and f.role == "default")
    assert escape(sentence(judged, study.report_units)) in shown
    assert escape(f"{judged.name}: {judged.reading}") in shown


def test_every_page_about_a_study_has_one_that_names_its_day_and_gives_no_answer_away(answered) -> None:
    """Truth: made. A page that asks for a prediction first shows the swings alone."""
    study, results, findings, _ = answered
    for path in kit_notebooks():
        shown = first_picture(study, results, findings, path.name, DAY)
        if path.name[:2] == "09":
            assert "As stored" not in shown and "The arc of the simulated golfer" in shown
            assert shown.count("<svg role=") == 1
            continue
        assert "As stored on 5 November 2026" in shown
        assert shown.count("<img alt=") == 1
        assert "<script" not in shown
        if path.name[:2] not in ("05", "06", "07", "10"):
            assert not any(escape(sentence(f, study.report_units)) in shown for f in findings)
