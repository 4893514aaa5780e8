"""Names of persons: warned of, kept out of results, and taken out of a copy to give away."""

from __future__ import annotations

import shutil
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from load.made_c3d import group_record, made_c3d, text_parameter

from swinglab.__main__ import main
from swinglab.begin import share_study
from swinglab.errors import BadRequest, StudyFaults
from swinglab.study import measure_study, names_in_study, open_study


@pytest.fixture
def named(home: Path) -> Path:
    """A study whose second golfer is called by a name, in every place where names creep in."""
    for file in ("golfers.csv", "swings.csv"):
        text = (home / file).read_text(encoding="utf-8").replace("G02", "Miller")
        if file == "golfers.csv":
            rows = text.splitlines()
            text = (
                "\n".join([rows[0] + ",birth_date,email", *(row + ",1990-01-02,x@y.z" for row in rows[1:])])
                + "\n"
            )
        (home / file).write_text(text, encoding="utf-8")
    for path in (home / "captures").glob("G02_*"):
        path.rename(path.with_name(path.name.replace("G02", "Miller")))
    settings = (home / "study.toml").read_text(encoding="utf-8")
    (home / "study.toml").write_text(
        "# Miller came late\n" + settings + '\n[neutral]\n"Miller" = "Miller_1.c3d"\n', encoding="utf-8"
    )
    (home / "events_by_hand.csv").write_text(
        "swing,event,time_s,who,note\nMiller_0,finish,1.5,Anna,seen\n", encoding="utf-8"
    )
    return home


def test_check_warns_of_names(named: Path, capsys: pytest.CaptureFixture[str], monkeypatch) -> None:
    """Truth: made. Golfer, swings and captures; codes, clubs and labels in capitals are none."""
    found = names_in_study(open_study(named), ["Smith:LASI", "LASI", "Subject 1:RASI"])
    assert found[0] == "golfer Miller (golfers.csv)"
    assert "capture captures/Miller_1.c3d" in found and "labels that begin with Smith:" in found
    assert not [text for text in found if "G01" in text or "Subject" in text]
    monkeypatch.setenv("SWINGLAB_NO_VENV", "1")
    assert main(["check", str(named)]) in (0, 1)
    assert "these look like people's names: golfer Miller" in capsys.readouterr().out


def test_check_reads_subjects_and_prefixes_in_the_captures(
    home: Path, capsys: pytest.CaptureFixture[str], monkeypatch
) -> None:
    """Truth: made. Names, however they are written, in SUBJECTS:NAMES of a C3D file, and before labels of another."""
    points = np.random.default_rng(3).normal(1000, 300, (5, 2, 3))
    names = ["Miller", "berger", "DAVIES"]
    swings = pd.read_csv(home / "swings.csv", dtype=str, keep_default_na=False).head(6)
    swings.to_csv(home / "swings.csv", index=False)
    for name, (subject, prefix) in zip(names, swings["capture"].to_numpy().reshape(3, 2), strict=True):
        subjects = group_record(5, "SUBJECTS", "intel") + text_parameter(
            5, "NAMES", [name, "Subject 2"], "intel"
        )
        (home / "captures" / subject).write_bytes(made_c3d(points, extra=subjects))
        (home / "captures" / prefix).write_bytes(made_c3d(points, labels=[f"{name}:P0", "Subject01:P1"]))
    monkeypatch.setenv("SWINGLAB_NO_VENV", "1")
    main(["check", str(home)])
    words = capsys.readouterr().out
    for name, subject in zip(names, swings["capture"][::2], strict=True):
        assert f"subject {name} in captures/{subject}" in words and f"labels that begin with {name}:" in words
    assert "Subject 2 in" not in words and "begin with Subject01" not in words


def test_a_shared_copy_holds_no_name_and_gives_the_same_numbers(named: Path, tmp_path: Path) -> None:
    """Truth: other (the study itself, measured). Every byte of the copy is searched for the name."""
    shutil.rmtree(named / "results", ignore_errors=True)
    shared = share_study(named, tmp_path / "copy")
    for path in shared.folder.rglob("*"):
        assert "miller" not in path.name.lower()
        if path.is_file():
            content = path.read_bytes().lower()
            assert b"miller" not in content and b"anna" not in content and b"1990-01-02" not in content, path
    one, two = (open_study(folder) for folder in (named, shared.folder))
    assert list(one.golfers["hand"]) == list(two.golfers["hand"]) and "birth_date" not in two.golfers.columns
    assert sorted(path.name for path in shared.folder.iterdir()) == [
        "captures", "events_by_hand.csv", "golfers.csv", "study.toml", "swings.csv",
    ]  # fmt: skip
    tables = [measure_study(study, workers=1).swings for study in (one, two)]
    for name in (
        "attack_angle_deg",
        "thorax_flexion_at_impact_deg",
        "trunk_flexion_from_neutral_at_impact_deg",
    ):
        np.testing.assert_allclose(tables[0][name], tables[1][name], atol=1e-3)
    assert any("birth_date, email" in line for line in shared.lines)


