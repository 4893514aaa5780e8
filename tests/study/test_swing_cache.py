"""Measured swings are used again only while everything they were measured from is the same."""

from __future__ import annotations

import shutil
from dataclasses import fields, replace
from pathlib import Path

import pandas as pd
import pytest
from small_study import write_small_study

from swinglab.study import mark_event, measure_study, measuring, open_study, swing_cache
from swinglab.study.results import Results


@pytest.fixture(scope="module")
def measured_once(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Six swings of a small study, which are kept."""
    home = write_small_study(tmp_path_factory.mktemp("kept") / "a study")
    few = pd.read_csv(home / "swings.csv", dtype=str, keep_default_na=False).head(6)
    few.to_csv(home / "swings.csv", index=False)
    measure_study(open_study(home), workers=1, cache=home / "kept")
    return home


@pytest.fixture
def home(measured_once: Path, tmp_path: Path) -> Path:
    """A copy of it, to change."""
    return Path(shutil.copytree(measured_once, tmp_path / "a study"))


def measured_again(home: Path, monkeypatch: pytest.MonkeyPatch) -> tuple[Results, list[str]]:
    """Results, and the swings that were measured for them."""
    names: list[str] = []

    def measure(job):
        names.append(job.swing)
        return original(job)

    original = measuring.measure_job
    monkeypatch.setattr(measuring, "measure_job", measure)
    return measure_study(open_study(home), workers=1, cache=home / "kept"), names


def test_what_is_kept_equals_what_is_measured_to_the_last_digit(home: Path, monkeypatch) -> None:
    """Truth: other. The same study measured without a cache."""
    kept, names = measured_again(home, monkeypatch)
    assert names == []
    fresh = measure_study(open_study(home), workers=1)
    for item in fields(Results):
        one, two = getattr(kept, item.name), getattr(fresh, item.name)
        if isinstance(one, pd.DataFrame):
            pd.testing.assert_frame_equal(one, two, check_exact=True)
        else:
            assert one == two


def test_one_changed_capture_is_measured_alone(home: Path, monkeypatch) -> None:
    """Truth: made. The last byte of one file changes."""
    study = open_study(home)
    swing = str(study.swings["swing"].iloc[0])
    path = study.captures[swing]
    content = bytearray(path.read_bytes())
    content[-1] ^= 1
    path.write_bytes(content)
    assert measured_again(home, monkeypatch)[1] == [swing]


def test_an_event_set_by_hand_measures_its_swing_again(home: Path, monkeypatch) -> None:
    """Truth: made. And undoing it finds the first result again."""
    study = open_study(home)
    swing = str(study.swings["swing"].iloc[1])
    mark_event(study, swing, "finish", 1.0)
    assert measured_again(home, monkeypatch)[1] == [swing]


@pytest.mark.parametrize("setting", ["longest_gap_s = 0.04", "body_cutoff_hz = 14"])
def test_a_changed_setting_measures_all_again(setting: str, home: Path, monkeypatch) -> None:
    """Truth: made."""
    file = home / "study.toml"
    file.write_text(file.read_text(encoding="utf-8") + f"\n[processing]\n{setting}\n", encoding="utf-8")
    results, names = measured_again(home, monkeypatch)
    assert len(names) == len(open_study(home).swings) == len(results.swings)


def test_a_changed_question_measures_nothing(home: Path, monkeypatch) -> None:
    """Truth: made."""
    file = home / "study.toml"
    file.write_text(
        file.read_text(encoding="utf-8").replace('title = "', 'title = "another '), encoding="utf-8"
    )
    assert measured_again(home, monkeypatch)[1] == []


def test_another_version_of_the_measuring_code_measures_all_again(home: Path, monkeypatch) -> None:
    """Truth: made."""
    monkeypatch.setattr(swing_cache, "measured_with", lambda: {"source": "another version"})
    assert measured_again(home, monkeypatch)[1]


@pytest.mark.parametrize("damage", [b"", b"no archive", None])
def test_a_damaged_file_counts_as_absent(damage: bytes | None, home: Path, monkeypatch) -> None:
    """Truth: made. Empty, foreign or cut in the middle."""
    path = next((home / "kept").glob("*/*.npz"))
    path.write_bytes(path.read_bytes()[:-100] if damage is None else damage)
    assert len(measured_again(home, monkeypatch)[1]) == 1


def test_a_folder_that_cannot_be_written_keeps_nothing(home: Path) -> None:
    """Truth: made. A file stands where the folder would be."""
    (home / "in the way").write_text("", encoding="utf-8")
    study = replace(open_study(home), swings=open_study(home).swings.iloc[:1])
    assert len(measure_study(study, workers=1, cache=home / "in the way").swings) == 1


def test_the_oldest_files_are_removed(home: Path, monkeypatch) -> None:
    """Truth: made. Many more files than the study has swings."""
    monkeypatch.setattr(swing_cache, "MOST_FILES", 1)
    monkeypatch.setattr(swing_cache, "MOST_TIMES", 0)
    cache = swing_cache.SwingCache(home / "kept")
    cache.prune(6)
    assert len(list((home / "kept").glob("*/*.npz"))) == 1
