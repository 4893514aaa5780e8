"""The demo study as a working copy, measured once for all notebook tests."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from swinglab import shipped_folder
from swinglab.study import kept_results, open_study


@pytest.fixture(scope="session")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A copy of the demo study, whose results are kept where notebooks look for them."""
    folder = tmp_path_factory.mktemp("notebooks") / "demo study"
    shutil.copytree(shipped_folder("data_demo"), folder)
    kept_results(open_study(folder))
    return folder
