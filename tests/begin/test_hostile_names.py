"""`begin` on captures whose labels and folders are hostile text: none of it becomes a setting, a file or markup."""

from __future__ import annotations

import tomllib
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from swinglab import simulate
from swinglab.__main__ import main
from swinglab.begin import begin_study
from swinglab.errors import BadRequest
from swinglab.study import open_study
from tests.begin.made_captures import DIALECTS, LABS, label_of
from tests.made_c3d_file import write_points

#: Endings of labels: of strings and tables of TOML, of HTML, of a spreadsheet's formula, of text read as mathematics.
HOSTILE = (
    '"""\n[evil]\nx = 1', "</script><b>bold</b>", "=1+1", "\u202eabc", "$\\frac{$", "'];import os#", "a\\", "\x07bell",
    '"\n[lab]\nup = "-Z"\n', "golfer,=1+1", "| a | b |\n# heading", "[[hunch]]", "a\u2028line", "#", "\x1b[2Jclear",
)  # fmt: skip
#: What begin writes into study.toml.
TABLES = {
    "title",
    "question",
    "lab",
    "landmarks",
    "errors",
    "markers",
    "processing",
    "club",
    "ball",
    "reference",
}


@cache
def one_swing() -> simulate.Swing:
    """The swing of every capture."""
    golfer = simulate.make_golfer(name="G01")
    return simulate.make_swing(golfer, seed=5, rate_hz=120.0, before_s=1.6, after_s=0.6)


@pytest.mark.parametrize("hostile", HOSTILE, ids=[f"text_{number}" for number in range(len(HOSTILE))])
def test_labels_and_folders_stay_text(hostile: str, tmp_path: Path, capsys) -> None:
    """Truth: made. The study's file has the tables that begin writes, and up and target as the laboratory has them."""
    lab, dialect = LABS[0], next(iter(DIALECTS.values()))
    swing = one_swing()
    named = {label: name for name in swing.points if (label := label_of(name, dialect, "right")) is not None}
    points = [lab.place(swing.points[name], "right") for name in named.values()]
    folder = tmp_path / "study"
    path = folder / "captures" / hostile.replace("/", "_").strip() / "t1.c3d"
    path.parent.mkdir(parents=True)
    labels = [*named, *(f"{hostile} {number}" for number in range(3))]
    write_points(path, labels, np.stack([*points, *points[:3]], axis=1), 120.0, lab.unit)
    begin_study(folder)
    settings = tomllib.loads((folder / "study.toml").read_text(encoding="utf-8"))
    assert set(settings) <= TABLES
    study = open_study(folder)
    assert (study.setup.up, study.setup.target) == (lab.up, lab.target)
    assert len(study.swings) == len(study.golfers) == 1
    capsys.readouterr()
    main(["check", str(folder)])
    said = "".join(capsys.readouterr())
    assert said and not any(mark in said for mark in ("\x07", "\x1b", "\u202e", "\u2028"))


def test_a_name_that_begins_with_a_blank_is_refused(tmp_path: Path) -> None:
    """Truth: made. Cells of tables lose it, so the capture would not be found again."""
    path = tmp_path / "captures" / " G01" / "t1.c3d"
    path.parent.mkdir(parents=True)
    path.write_bytes(b"")
    with pytest.raises(BadRequest, match="must not begin or end with a space"):
        begin_study(tmp_path)
    assert not (tmp_path / "study.toml").exists()
