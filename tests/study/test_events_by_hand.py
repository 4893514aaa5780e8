"""Events set by hand win, are kept in one file, and can be taken back."""

from __future__ import annotations

from pathlib import Path

import pytest

from swinglab.errors import BadRequest, StudyFaults
from swinglab.study import mark_event, open_study, unmark_event


def test_mark_wins_and_unmark_restores(folder: Path) -> None:
    """made: the file's own time in swings.csv, then one set by hand, then back."""
    text = (folder / "swings.csv").read_text(encoding="utf-8").replace("waggle,", "waggle,1.25")
    (folder / "swings.csv").write_text(text, encoding="utf-8")
    study = open_study(folder)
    assert study.hand_set_times("S5") == {"impact": 1.25}
    mark_event(study, "S5", "impact", 1.31, who="a coach", note="seen")
    mark_event(study, "S5", "top", 1.0)
    mark_event(study, "S5", "impact", 1.30)
    again = open_study(folder)
    assert again.hand_set_times("S5") == {"impact": 1.30, "top": 1.0}
    unmark_event(again, "S5", "impact")
    unmark_event(again, "S5", "top")
    assert open_study(folder).hand_set_times("S5") == {"impact": 1.25}
    assert not (folder / "events_by_hand.csv").exists()


def test_bad_marks(folder: Path) -> None:
    """made: unknown swing, unknown event, a time before the file, nothing to take back."""
    study = open_study(folder)
    with pytest.raises(BadRequest, match="no swing S55"):
        mark_event(study, "S55", "impact", 1.0)
    with pytest.raises(BadRequest, match="no event impct"):
        mark_event(study, "S5", "impct", 1.0)
    with pytest.raises(BadRequest, match="0 s or later"):
        mark_event(study, "S5", "impact", float("nan"))
    with pytest.raises(BadRequest, match="was not set by hand"):
        unmark_event(study, "S5", "impact")


def test_a_bad_file_of_marks(folder: Path) -> None:
    """made: unknown event, unknown swing and no number, all in one error."""
    (folder / "events_by_hand.csv").write_text(
        "swing,event,time_s\nS1,impct,1\nS1,top,soon\n", encoding="utf-8"
    )
    with pytest.raises(StudyFaults) as caught:
        open_study(folder)
    assert len(caught.value.faults) == 2
    (folder / "events_by_hand.csv").write_text("swing,event,time_s\nS99,top,1\n", encoding="utf-8")
    with pytest.raises(StudyFaults, match="no swing S99"):
        open_study(folder)


@pytest.mark.parametrize("time", ["inf", "-inf", "1e400"])
def test_an_infinite_time_is_refused(folder: Path, time: str) -> None:
    """Truth: made. The study opened, and measuring it ended in an OverflowError."""
    (folder / "events_by_hand.csv").write_text(f"swing,event,time_s\nS1,top,{time}\n", encoding="utf-8")
    with pytest.raises(StudyFaults, match="row 2: time_s must be a number of seconds"):
        open_study(folder)
