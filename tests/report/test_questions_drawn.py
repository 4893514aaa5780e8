"""Every question has its figure, or a sentence that says why it has none."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from swinglab.records import Finding, Hunch, Lesson
from swinglab.report import wording
from swinglab.report.pictures import draw_question, overview
from swinglab.report.sheet import write_sheets

TILT, DELIVERY = "thorax_lateral_flexion_deg", "shaft_horizontal_down"


@pytest.fixture
def with_contact(answered: tuple) -> tuple:
    """The small study with a contact in words for every swing, and a phase for those of its first golfer."""
    study, results = answered[:2]
    table = results.swings
    words = np.resize(["fat", "clean", "thin"], len(table))
    phases = np.resize(["before", "after"], len(table))
    return study, replace(results, swings=table.assign(measured_contact=words, phase=phases))


def test_a_hunch_on_contact_is_drawn_in_steps(with_contact: tuple) -> None:
    """made: the figure, its words with the count of each contact."""
    drawn, missing = draw_question(*with_contact, Hunch("h", "measured_contact", TILT, DELIVERY))
    assert missing == [] and "6 fat, 6 clean, 6 thin" in drawn[0].alt
    assert "not drawn" in drawn[0].caption


def test_a_lesson_on_contact_keeps_its_posture_figure(with_contact: tuple) -> None:
    """made: posture by its means, contact by its clean swings."""
    drawn, missing = draw_question(
        *with_contact, Lesson("l", "G01", "phase", TILT, DELIVERY, "measured_contact")
    )
    assert missing == [] and len(drawn) == 2
    assert "means:" in drawn[0].alt and "clean contact: before 0 of 2, after 1 of 1" in drawn[1].alt


def test_what_cannot_be_drawn_is_said(with_contact: tuple) -> None:
    """made: an outcome that no swing has; the posture's figure of the lesson stays."""
    drawn, missing = draw_question(*with_contact, Lesson("l", "G01", "phase", TILT, DELIVERY, "no_such"))
    assert len(drawn) == 1
    assert missing == ["A figure is missing here: the table has no column no_such."]
    drawn, missing = draw_question(*with_contact, Hunch("h", "no_such", TILT, DELIVERY))
    assert drawn == [] and "no_such" in missing[0]


def test_a_sheet_tells_contact_as_clean_strikes(with_contact: tuple, tmp_path) -> None:
    """made: counts of clean strikes, no average of words, no direction of more."""
    study, results = with_contact
    lesson = Lesson("l", "G01", "phase", TILT, DELIVERY, "measured_contact")
    nan = float("nan")
    line = Finding(
        name="l", kind="lesson", level="golfer", role="default", outcome="measured_contact", predictor="",
        event="", estimate=-0.17, standard_error=0.1, df=9.0, p=0.3, p_adjusted=0.3, ci_low=-0.48, ci_high=0.16,
        unit="share of clean strikes", per="after against before", method="m", n_golfers=1, n_swings=3,
        smallest_effect=nan, reading="not settled",
    )  # fmt: skip
    (path,) = write_sheets(replace(study, lessons=(lesson,)), results, (line,), tmp_path)
    page = path.read_text(encoding="utf-8")
    assert "clean strikes by measured contact</th>" in page and "<td>0 of 2</td>" in page
    assert "measured contact, on average" not in page
    shown = wording.sentence(line)
    assert shown.startswith(
        "After against before: the share of clean strikes (by measured contact) is −0.17 [−0.48, 0.16]"
    )


def test_a_device_used_too_rarely_is_said(with_contact: tuple) -> None:
    """made: one golfer with values of a device gives no agreement; a sentence stands in place of the figure."""
    results = with_contact[1]
    rarely = results.swings["attack_angle_deg"].where(results.swings["golfer"] == "G01")
    table = results.swings.assign(measured_attack_angle_deg=rarely)
    drawn, missing = overview(replace(results, swings=table))
    assert [name for name, _ in drawn] == ["low_points"]
    assert len(missing) == 1 and missing[0].startswith(
        "Computed and measured attack angle cannot be compared: "
    )


def lesson_line(name: str) -> Finding:
    """A judged line of a lesson without a number."""
    nan = float("nan")
    return Finding(
        name=name, kind="lesson", level="golfer", role="default", outcome="attack_angle_deg", predictor="", event="",
        estimate=nan, standard_error=nan, df=nan, p=nan, p_adjusted=nan, ci_low=nan, ci_high=nan, unit="deg",
        per="after against before", method="m", n_golfers=1, n_swings=3, reading_key="not_settled",
    )  # fmt: skip


