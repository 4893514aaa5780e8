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
#: What is costly to make is shared by the modules of these folders, and by these modules: one test process runs them.
TOGETHER = {
    "tests/report": "report", "tests/faults": "faults", "tests/watch": "watch",
    "tests/browser/test_notebook_page.py": "lab", "tests/browser/test_points_page.py": "lab",
}  # fmt: skip


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config: pytest.Config, log: object) -> object:
    """Send the tests of a module, and those that share what they need, to the same test process."""
    from xdist.scheduler import LoadScopeScheduling

    class Sharing(LoadScopeScheduling):
        def _split_scope(self, nodeid: str) -> str:
            module = nodeid.partition("::")[0]
            return TOGETHER.get(module) or TOGETHER.get(module.rpartition("/")[0]) or module

    return Sharing(config, log) if config.getvalue("dist") == "loadscope" else None


@pytest.fixture(scope="session")
def kept_swings(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Measured swings of this and earlier runs, for a study's .swinglab: same capture, same code, measured once."""
    kept = tmp_path_factory.getbasetemp().parent
    kept = (kept.parent if "PYTEST_XDIST_WORKER" in os.environ else kept) / "kept swings"
    kept.mkdir(exist_ok=True)
    return kept


@pytest.fixture(scope="session")
def measured_demo(tmp_path_factory: pytest.TempPathFactory, kept_swings: Path) -> Path:
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
        (folder / ".swinglab").symlink_to(kept_swings)
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
