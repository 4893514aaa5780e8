"""A disk that is full or read-only: said in one line, nothing half-written, nothing that was there is lost."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from swinglab import controls
from swinglab.errors import BadRequest
from swinglab.report import write_report
from swinglab.study import (
    Results,
    answer_study,
    exclude_swing,
    mark_event,
    open_study,
    read_results,
    unmark_event,
    write_results,
)

ROOT = Path(__file__).resolve().parents[2]
pytestmark = pytest.mark.skipif(
    not hasattr(os, "geteuid") or os.geteuid() != 0, reason="mounting a disk needs root"
)


@pytest.fixture
def disk(original: Path, tmp_path: Path) -> Iterator[Path]:
    """A study on a disk of its own, just large enough for it and its results."""
    place = tmp_path / "disk"
    place.mkdir()
    size = sum(path.stat().st_size for path in original.rglob("*") if path.is_file()) + 4_000_000
    mounted = subprocess.run(["mount", "-t", "tmpfs", "-o", f"size={size}", "tmpfs", str(place)], check=False)
    if mounted.returncode:
        pytest.skip("no disk can be mounted here")
    try:
        yield Path(shutil.copytree(original, place / "study"))
    finally:
        subprocess.run(["mount", "-o", "remount,rw", str(place)], check=False)
        subprocess.run(["umount", str(place)], check=True)


def fill(disk: Path) -> Path:
    """Use up all space that is left."""
    filler = disk.parent / "filler"
    with filler.open("wb", buffering=0) as stream:
        try:
            while True:
                stream.write(bytes(4096))
        except OSError:
            pass
    return filler


def contents(disk: Path) -> dict[str, int]:
    """Every file below a folder, with its size; what running code leaves there is none of them."""
    return {
        path.relative_to(disk).as_posix(): path.stat().st_size for path in disk.rglob("*") if path.is_file()
    }


def test_marks_and_exclusions_are_not_set_on_a_full_disk(disk: Path) -> None:
    """Truth: other (the system's own error). The file is as it was; with space again the same call works."""
    mark_event(open_study(disk), "G01_0", "finish", 1.5)
    before = (disk / "events_by_hand.csv").read_bytes()
    filler = fill(disk)
    study = open_study(disk)
    for change in (
        lambda: mark_event(study, "G01_1", "finish", 1.5, note="x" * 9000),
        lambda: exclude_swing(study, "G01_1", "waggle"),
    ):
        with pytest.raises(BadRequest, match=r"No space left.*so it is unchanged.*free space"):
            change()
    assert (disk / "events_by_hand.csv").read_bytes() == before
    assert not list(disk.glob("*.new")) and not (disk / "excluded_by_hand.csv").exists()
    filler.unlink()
    assert len(mark_event(study, "G01_1", "finish", 1.5)) == 2


def test_read_only(disk: Path) -> None:
    """Truth: other. A mark is refused in words; taking one back too."""
    mark_event(open_study(disk), "G01_0", "finish", 1.5)
    subprocess.run(["mount", "-o", "remount,ro", str(disk.parent)], check=True)
    for change in (
        lambda s: mark_event(s, "G01_1", "finish", 1.5),
        lambda s: unmark_event(s, "G01_0", "finish"),
    ):
        with pytest.raises(BadRequest, match="Read-only"):
            change(open_study(disk))
    assert open_study(disk).hand_set_times("G01_0") == {"finish": 1.5}


def test_results_on_a_full_disk_leave_the_earlier_ones(disk: Path, measured: Results) -> None:
    """Truth: made. Written once, then the disk fills: whole results, nothing beside them, words that say why."""
    study = open_study(disk)
    findings = answer_study(study, measured)
    write_results(study, measured, findings, disk / "results")
    fill(disk)
    with pytest.raises(BadRequest, match="No space left"):
        write_results(study, measured, findings, disk / "results", also=(write_report,))
    assert read_results(study, disk / "results") is not None
    assert not [path.name for path in disk.iterdir() if path.name.startswith(".results")]


COMMANDS = (
    ["study", "{}"], ["measure", "{}"], ["validate", "{}"], ["simulate", "{}/new"], ["notebooks", "{}", "--no-browser"],
    ["begin", "{}"], ["register", "{}"], ["share", "{}", "{}_copy"],
)  # fmt: skip


@pytest.mark.parametrize("command", COMMANDS, ids=lambda command: command[0])
@pytest.mark.parametrize("fault", ["No space left", "Read-only"])
def test_commands_say_it_in_one_line(disk: Path, command: list[str], fault: str) -> None:
    """Truth: other (a process of its own). Exit code 2, no traceback, every file as before and none more."""
    if command[0] == "validate":
        with (disk / "study.toml").open("a", encoding="utf-8") as settings:
            settings.write('\n[validate]\nevent = "address"\n')
    if command[0] == "begin":  # its own files are to be written
        for name in ("study.toml", "golfers.csv", "swings.csv"):
            (disk / name).unlink()
    if fault == "No space left":
        fill(disk)
    else:
        subprocess.run(["mount", "-o", "remount,ro", str(disk.parent)], check=True)
    before = contents(disk.parent)
    ran = subprocess.run(
        [sys.executable, "-m", "swinglab", *(part.format(disk) for part in command)], capture_output=True, text=True,
        check=False, cwd=ROOT, env=os.environ | {"PYTHONPATH": str(ROOT), "SWINGLAB_NO_VENV": "1"}, timeout=120,
    )  # fmt: skip
    assert ran.returncode == 2, ran.stderr
    assert "Traceback" not in ran.stderr and fault in ran.stderr
    assert contents(disk.parent) == before
    assert len([line for line in ran.stderr.splitlines() if line.startswith("swinglab:")]) == 1


def test_the_write_panel_says_it(disk: Path, measured: Results) -> None:
    """Truth: made. The page does not stay at "writing ..."."""
    chosen = controls.choose_study(disk)
    chosen._results = measured
    panel = controls.write_up(chosen)
    fill(disk)
    panel.button.click()
    assert "No space left" in panel._written.value and "writing" not in panel._written.value
