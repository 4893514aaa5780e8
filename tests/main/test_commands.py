"""The commands as a user calls them: what they print, where, and the exit code."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pandas as pd
import pytest

from swinglab import commands, lab, open_notebooks, shipped_folder
from swinglab.__main__ import main

ROOT = Path(__file__).resolve().parents[2]
GOLFERS = ("G01", "G07", "G09")


@pytest.fixture(autouse=True)
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Commands write beside the place they are called from: an empty folder."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("SWINGLAB_NO_VENV", "1")
    return tmp_path


@pytest.fixture
def small_study(tmp_path: Path) -> Path:
    """The demo study with a few of its golfers and swings, and a capture that is missing."""
    folder = tmp_path / "a small study"
    demo = shipped_folder("data_demo")
    shutil.copytree(demo, folder, ignore=shutil.ignore_patterns("captures", "truth", "results"))
    swings = pd.read_csv(folder / "swings.csv", dtype=str)
    kept = swings[swings["golfer"].isin(GOLFERS)].groupby("golfer").head(4)
    kept.to_csv(folder / "swings.csv", index=False)
    (folder / "captures").mkdir()
    for name in kept["capture"].iloc[1:]:
        shutil.copyfile(demo / "captures" / name, folder / "captures" / name)
    return folder


def test_study_measures_answers_and_reports(small_study: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Truth: made. Everything of a run is in FOLDER/results; the missing capture is named and stops nothing."""
    assert main(["study", str(small_study), "--workers", "1"]) == 0
    results = small_study / "results"
    for name in ("swing_table.csv", "posture.csv", "events.csv", "strike.csv", "left_out.csv", "findings.csv",
                 "methods.md", "report.html", "run.json"):  # fmt: skip
        assert (results / name).is_file(), name
    shown = capsys.readouterr()
    assert f"report:  {results / 'report.html'}" in shown.out
    assert "the capture is missing" in shown.out
    table = pd.read_csv(results / "swing_table.csv")
    listed = pd.read_csv(small_study / "swings.csv")
    assert len(table) == len(listed) - 1
    assert json.loads((results / "run.json").read_text(encoding="utf-8"))["inputs"]


def test_measure_writes_tables_where_it_is_told(small_study: Path, tmp_path: Path) -> None:
    """Truth: made. Without answers, and without a page."""
    assert main(["measure", str(small_study), "--out", str(tmp_path / "elsewhere"), "--workers", "1"]) == 0
    assert (tmp_path / "elsewhere" / "swing_table.csv").is_file()
    assert not (tmp_path / "elsewhere" / "report.html").exists()
    assert not (small_study / "results").exists()


