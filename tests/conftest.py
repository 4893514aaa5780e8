"""The demo study, measured once for all tests, however many test processes there are."""

from __future__ import annotations

import os
import shutil
import time
from pathlib import Path

import pytest

from swinglab import shipped_folder
from swinglab.study import load_or_measure, open_study

LONGEST_WAIT_S = 600


@pytest.fixture(scope="session")
def measured_demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A copy of the demo study with its results kept: to read from, or to copy and then write to.

    The first test process to ask for it measures; the others wait.
    """
    base = tmp_path_factory.getbasetemp()
    shared = base.parent if "PYTEST_XDIST_WORKER" in os.environ else base
    folder, done, failed = (shared / name for name in ("demo study", "demo measured", "demo not measured"))
    try:
        folder.mkdir()
    except FileExistsError:
        return _wait_for(folder, done, failed)
    try:
        own = shutil.ignore_patterns(".swinglab", "results", "notebooks")
        shutil.copytree(shipped_folder("data_demo"), folder, dirs_exist_ok=True, ignore=own)
        # Swings measured by an earlier run from the same captures with the same code are used again.
        kept = tmp_path_factory.getbasetemp().parent
        kept = (kept.parent if "PYTEST_XDIST_WORKER" in os.environ else kept) / "kept swings"
        kept.mkdir(exist_ok=True)
        (folder / ".swinglab").symlink_to(kept)
        load_or_measure(open_study(folder))
    except BaseException:
        failed.touch()
        raise
    done.touch()
    return folder


def _wait_for(folder: Path, done: Path, failed: Path) -> Path:
    end = time.monotonic() + LONGEST_WAIT_S
    while not done.exists():
        if failed.exists() or time.monotonic() > end:
            pytest.fail("another test process did not measure the demo study")
        time.sleep(0.2)
    return folder
