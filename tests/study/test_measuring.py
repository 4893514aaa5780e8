"""Measuring a study: one process or two give the same tables, and a bad file never stops it or goes unsaid."""

from __future__ import annotations

import shutil
import subprocess
import sys
from dataclasses import fields
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from small_study import break_captures, write_small_study

from swinglab.errors import BadRequest, StudyFaults
from swinglab.records import findings_table
from swinglab.study import (
    Results,
    answer_study,
    check_study,
    load_or_answer,
    load_swing,
    mark_event,
    measure_study,
    open_study,
    unmark_event,
)
from swinglab.study.results import without_capture_names
from swinglab.study.reusing import session_folder
from swinglab.study.stored_results import read_findings


@pytest.fixture(scope="module")
def home(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A small made study with three broken captures and one swing left out by hand."""
    folder = write_small_study(tmp_path_factory.mktemp("small") / "a study")
    break_captures(folder)
    swings = pd.read_csv(folder / "swings.csv", dtype=str, keep_default_na=False)
    swings["exclude"] = np.where(swings["swing"] == "G04_0", "a practice swing", "")
    swings.to_csv(folder / "swings.csv", index=False)
    return folder


@pytest.fixture(scope="module")
def results(home: Path) -> Results:
    """That study, measured in this process."""
    return measure_study(open_study(home), workers=1)


def test_bad_captures_are_left_out_and_named(results: Results) -> None:
    """made: missing, empty, text and excluded; file, stage, what and do."""
    gone = results.left_out.set_index("swing")
    assert list(gone.index) == ["G01_0", "G02_0", "G03_0", "G04_0"]
    assert gone.loc["G01_0", "what"] == "the capture is missing"
    assert gone.loc["G01_0", "file"] == "captures/G01_0.c3d"
    assert gone.loc["G02_0", "stage"] == "load" and "empty" in gone.loc["G02_0", "what"]
    assert gone.loc["G03_0", "file"] == "captures/G03_0.c3d"
    assert gone.loc["G03_0", "do"]
    assert gone.loc["G04_0", "stage"] == "study" and "a practice swing" in gone.loc["G04_0", "what"]
    assert len(results.swings) == 14


def test_an_excluded_swing_without_a_capture_is_left_out(home: Path, tmp_path: Path) -> None:
    """Truth: made. Swings of another device alone that swings.csv excludes stayed in the answers without a word."""
    folder = Path(shutil.copytree(home, tmp_path / "device"))
    swings = pd.read_csv(folder / "swings.csv", dtype=str, keep_default_na=False)
    more = {"golfer": "G05", "capture": "", "measured_attack_angle_deg": "-40"}
    rows = [more | {"swing": "D1", "exclude": "another player"}, more | {"swing": "D2"}]
    pd.concat([swings, pd.DataFrame(rows)]).fillna("").to_csv(folder / "swings.csv", index=False)
    study = open_study(folder)
    results = measure_study(study, workers=1)
    assert "D1" not in set(results.swings["swing"]) and "D2" in set(results.swings["swing"])
    gone = results.left_out.set_index("swing").loc["D1"]
    assert (gone["file"], gone["stage"]) == ("swings.csv", "study") and "another player" in gone["what"]
    written = without_capture_names(results.left_out, study).set_index("swing")["file"]
    assert written["D1"] == "swings.csv" and written["G04_0"] == "capture of G04_0"


def test_the_swing_table_has_a_row_a_swing(results: Results) -> None:
    """made: names that bind, design columns first, a standard error beside each measured column."""
    table = results.swings
    assert list(table.columns[:4]) == ["swing", "golfer", "group", "hand"]
    for name in (
        "thorax_flexion_at_impact_deg",
        "attack_angle_deg",
        "low_point_ahead_cm",
        "backswing_time_s",
    ):
        assert np.isfinite(table[name]).all(), name
    assert (table["attack_angle_se_deg"] > 0).all()
    assert (table["thorax_flexion_at_impact_se_deg"] > 0).all()
    assert table["swing"].is_unique


def test_two_processes_give_the_same(home: Path, results: Results) -> None:
    """made: the tables do not depend on how many processes made them; progress counts every swing."""
    shown: list[int] = []
    other = measure_study(open_study(home), workers=2, progress=lambda done, total, swing: shown.append(done))
    for item in fields(Results):
        one, two = getattr(results, item.name), getattr(other, item.name)
        if isinstance(one, pd.DataFrame):
            pd.testing.assert_frame_equal(one, two)
        else:
            assert one == two
    assert shown == list(range(1, 18))


def test_check_tells_each_capture(home: Path) -> None:
    """made: a row for every swing, the problem where there is one."""
    shown = check_study(open_study(home)).set_index("swing")
    assert len(shown) == 18
    assert shown.loc["G02_0", "problem"] and shown.loc["G01_0", "problem"]
    assert shown.loc["G05_1", "problem"] == ""
    assert shown.loc["G05_1", "rate_hz"] == 200


def test_load_swing(home: Path) -> None:
    """made: the records of one swing; a name that is none is shown with near names."""
    records = load_swing(open_study(home), "G05_1")
    assert records.trial.swing == records.posture.swing == records.events.swing == records.strike.swing
    with pytest.raises(BadRequest, match="there is no swing G05_11"):
        load_swing(open_study(home), "G05_11")


def test_answers_name_what_they_cannot_answer(home: Path, results: Results) -> None:
    """made: every question has one default line with a reading."""
    study = open_study(home)
    findings = answer_study(study, results)
    default = [f for f in findings if f.role == "default"]
    assert [f.name for f in default] == [q.name for q in study.questions]
    assert all(f.reading for f in default)


def test_nothing_to_measure(home: Path, tmp_path: Path) -> None:
    """made: where no capture can be read the error names the first, how many more, and what to do."""
    folder = write_small_study(tmp_path / "none")
    for path in (folder / "captures").iterdir():
        path.write_bytes(b"")
    with pytest.raises(StudyFaults) as caught:
        measure_study(open_study(folder), workers=1)
    (fault,) = caught.value.faults
    assert "and 17 more" in str(fault) and "the file is empty" in str(fault)


def test_angles_from_a_neutral_capture(tmp_path: Path) -> None:
    """made: a swing's own capture as the neutral one: angles less a constant; a broken one is shown, not fatal."""
    folder = write_small_study(tmp_path / "neutral")
    with (folder / "study.toml").open("a", encoding="utf-8") as file:
        file.write('\n[neutral]\nG01 = "G01_1.c3d"\nG02 = "G02_1.c3d"\n')
    (folder / "captures" / "G02_1.c3d").write_bytes(b"")
    study = open_study(folder)
    plain = load_swing(study, "G01_0").posture
    name = "thorax_flexion"
    less = plain.curve(f"{name}_deg") - plain.curve(f"{name}_from_neutral_deg")
    assert np.ptp(less) < 1e-9 and abs(less[0]) > 1
    results = measure_study(study, workers=1)
    shown = results.quality.set_index("swing")["warnings"]
    assert "the golfer moves in the neutral capture" in shown["G01_0"]
    assert "neutral" not in shown["G02_0"]
    gone = results.left_out[results.left_out["stage"] == "neutral"]
    assert set(gone["swing"]) == {"G02_0", "G02_2"}
    assert {"G02_0", "G02_2"} <= set(results.swings["swing"])


def test_a_face_that_is_not_there_is_told(tmp_path: Path) -> None:
    """made: [club] face names landmarks that the captures lack; the strike stands, the face's columns are empty."""
    folder = write_small_study(tmp_path / "face")
    text = (folder / "study.toml").read_text(encoding="utf-8")
    words = 'face = ["clubhead_1", "clubhead_2", "clubhead_3"]'
    (folder / "study.toml").write_text(text.replace("[club]", f"[club]\n{words}"), encoding="utf-8")
    results = measure_study(open_study(folder), workers=1)
    assert results.swings["face_loft_deg"].isna().all()
    assert results.swings["attack_angle_deg"].notna().all()
    assert results.strike["note"].str.contains("face: the capture has no landmark clubhead_1").all()


def test_answers_outlive_a_session(home: Path, results: Results) -> None:
    """made: kept answers come back equal while nothing has changed, and not once an event is set by hand."""
    study = open_study(home)
    first = load_or_answer(study, results)
    again = read_findings(study, session_folder(study))
    assert again is not None
    pd.testing.assert_frame_equal(findings_table(first), findings_table(again), check_dtype=False, rtol=1e-8)
    mark_event(study, "G05_1", "top", 0.9)
    assert read_findings(open_study(home), session_folder(study)) is None
    unmark_event(study, "G05_1", "top")


def test_a_script_without_a_guard_is_told_so(tmp_path: Path, home: Path) -> None:
    """Truth: made. Workers read the script again; the last line says what to write, in place of a dead process."""
    script = tmp_path / "script.py"
    script.write_text(
        "import swinglab as sl\n"
        f"sl.measure_study(sl.open_study({str(home)!r}), workers=2)\n",
        encoding="utf-8",
    )  # fmt: skip
    ran = subprocess.run([sys.executable, str(script)], capture_output=True, text=True, check=False)
    assert ran.returncode != 0
    assert 'under the line if __name__ == "__main__": or with workers=1.' in ran.stderr.splitlines()[-1]
    assert "bootstrapping phase" not in ran.stderr
