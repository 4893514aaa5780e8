"""The notebook controls without a notebook: values set, buttons clicked, what they show read back."""

from __future__ import annotations

import asyncio
import html
import math
import shutil
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from swinglab import answers, columns, controls, shipped_folder
from swinglab import study as studies
from swinglab.controls.choosers import QuantityChooser, dropdown, refill
from swinglab.controls.preparing import prepare_study, prepared_results, study_nearby
from swinglab.controls.swing_viewer import SwingViewer
from swinglab.errors import BadRequest
from swinglab.figures import add_units, draw_by_golfer, draw_profiles

GOLFERS = ("G01", "G02", "G07", "G09")


@pytest.fixture(scope="module")
def measured(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A part of the demo study, measured once."""
    folder = tmp_path_factory.mktemp("controls") / "part of the demo"
    demo = shipped_folder("data_demo")
    shutil.copytree(demo, folder, ignore=shutil.ignore_patterns("captures", "truth", "results"))
    swings = pd.read_csv(folder / "swings.csv", dtype=str)
    own = swings[swings["golfer"].isin(GOLFERS)]
    kept = own.groupby(["golfer", own["phase"].fillna("")]).head(4)
    kept.to_csv(folder / "swings.csv", index=False)
    (folder / "captures").mkdir()
    for name in kept["capture"]:
        shutil.copyfile(demo / "captures" / name, folder / "captures" / name)
    assert len(controls.choose_study(folder).results.swings)
    return folder


@pytest.fixture
def chosen(measured: Path, tmp_path: Path) -> controls.ChosenStudy:
    """The measured part of the demo, a fresh copy for each test, open."""
    folder = tmp_path / "study"
    shutil.copytree(measured, folder)
    return controls.choose_study(folder)


def said(panel: object) -> str:
    """The message a panel shows; empty where none."""
    return panel._said.value


# --- choosers ----------------------------------------------------------------------------------------------


def test_every_quantity_can_be_chosen_by_part_and_motion() -> None:
    """Truth: other (columns.py)."""
    chooser = QuantityChooser("thorax_flexion_deg")
    found = []
    for _, part in chooser._part.options:
        chooser._part.value = part
        for _, motion in chooser._motion.options:
            chooser._motion.value = motion
            assert chooser.value == motion
            found.append(motion)
    assert sorted(found) == sorted(columns.QUANTITIES)


def test_a_quantity_set_by_its_name_shows_its_part() -> None:
    """Truth: made. One change of value for each choice, so that nothing is drawn twice."""
    chooser = QuantityChooser("thorax_flexion_deg")
    changes: list[str] = []
    chooser.observe(lambda change: changes.append(change["new"]), "value")
    chooser.value = "lead_knee_flexion_deg"
    assert chooser._part.value == columns.quantity_column("lead_knee_flexion_deg").group
    assert chooser._motion.value == "lead_knee_flexion_deg"
    chooser.offer(["pelvis_flexion_deg", "pelvis_axial_rotation_deg"])
    assert changes == ["lead_knee_flexion_deg", "pelvis_flexion_deg"]


def test_a_refilled_list_keeps_its_choice_where_it_can() -> None:
    """Truth: made."""
    listed = dropdown("x", [("a", 1), ("b", 2)], 2)
    refill(listed, [("b", 2), ("c", 3)])
    assert listed.value == 2
    refill(listed, [("c", 3)])
    assert listed.value == 3
    refill(listed, [])
    assert listed.value is None


# --- the study ---------------------------------------------------------------------------------------------


def test_the_study_a_notebook_stands_in_is_found(measured: Path, tmp_path: Path) -> None:
    """Truth: made."""
    notebooks = measured / "notebooks" / "deeper"
    notebooks.mkdir(parents=True, exist_ok=True)
    assert study_nearby(notebooks) == measured
    assert study_nearby(tmp_path) is None


def test_a_bad_folder_is_said_in_every_panel_and_a_good_one_brings_them_back(
    chosen: controls.ChosenStudy, tmp_path: Path
) -> None:
    """Truth: made. Messages of the package, escaped; no exception leaves a callback."""
    panels = [controls.show_swings(chosen), controls.show_outcomes(chosen), controls.ask_hunch(chosen)]
    assert [said(panel) for panel in panels] == ["", "", ""]
    good = chosen.study.folder
    (tmp_path / "bad").mkdir()
    (tmp_path / "bad" / "study.toml").write_text("title = '<b>x'\nup = 3\n", encoding="utf-8")
    chosen.open_folder(tmp_path / "bad")
    assert "golfers.csv: the file is missing" in chosen._said.value
    assert 'role="alert"' in chosen._said.value
    for panel in panels:
        assert "no study is open" in said(panel)
    with pytest.raises(BadRequest, match="no study is open"):
        chosen.need_study()
    chosen.open_folder(good)
    assert [said(panel) for panel in panels] == ["", "", ""]


def test_a_pasted_path_opens_and_a_bad_one_is_named_as_it_was_typed(
    chosen: controls.ChosenStudy, tmp_path: Path
) -> None:
    """Truth: made. Quotes of a file manager, the path of study.toml in place of its folder, no such path."""
    good = chosen.study.folder
    for typed in (
        f'"{good}"',
        f"  '{good / 'study.toml'}' ",
        f"\N{LEFT DOUBLE QUOTATION MARK}{good}\N{RIGHT DOUBLE QUOTATION MARK}",
    ):
        chosen.open_folder(typed)
        assert chosen.study is not None, typed
        assert chosen.study.folder == good
    chosen.open_folder(f"'{tmp_path}/no such place'")
    assert chosen.study is None
    assert f"'{tmp_path}/no such place'" in html.unescape(said(chosen))
    chosen.open_folder(good)


def test_a_further_unit_and_the_name_to_copy_are_shown(chosen: controls.ChosenStudy) -> None:
    """Truth: published. 1 mph = 0.44704 m/s (NIST Special Publication 811, B.8): the scale at the right edge."""
    axes = draw_by_golfer(chosen.results.swings, value="clubhead_speed_mps")
    add_units(axes, "mps", ["in", "mph"])
    axes.figure.draw_without_rendering()
    (other,) = axes.child_axes
    assert other.get_ylabel() == "mph"
    assert np.array(other.get_ylim()) * 0.44704 == pytest.approx(axes.get_ylim())
    panel = controls.show_outcomes(chosen, outcome="clubhead_speed_mps")
    shown = " ".join(str(part.value) for part in panel.children if hasattr(part, "value"))
    assert ">clubhead_speed_mps</code>" in shown


def test_results_are_there_at_once_the_second_time(
    chosen: controls.ChosenStudy, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Truth: made. Nothing is measured again while the inputs are the same."""
    monkeypatch.setattr(
        "swinglab.study.reusing.measure_study", lambda *a, **k: pytest.fail("it measured again")
    )
    assert len(chosen.results.swings) > 10


# --- swings and events -------------------------------------------------------------------------------------


def test_two_swings_and_a_quantity_reach_the_viewer(chosen: controls.ChosenStudy) -> None:
    """Truth: made."""
    panel = controls.show_swings(chosen)
    assert isinstance(panel.viewer, SwingViewer)
    first = panel.viewer
    panel.other._golfer.value = "G07"
    panel.quantity.value = "pelvis_axial_rotation_deg"
    assert panel.viewer is first
    swings = panel.viewer.layout_of_frames["swings"]
    assert [s["golfer"] for s in swings] == ["G01", "G07"]
    assert {s["quantity"]["label"] for s in swings} == {"Pelvis axial rotation"}


def test_the_viewer_follows_the_question(chosen: controls.ChosenStudy) -> None:
    """Truth: made."""
    hunch = controls.ask_hunch(chosen)
    panel = controls.show_swings(chosen, question=hunch)
    assert panel.quantity.value == hunch.question.posture
    hunch.listed.value = ""
    hunch.posture.value = "pelvis_flexion_deg"
    assert panel.quantity.value == "pelvis_flexion_deg"


def test_the_fit_is_drawn_when_it_is_asked_for(chosen: controls.ChosenStudy) -> None:
    """Truth: made. The button opens and closes the diagnostics, which follow the question."""
    hunch = controls.ask_hunch(chosen)
    assert "fit_1" not in hunch.pictures
    hunch.fit_opened.value = True
    first = hunch.pictures["fit_1"].png
    assert first and hunch.pictures["fit_1"] in hunch._fit.children
    hunch.listed.value = ""
    hunch.posture.value = "pelvis_flexion_deg"
    assert hunch.pictures["fit_1"].png != first
    hunch.fit_opened.value = False
    assert hunch._fit.children == ()


def test_a_lesson_brings_a_swing_from_before_and_one_from_after(chosen: controls.ChosenStudy) -> None:
    """Truth: made."""
    lesson = controls.ask_lesson(chosen)
    panel = controls.show_swings(chosen, question=lesson)
    table = chosen.results.swings.set_index("swing")
    shown = [swing["swing"] for swing in panel.viewer.layout_of_frames["swings"]]
    assert set(table.loc[shown, "golfer"]) == {lesson.question.golfer}
    assert table.loc[shown, lesson.question.phase].nunique() == 2


def test_typical_swings_are_those_nearest_the_means(chosen: controls.ChosenStudy) -> None:
    """Truth: made. Of a lesson the swing of each phase nearest that phase's mean, shown at the lesson's event."""
    lesson = controls.ask_lesson(chosen)
    panel = controls.show_swings(chosen, question=lesson)
    question, table = lesson.question, chosen.results.swings
    column = columns.event_column_name(question.of, question.event)
    for swing, phase in zip(lesson.pair, ("before", "after"), strict=True):
        own = table[(table["golfer"] == question.golfer) & (table[question.phase] == phase)]
        away = (own[column] - own[column].mean()).abs()
        assert away[own["swing"] == swing].item() == away.min()
    assert panel.viewer.layout_of_frames["start"] == question.event
    assert panel.viewer.layout_of_frames["align"] == question.event


def test_least_and_most_stand_side_by_side_at_the_event(chosen: controls.ChosenStudy) -> None:
    """Truth: made. One button; the two ends of the golfer's own swings."""
    panel = controls.show_swings(chosen, event="top")
    panel.ends_button.click()
    table = chosen.results.swings
    own = table[table["golfer"] == panel.records.trial.golfer].set_index("swing")
    values = own["thorax_lateral_flexion_at_top_deg"]
    shown = [swing["swing"] for swing in panel.viewer.layout_of_frames["swings"]]
    assert shown == [values.idxmin(), values.idxmax()]
    assert panel.viewer.layout_of_frames["start"] == "top"


def test_a_mark_leads_to_its_swing(chosen: controls.ChosenStudy) -> None:
    """Truth: made. Every drawn swing has a mark inside the picture; the one picked is shown at the question's event."""
    panel = controls.ask_hunch(chosen)
    picture = panel.pictures["figure_1"]
    table = chosen.results.swings
    question = panel.question
    drawn = table.dropna(
        subset=[columns.event_column_name(question.posture, question.event), question.outcome]
    )
    assert sorted(point[0] for point in picture.points) == sorted(drawn["swing"])
    assert all(0 < across < 1 and 0 < down < 1 for _, _, across, down, _ in picture.points)
    # The mark with the largest outcome lies highest in the picture.
    highest = min(picture.points, key=lambda point: point[3])[0]
    assert highest == drawn.loc[drawn[question.outcome].idxmax(), "swing"]
    assert panel.picked.children == ()
    picture.picked = highest
    assert panel.picked.swing == highest
    assert panel.picked.viewer.layout_of_frames["start"] == question.event
    assert picture.picture("svg").startswith(b"<?xml")


def test_a_swing_is_excluded_where_it_is_seen_and_included_again(chosen: controls.ChosenStudy) -> None:
    """Truth: made. Its mark leaves the figure, the reason stands in the file; without a reason nothing happens."""
    panel = controls.ask_hunch(chosen)
    picture = panel.pictures["figure_1"]
    swing = picture.points[0][0]
    picture.picked = swing
    panel.picked.exclude_button.click()
    assert "has no reason" in panel.picked._answer.value
    panel.picked.reason.value = "a marker fell off"
    panel.picked.exclude_button.click()
    kept = pd.read_csv(chosen.study.folder / "excluded_by_hand.csv")
    assert kept[["swing", "reason"]].values.tolist() == [[swing, "a marker fell off"]]
    assert swing not in [point[0] for point in picture.points]
    panel.picked.include_button.click()
    assert swing in [point[0] for point in picture.points]


def test_the_event_list_follows_the_viewer_and_names_the_button(chosen: controls.ChosenStudy) -> None:
    """Truth: made. Both ways: from the viewer to the list, from the list to the viewer."""
    panel = controls.correct_events(chosen)
    panel.viewer.event = "top"
    assert panel.event.value == "top"
    assert panel.set_button.description == "Set top of the backswing here"
    panel.event.value = "takeaway"
    assert panel.viewer.asked_s == panel.records.events.time_s("takeaway")


def test_a_time_out_of_order_is_refused_with_the_reason(chosen: controls.ChosenStudy) -> None:
    """Truth: made. Nothing is written."""
    panel = controls.correct_events(chosen)
    panel.event.value = "top"
    panel.viewer.time_s = panel.records.events.time_s("impact") + 0.05
    panel.set_button.click()
    assert "top of the backswing" in panel._answer.value and "it must be before impact" in panel._answer.value
    assert not (chosen.study.folder / "events_by_hand.csv").exists()


def test_an_event_set_by_hand_is_kept_used_and_taken_back(chosen: controls.ChosenStudy) -> None:
    """Truth: made. The table, the answer and the file change, and change back; another swing's rows stay."""
    panel = controls.correct_events(chosen)
    outcomes = controls.show_outcomes(chosen)
    swing, file = panel.swing.value, chosen.study.folder / "events_by_hand.csv"
    column = "thorax_lateral_flexion_at_top_deg"
    before = chosen.results.swings.set_index("swing")[column]
    panel.event.value = "top"
    panel.viewer.time_s = panel.records.events.time_s("top") + 0.03
    panel.set_button.click()
    marked = pd.read_csv(file)
    assert marked[["swing", "event"]].values.tolist() == [[swing, "top"]]
    assert "Values changed by the new time" in panel._answer.value
    after = chosen.results.swings.set_index("swing")[column]
    assert after[swing] != before[swing]
    pd.testing.assert_series_equal(after.drop(swing), before.drop(swing), check_index_type=False)
    assert said(outcomes) == ""
    panel.undo_button.click()
    assert not file.exists()
    pd.testing.assert_series_equal(
        chosen.results.swings.set_index("swing")[column], before, check_index_type=False
    )
    panel.undo_button.click()
    assert "was not set by hand" in panel._answer.value


# --- questions ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize("changed", ["study.toml", "events_by_hand.csv"])
def test_an_event_set_by_hand_stores_no_results_of_older_inputs(
    chosen: controls.ChosenStudy, changed: str
) -> None:
    """Truth: made. Another cut-off in study.toml, or an event set in another notebook, while this notebook is open.

    Before, the other swings were kept as measured from the old inputs, and stored with the hashes of the new ones.
    """
    study = chosen.need_study()
    assert chosen.findings
    marked, other = study.swings["swing"].iloc[0], study.swings["swing"].iloc[1]
    time_s = chosen.records_of(marked).events.time_s("top") + 0.005
    chosen.records_of(other)
    if changed == "study.toml":
        text = (study.folder / "study.toml").read_text(encoding="utf-8")
        assert "[processing]" not in text
        where = text.index("[[")
        new = text[:where] + "[processing]\nbody_cutoff_hz = 6.0\n" + text[where:]
        (study.folder / "study.toml").write_text(new, encoding="utf-8")
    else:
        studies.mark_event(study, other, "top", chosen.records_of(other).events.time_s("top") + 0.02)
    chosen.mark_event(marked, "top", time_s)
    now = studies.open_study(study.folder)
    fresh = studies.measure_study(now, workers=1)
    pd.testing.assert_frame_equal(chosen.results.swings, fresh.swings, check_like=True)
    stored = studies.load_or_measure(now, workers=1)
    pd.testing.assert_frame_equal(stored.swings, fresh.swings, check_like=True)
    at_top = fresh.events[(fresh.events["swing"] == other) & (fresh.events["event"] == "top")]
    assert chosen.records_of(other).events.time_s("top") == pytest.approx(at_top["time_s"].iloc[0])


def test_posture_is_drawn_without_a_swing_excluded_by_hand(chosen: controls.ChosenStudy) -> None:
    """Truth: made. Before, the excluded swing had no golfer in the figure, which ended in a TypeError."""
    out = chosen.need_study().swings["swing"].iloc[0]
    chosen.exclude_swing(out, "a marker fell off")
    panel = controls.show_posture(chosen)
    assert panel.swing.value == out and not said(panel)
    results = chosen.results
    axes = draw_profiles(results.posture, results.swings, quantity="thorax_lateral_flexion_deg").figure.axes
    assert [ax.get_title(loc="left") for ax in axes] == list(GOLFERS)


def test_a_study_without_outcomes_is_told_so(
    chosen: controls.ChosenStudy, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Truth: made. Before, panels of a study whose captures have no club ended in a KeyError or AttributeError."""
    results = chosen.results
    bare = results.swings.drop(columns=[name for name in columns.outcomes() if name in results.swings])
    chosen._results = replace(results, swings=bare)
    for panel in (controls.show_outcomes(chosen), controls.ask_hunch(chosen), controls.ask_screen(chosen)):
        if hasattr(panel, "listed"):
            panel.listed.value = ""
        assert "no outcome was measured in this study" in said(panel)


def test_the_studys_own_question_is_answered_as_the_study_answers_it(chosen: controls.ChosenStudy) -> None:
    """Truth: other (`answer_study`). The controls compute nothing themselves."""
    panel = controls.ask_hunch(chosen)
    name = chosen.study.hunches[0].name
    assert panel.question == chosen.study.hunches[0]
    assert panel.findings == tuple(f for f in chosen.findings if f.name == name)


def test_an_own_question_is_answered_by_the_package_and_says_it_looks_around(
    chosen: controls.ChosenStudy,
) -> None:
    """Truth: other (`relate_posture_to_strike`)."""
    panel = controls.ask_hunch(chosen)
    panel.listed.value = ""
    panel.posture.value, panel.event.value = "thorax_flexion_deg", "impact"
    direct = answers.relate_posture_to_strike(
        chosen.results.swings, panel.question, errors=chosen.study.errors
    )
    assert [f.estimate for f in panel.findings] == pytest.approx([f.estimate for f in direct], nan_ok=True)
    assert any("This is an exploratory look" in getattr(part, "value", "") for part in panel.children)
    panel.posture.value = "stance_width_cm"
    assert "is not measured at" in said(panel)
    assert "choose one of: address" in said(panel)


def test_prepared_results_are_used_once_and_only_while_they_hold(measured: Path, monkeypatch) -> None:
    """Truth: made."""
    study = studies.open_study(measured)
    studies.load_or_answer(study, studies.load_or_measure(study))
    prepare_study(study)
    monkeypatch.setattr(studies, "load_or_measure", lambda *a, **k: pytest.fail("they were read again"))
    read = controls.choose_study(measured).results
    assert len(read.swings) == len(study.swings)
    assert prepared_results(study) is None
    monkeypatch.undo()
    prepare_study(study)
    monkeypatch.setattr("swinglab.controls.preparing.studies.holding_record", lambda study: "another record")
    assert prepared_results(study) is None


def test_in_a_kernel_the_rest_follows_and_a_newer_choice_replaces_it(chosen: controls.ChosenStudy) -> None:
    """Truth: made. With a running loop the answer is there at once, what follows it a moment later."""

    async def asked() -> tuple[int, int, str]:
        panel = controls.ask_hunch(chosen)
        first = len(panel._more.children)
        panel.listed.value = ""
        panel.posture.value, panel.event.value = "thorax_flexion_deg", "impact"
        await asyncio.sleep(0)
        return first, len(panel._more.children), panel.quantity

    before, after, quantity = asyncio.run(asked())
    assert before == 0
    assert after == 1
    assert quantity == "thorax_flexion_deg"


def test_a_comparison_and_a_lesson_are_asked_alike(chosen: controls.ChosenStudy) -> None:
    """Truth: made."""
    comparison, lesson = controls.ask_comparison(chosen), controls.ask_lesson(chosen)
    assert {f.kind for f in comparison.findings} == {"comparison"}
    assert {f.kind for f in lesson.findings} == {"lesson"}
    comparison.listed.value = ""
    assert comparison.question.between == "group"
    lesson.listed.value = ""
    assert lesson.golfer.value in ("G07", "G09")


def test_a_table_and_a_message_cannot_break_the_page(chosen: controls.ChosenStudy) -> None:
    """Truth: made. What data hold is escaped."""
    from swinglab.controls import html as words

    bad = "<img src=x onerror=alert(1)>"
    assert bad not in words.table(pd.DataFrame({"swing": [bad]}))
    assert bad not in words.message(bad) + words.lines(bad) + words.heading(bad)


# --- tasks and writing -------------------------------------------------------------------------------------


def test_a_task_knows_right_from_wrong_and_gives_a_hint(chosen: controls.ChosenStudy) -> None:
    """Truth: made."""
    task = controls.set_task(
        chosen, "How many?", answer=lambda results: results.swings["golfer"].nunique(), within=0.5,
        hint="Count.", because="There are {answer:.0f}.",
    )  # fmt: skip
    assert task.answer == len(GOLFERS)
    for given, right in (("7", False), ("4", True), ("4,3", True), ("four", None)):
        task.given.value = given
        task.check_button.click()
        assert task.is_right is right
    task.hint_button.click()
    assert "Count." in task.response.value


def test_a_task_that_a_study_cannot_answer_says_so(chosen: controls.ChosenStudy) -> None:
    """Truth: made."""
    task = controls.set_task(
        chosen,
        "What?",
        answer=lambda results: results.swings["nothing"].mean(),
        within=1,
        hint="",
        because="",
    )
    assert "cannot be computed from the chosen study" in said(task)
    assert math.isnan(task.answer)


def test_writing_up_leaves_the_report(chosen: controls.ChosenStudy, monkeypatch: pytest.MonkeyPatch) -> None:
    """Truth: made. As the study command leaves it, but with the geometry of three golfers alone."""
    monkeypatch.setattr("swinglab.report.geometry.MOST_GOLFERS", 3)
    panel = controls.write_up(chosen)
    assert panel.methods.startswith("# Methods")
    panel.button.click()
    assert (chosen.study.folder / "results" / "report.html").is_file()
    assert "report.html" in panel._written.value


def test_posture_over_a_swing_ends_with_its_peaks(chosen: controls.ChosenStudy) -> None:
    """Truth: other (the swing table)."""
    panel = controls.show_posture(chosen)
    row = chosen.results.swings.set_index("swing").loc[panel.swing.value]
    shown = " ".join(part.value for part in panel._more.children)
    assert f"Time at which each body part turns fastest: swing {panel.swing.value}" in shown
    assert 0.01 < row["peak_order_probability"] < 0.99
    assert f"lead arm, club is {row['peak_order_probability']:.2g}." in shown
