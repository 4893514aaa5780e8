"""A small study with captures that have not arrived yet."""

from __future__ import annotations

import shutil
from pathlib import Path

import pandas as pd
import pytest
from made_range import LESSON
from small_study import write_small_study

from swinglab.study import measure_study, open_study
from swinglab.watch import arrivals


@pytest.fixture(scope="session")
def material(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A small study with a lesson, and beside it captures that have not arrived yet."""
    base = tmp_path_factory.mktemp("range")
    home = write_small_study(base / "a study")
    file = home / "study.toml"
    file.write_text(file.read_text(encoding="utf-8") + LESSON, encoding="utf-8")
    # Nothing of golfer G01 was captured before today but one swing.
    swings = pd.read_csv(home / "swings.csv", dtype=str, keep_default_na=False)
    late = swings["swing"].isin(["G01_1", "G01_2", "G02_2"])
    (base / "coming").mkdir()
    for name in swings.loc[late, "capture"]:
        shutil.move(home / "captures" / name, base / "coming" / name)
    swings[~late].assign(session="", phase="", club="").to_csv(home / "swings.csv", index=False)
    measure_study(open_study(home), workers=1, cache=home / ".swinglab" / "swings")
    return base


@pytest.fixture
def coming(material: Path) -> list[Path]:
    """Captures that arrive during the session."""
    return sorted((material / "coming").iterdir())


@pytest.fixture
def home(material: Path, tmp_path: Path) -> Path:
    """A copy of the study, to watch."""
    return Path(shutil.copytree(material / "a study", tmp_path / "a study"))


@pytest.fixture(autouse=True)
def at_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """No waiting for a file to settle, and no results written before the session ends."""
    monkeypatch.setattr(arrivals, "SETTLED_S", 0.0)
