"""A question saved to study.toml: comments kept, read back as it was, nothing written where it would be a fault."""

from __future__ import annotations

import shutil
from dataclasses import replace
from pathlib import Path

import pytest

from swinglab import shipped_folder
from swinglab.errors import StudyFaults
from swinglab.records import Comparison, FoundIn, Hunch, Lesson, PostureScreen
from swinglab.study import open_study
from swinglab.study.saving import question_toml, save_question

TILT = ("thorax_lateral_flexion_deg", "shaft_horizontal_down")


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """The demo's tables with one capture, and a comment in its study.toml."""
    demo = shipped_folder("data_demo")
    for name in ("study.toml", "golfers.csv", "swings.csv"):
        shutil.copyfile(demo / name, tmp_path / name)
    (tmp_path / "captures").mkdir()
    shutil.copyfile(demo / "captures" / "G01_nov_01.c3d", tmp_path / "captures" / "G01_nov_01.c3d")
    path = tmp_path / "study.toml"
    path.write_text("# our winter\n" + path.read_text(encoding="utf-8"), encoding="utf-8")
    return tmp_path


@pytest.mark.parametrize(
    "question",
    [
        Hunch('a "quoted" näme', "attack_angle_deg", *TILT, expect="negative", adjust=("clubhead_speed_mps",),
              smallest_effect=0.5, found_in=FoundIn(("G01", "G02"), swings=("G01_nov_01",))),
        Comparison("c", *TILT, between="group", smallest_effect=3.0),
        Lesson("l", "G07", "phase", *TILT, outcome="attack_angle_deg", target_value=12.0),
        PostureScreen("s", "attack_angle_deg", "golfer", "G07", ("thorax",), where={"order": {"to": 36.5}}),
    ],
    ids=lambda question: type(question).__name__,
)  # fmt: skip
def test_a_question_is_read_back_as_it_was(folder: Path, question) -> None:
    """Truth: made. All that stood in the file stays, byte for byte."""
    before = (folder / "study.toml").read_text(encoding="utf-8")
    save_question(open_study(folder), question)
    after = (folder / "study.toml").read_text(encoding="utf-8")
    assert after.startswith(before.rstrip("\n")) and after.endswith(question_toml(question) + "\n")
    study = open_study(folder)
    assert question in (*study.questions, *study.screens)
    assert len(list(folder.glob(".study*"))) == 0


def test_a_name_that_is_taken_or_a_fault_writes_nothing(folder: Path) -> None:
    """Truth: made."""
    study = open_study(folder)
    before = (folder / "study.toml").read_bytes()
    taken = replace(study.hunches[0], level="between")
    unknown = Hunch("new", "no_such_outcome", *TILT)
    undirected = Hunch("new", "attack_angle_deg", *TILT, found_in=FoundIn(("G01",)))
    for question, words in (
        (taken, "two questions"),
        (unknown, "no_such_outcome"),
        (undirected, "direction"),
    ):
        with pytest.raises(StudyFaults, match=words):
            save_question(study, question)
    assert (folder / "study.toml").read_bytes() == before
