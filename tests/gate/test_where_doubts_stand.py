"""Doubts stand on the console, at the report's head, in quality.csv and notebook 02; the source in every method."""

from __future__ import annotations

from pathlib import Path

import pandas as pd
import pytest
from gate.mistakes import MISTAKES, write_mistake

from swinglab import controls, report
from swinglab.__main__ import main
from swinglab.conventions import CAPTURE_SOURCES
from swinglab.study import measure_study, open_study


def test_a_doubt_stands_wherever_a_person_looks(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Truth: made. The turf 60 cm too low, in all swings: once on each page, and in the row of each swing."""
    mistake = next(one for one in MISTAKES if one.name == "wrong ground")
    folder = write_mistake(tmp_path / "study", mistake)
    words = "the feet are above the turf"
    assert main(["measure", str(folder), "--workers", "1"]) == 0
    assert "".join(capsys.readouterr()).count(words) == 1
    quality = pd.read_csv(folder / "results" / "quality.csv")
    assert set(quality["gate"]) == {"doubtful"} and quality["doubts"].str.contains(words).all()
    study = open_study(folder)
    (tmp_path / "report").mkdir()
    page = report.write_report(study, measure_study(study, workers=1), (), tmp_path / "report")
    assert page.read_text("utf-8").split("<main>")[0].count(words) == 1
    panel = controls.check_captures(controls.choose_study(folder))
    shown = "".join(str(getattr(one, "value", "")) for one in panel.children)
    assert shown.count(words) == 1 and "doubtful [ground]" in shown


@pytest.mark.parametrize("source", CAPTURE_SOURCES)
def test_the_source_stands_in_every_method(source: str, tmp_path: Path) -> None:
    """Truth: made. Posture, events and strike: how the coordinates were captured, where the study says so."""
    folder = write_mistake(tmp_path / "study")
    text = (folder / "study.toml").read_text("utf-8")
    (folder / "study.toml").write_text(text.replace("[lab]", f'[lab]\nsource = "{source}"'), encoding="utf-8")
    results = measure_study(open_study(folder), workers=1)
    assert len(results.posture) and len(results.events) and len(results.strike)
    methods = results.events.dropna(subset=["time_s"])["method"].to_list()
    measured = results.posture.dropna(subset=["value"])["frame_method"].to_list()
    for method in (*methods, *measured, *results.strike["method"]):
        assert method.endswith(source), method