def test_a_name_in_a_title_stops_the_copy(named: Path, tmp_path: Path) -> None:
    """Truth: made. Free text cannot be recoded: each place is named, and nothing is written."""
    settings = (
        (named / "study.toml").read_text(encoding="utf-8").replace('title = "', 'title = "Miller and ', 1)
    )
    settings = settings.replace("title = '", "title = 'Miller and ", 1)
    (named / "study.toml").write_text(settings, encoding="utf-8")
    with pytest.raises(StudyFaults, match=r"study\.toml: the name Miller would remain in the copy"):
        share_study(named, tmp_path / "copy")
    assert not (tmp_path / "copy").exists() and not list(tmp_path.glob(".copy*"))


def test_small_letters_combined_letters_and_a_devices_table(home: Path, tmp_path: Path) -> None:
    """Truth: made. A golfer in small letters gets a code, in another device's table too; a name is found however its
    letters are put together; the copy opens."""
    for file in ("golfers.csv", "swings.csv"):
        text = (home / file).read_text(encoding="utf-8").replace("G02", "m\u00fcller")
        (home / file).write_text(text, encoding="utf-8")
    for path in (home / "captures").glob("G02_*"):
        path.rename(path.with_name(path.name.replace("G02", "m\u00fcller")))
    (home / "device.csv").write_text(
        "Player,Shot,Attack,Email\nm\u00fcller,m\u00fcller_0,-3.0,x@y.z\n", encoding="utf-8"
    )
    settings = (home / "study.toml").read_text(encoding="utf-8")
    device = (
        '[measured]\nfile = "device.csv"\nswing = "Shot"\ngolfer = "Player"\n'
        '[measured.outcomes.attack_angle_deg]\ncolumn = "Attack"\nunit = "deg"\n'
    )
    (home / "study.toml").write_text(f"{settings}\n{device}", encoding="utf-8")
    shared = share_study(home, tmp_path / "copy").folder
    for path in shared.rglob("*"):
        content = path.read_bytes() if path.is_file() else b""
        assert (
            "m\u00fcller".encode() not in content and b"x@y.z" not in content and "ller" not in path.name
        ), path
    outcome = open_study(shared).swings["measured_attack_angle_deg"]
    assert outcome.notna().sum() == 1
    accepted = '[[accept]]\ngolfer = "G01"\ncheck = "facing"\nreason = "mu\u0308ller"\n'
    (home / "study.toml").write_text(f"{settings}\n{device}{accepted}", encoding="utf-8")
    with pytest.raises(StudyFaults, match="the name m\u00fcller would remain in the copy"):
        share_study(home, tmp_path / "other")


def test_a_copy_needs_an_empty_place_elsewhere(home: Path, tmp_path: Path) -> None:
    """Truth: made."""
    (tmp_path / "full").mkdir()
    (tmp_path / "full" / "mine.txt").write_text("keep", encoding="utf-8")
    with pytest.raises(BadRequest, match="the folder for the copy is not empty"):
        share_study(home, tmp_path / "full")
    with pytest.raises(BadRequest, match="inside the study"):
        share_study(home, home / "copy")


def test_the_key_beside_a_study_is_not_copied_and_its_names_are_looked_for(
    home: Path, tmp_path: Path
) -> None:
    """Truth: made. A name that only the key knows, written in small letters in a note."""
    (home.parent / f"{home.name}_key_to_golfers.csv").write_text(
        "kind,name,code\ngolfer,olga,G01\n", encoding="utf-8"
    )
    pd.DataFrame(
        [["G01_0", "top", 1.0, "", "olga says so"]], columns=["swing", "event", "time_s", "who", "note"]
    ).to_csv(home / "events_by_hand.csv", index=False)
    with pytest.raises(StudyFaults, match=r"events_by_hand\.csv: the name olga"):
        share_study(home, tmp_path / "copy")