def test_check_names_what_is_there_and_what_is_missing(
    small_study: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Truth: made."""
    assert main(["check", str(small_study)]) == 1
    shown = capsys.readouterr().out
    assert f"swings: {len(pd.read_csv(small_study / 'swings.csv'))}" in shown
    assert shown.count("the capture is missing") == 1 and "  cannot be used: captures/" in shown
    assert "outcomes: " in shown and "events: 13 of 13" in shown
    assert "200 Hz" in shown


@pytest.mark.parametrize("command", ["study", "measure", "check"])
def test_a_bad_study_ends_with_2_and_every_fault_on_standard_error(
    command: str, small_study: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Truth: made. All faults at once; nothing is written."""
    text = (small_study / "study.toml").read_text(encoding="utf-8")
    text = text.replace("thorax_lateral_flexion_deg", "thorax_lateral_flexon_deg").replace('"-Y"', '"-Q"')
    (small_study / "study.toml").write_text(text, encoding="utf-8")
    assert main([command, str(small_study)]) == 2
    shown = capsys.readouterr()
    assert (
        "thorax_lateral_flexon_deg" in shown.err and "similar names: thorax_lateral_flexion_deg" in shown.err
    )
    assert "target" in shown.err
    assert shown.out == "" or command == "check"
    assert not (small_study / "results").exists()


def test_results_that_cannot_be_written_are_said_before_anything_is_measured(
    small_study: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Truth: made."""
    monkeypatch.setattr("swinglab.study.measure_study", lambda *a, **k: pytest.fail("it measured"))
    (small_study / "taken").write_text("a file", encoding="utf-8")
    assert main(["study", str(small_study), "--out", str(small_study / "taken")]) == 2
    assert "--out" in capsys.readouterr().err


def test_a_missing_folder_is_named(capsys: pytest.CaptureFixture[str]) -> None:
    """Truth: made."""
    assert main(["check", "no such study"]) == 2
    assert "no such study" in capsys.readouterr().err


def test_from_a_shell_no_traceback_is_shown(here: Path) -> None:
    """Truth: other (a process of its own). Bad input: exit code 2, the message alone."""
    answer = subprocess.run(
        [sys.executable, "-m", "swinglab", "study", "nowhere"],
        cwd=here, capture_output=True, text=True, check=False,
        env=os.environ | {"PYTHONPATH": str(ROOT), "SWINGLAB_NO_VENV": "1"},
    )  # fmt: skip
    assert answer.returncode == 2
    assert answer.stderr.startswith("swinglab: nowhere")
    assert "Traceback" not in answer.stderr


@pytest.mark.parametrize("arguments", [[], ["dance"], ["measure"], ["study", "--workers", "many"]])
def test_a_wrong_call_explains_itself(arguments: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    """Truth: other (argparse)."""
    with pytest.raises(SystemExit) as stopped:
        main(arguments)
    assert stopped.value.code == 2
    assert "usage: swinglab" in capsys.readouterr().err


def test_being_stopped_leaves_a_plain_word(
    small_study: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Truth: made. Ctrl+C in the middle of measuring."""

    def stopped(*arguments: object, **options: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("swinglab.study.measure_study", stopped)
    assert main(["measure", str(small_study)]) == 130
    assert "earlier results are unchanged" in capsys.readouterr().err


# --- notebooks ---------------------------------------------------------------------------------------------


@pytest.fixture
def started(monkeypatch: pytest.MonkeyPatch) -> list[list[str]]:
    """The server commands that would have been started, each followed by the notebooks that run on opening."""
    calls: list[list[str]] = []

    def run(
        command: list[str],
        *,
        runs: list[str],
        page: str = "",
        draw_first: Callable[[Path], None] | None = None,
    ) -> int:
        assert (draw_first is not None) == bool(page)
        calls.append([*command, f"runs {' '.join(runs)}", f"page {page}"])
        return 0

    monkeypatch.setattr(lab, "run_lab", run)
    monkeypatch.setenv("JUPYTER_DATA_DIR", str(Path.cwd() / "jupyter data"))
    monkeypatch.setattr(open_notebooks, "measure_first", lambda folder: None)
    return calls


def test_notebooks_are_copied_where_missing_and_never_overwritten(
    small_study: Path, started: list[list[str]]
) -> None:
    """Truth: made."""
    own = small_study / "notebooks" / "05_test_a_hunch.ipynb"
    own.parent.mkdir(exist_ok=True)
    own.write_text("mine", encoding="utf-8")
    assert main(["notebooks", str(small_study), "--no-browser"]) == 0
    originals = sorted(path.name for path in shipped_folder("notebooks").glob("*.ipynb"))
    assert sorted(path.name for path in own.parent.glob("*.ipynb")) == originals
    assert own.read_text(encoding="utf-8") == "mine"
    assert "--no-browser" in started[0]
    runs = next(entry for entry in started[0] if entry.startswith("runs "))
    assert "00_start_here.ipynb" in runs and "05_test_a_hunch.ipynb" not in runs  # it is not the kit's


def test_without_a_folder_the_demo_becomes_a_working_copy(here: Path, started: list[list[str]]) -> None:
    """Truth: made. What is marked by hand there stays there."""
    assert main(["notebooks"]) == 0
    copy = here / "swinglab_demo"
    assert (copy / "study.toml").is_file() and (copy / "notebooks" / "00_start_here.ipynb").is_file()
    (copy / "events_by_hand.csv").write_text("swing,event,time_s\n", encoding="utf-8")
    assert main(["notebooks"]) == 0
    assert (copy / "events_by_hand.csv").is_file()
    assert not list(here.glob("swinglab_demo.*"))


def test_one_notebook_opens_as_a_single_page(
    small_study: Path, started: list[list[str]], capsys: pytest.CaptureFixture[str]
) -> None:
    """Truth: made. By its number or a word; an unknown one is refused with the numbers there are."""
    for asked in ("05", "hunch", "test a hunch"):
        assert main(["notebooks", str(small_study), "--page", asked]) == 0
        assert "--LabApp.default_url=/doc/tree/05_test_a_hunch.ipynb" in started[-1]
        assert started[-1][-1] == "page 05_test_a_hunch.ipynb"
    assert main(["notebooks", str(small_study), "--page", "42"]) == 2
    assert "there is no notebook 42" in capsys.readouterr().err
    assert len(started) == 3


# --- test --------------------------------------------------------------------------------------------------


def test_test_runs_style_types_and_tests_and_fails_if_any_does(monkeypatch: pytest.MonkeyPatch) -> None:
    """Truth: made. With arguments of one's own pytest alone runs, on those."""
    calls: list[list[str]] = []

    def run(command: list[str], **options: object) -> subprocess.CompletedProcess:
        calls.append(command[2:])
        return subprocess.CompletedProcess(command, 1 if "mypy" in command else 0)

    monkeypatch.setattr(commands.subprocess, "run", run)
    assert main(["test"]) == 1
    assert [call[0] for call in calls] == ["ruff", "ruff", "mypy", "pytest"]
    calls.clear()
    assert main(["test", "tests/load", "-k", "gaps", "--help"]) == 0
    assert calls == [["pytest", "tests/load", "-k", "gaps", "--help"]]


def test_a_command_uses_one_thread_for_linear_algebra(monkeypatch: pytest.MonkeyPatch) -> None:
    """Truth: made. Set before numpy loads, where the user has not set it: workers do the work in parallel."""
    monkeypatch.setenv("OPENBLAS_NUM_THREADS", "3")
    monkeypatch.setenv("OMP_NUM_THREADS", "")
    monkeypatch.delenv("OMP_NUM_THREADS")
    assert main(["check", "no such folder"]) == 2
    assert os.environ["OPENBLAS_NUM_THREADS"] == "3" and os.environ["OMP_NUM_THREADS"] == "1"


def test_simulate_makes_as_many_golfers_and_swings_as_asked_for(tmp_path: Path) -> None:
    """Truth: made. A small league in one process."""
    assert (
        main(["simulate", "league", "--golfers", "2", "--swings", "1", "--seed", "1", "--workers", "1"]) == 0
    )
    assert len(list((tmp_path / "league" / "captures").iterdir())) == 2
