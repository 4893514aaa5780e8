"""The measured demo study as a working copy for all notebook tests."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest


@pytest.fixture(scope="session")
def demo(measured_demo: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A copy of the demo study, whose results are kept where notebooks look for them."""
    folder = tmp_path_factory.mktemp("notebooks") / "demo study"
    shutil.copytree(measured_demo, folder)
    return folder