def test_each_sheet_holds_its_own_player_alone(with_contact: tuple, tmp_path) -> None:
    """made: two players with a lesson each; one call writes both sheets, neither names the other or its swings."""
    study, results = with_contact
    players = ("G01", "G02")
    table = results.swings.copy()
    for golfer in players:
        table.loc[table["golfer"] == golfer, "phase"] = ["before", "after", "drill"]
    lessons = tuple(
        Lesson(f"lesson of {golfer}", golfer, "phase", TILT, DELIVERY, "attack_angle_deg")
        for golfer in players
    )
    lines = tuple(lesson_line(lesson.name) for lesson in lessons)
    results = replace(results, swings=table)
    sheets = write_sheets(replace(study, lessons=lessons), results, lines, tmp_path)
    assert [path.name for path in sheets] == ["players_sheet_1.html", "players_sheet_2.html"]
    for own, other, path in zip(players, reversed(players), sheets, strict=True):
        page = path.read_text(encoding="utf-8")
        assert f"sheet for {own}" in page and other not in page


@pytest.mark.parametrize("blank", ["", None, "drill"])
def test_a_lesson_without_a_judged_phase_has_no_sheet(
    with_contact: tuple, tmp_path, blank: str | None
) -> None:
    """Truth: made. Phases of one player left blank ended the study, with "no golfer G01. Do: choose one of ."."""
    study, results = with_contact
    table = results.swings.copy()
    table["phase"] = table["phase"].astype(object)
    table.loc[table["golfer"] == "G01", "phase"] = blank
    table.loc[table["golfer"] == "G02", "phase"] = ["before", "after", "drill"]
    lessons = tuple(
        Lesson(f"lesson of {golfer}", golfer, "phase", TILT, DELIVERY, "attack_angle_deg")
        for golfer in ("G01", "G02")
    )
    sheets = write_sheets(
        replace(study, lessons=lessons), replace(results, swings=table),
        tuple(lesson_line(lesson.name) for lesson in lessons), tmp_path,
    )  # fmt: skip
    assert [path.name for path in sheets] == ["players_sheet_2.html"]


def test_a_sheet_selects_its_swings_once(with_contact: tuple, tmp_path) -> None:
    """Truth: made. A lesson by stage, where phase = "test": selected twice, the sheet of this lesson was missing."""
    study, results = with_contact
    table = results.swings.assign(stage=results.swings["phase"], phase="test")
    own = table["golfer"] == "G01"
    table.loc[own, "stage"] = ["before", "before", "after"]
    lesson = Lesson("l", "G01", "stage", TILT, DELIVERY, "attack_angle_deg", where={"phase": ("test",)})
    sheets = write_sheets(
        replace(study, lessons=(lesson,)), replace(results, swings=table), (lesson_line("l"),), tmp_path
    )
    assert "<td>2</td>" in sheets[0].read_text(encoding="utf-8")


def test_a_sheet_separates_changed_today_from_kept(with_contact: tuple, tmp_path) -> None:
    """made: three looks and another club; the cue as typed; the aim as given; neither errors nor p."""
    study, results = with_contact
    table = results.swings.copy()
    own = table["golfer"] == "G01"
    table.loc[own, "phase"] = ["before", "after", "later"]
    table.loc[own, "club"] = ["7 iron", "7 iron", "driver"]
    lesson = Lesson(
        "l", "G01", "phase", TILT, DELIVERY, "attack_angle_deg", target=(-90.0, 90.0), cue="brush <the> turf"
    )
    (path,) = write_sheets(
        replace(study, lessons=(lesson,), report_units=("mph", "in")), replace(results, swings=table),
        (lesson_line("l"),), tmp_path,
    )  # fmt: skip
    page = path.read_text(encoding="utf-8")
    assert "brush &lt;the&gt; turf" in page
    assert "−90.0 to 90.0 deg" in page and "<td>1 of 1</td>" in page
    rows = [row for row in page.split("<tr>") if 'scope="row"' in row]
    assert [row.split("</th>")[0].split(">")[-1] for row in rows] == [
        "before", "changed today", "kept on another day, without the cue", "kept with another club"
    ]  # fmt: skip
    assert "not measured yet" in rows[2] and "<td>1</td>" in rows[3]
    assert "standard error" not in page and "p =" not in page and "p <" not in page.replace("<p ", "")
    assert page.count("<img ") == 2
