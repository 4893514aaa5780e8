"""A small simulated study, measured once; each test works on a copy of its own."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from small_study import write_small_study

from swinglab.study import Results, measure_study, open_study


@pytest.fixture(scope="session")
def original(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The study folder; not to be changed. Its question has no answer by geometry, most of a page's time."""
    folder = write_small_study(tmp_path_factory.mktemp("original") / "small")
    settings = folder / "study.toml"
    text = settings.read_text(encoding="utf-8")
    settings.write_text(
        text.replace("thorax_lateral_flexion_deg", "trunk_lateral_flexion_deg"), encoding="utf-8"
    )
    return folder


@pytest.fixture(scope="session")
def measured(original: Path) -> Results:
    """Its results."""
    return measure_study(open_study(original), workers=1)


@pytest.fixture
def home(original: Path, tmp_path: Path) -> Path:
    """A copy of the study folder, to break."""
    return Path(shutil.copytree(original, tmp_path / "study"))
