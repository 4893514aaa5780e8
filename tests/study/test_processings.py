"""Other ways of processing for the answer under every choice, and curves over time, on a few swings of the demo."""

from __future__ import annotations

import shutil
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from swinglab import shipped_folder
from swinglab.records import Hunch, Posture, Trial
from swinglab.segments import measure_posture
from swinglab.study import Study, measure_curves, measure_processings, measure_study, open_study
from swinglab.study.swing import job_for, measure_job

SWINGS = ("G01_nov_01", "G02_nov_02")
TILT = "thorax_lateral_flexion_deg"
DELIVERY = f"{TILT.removesuffix('_deg')}_at_shaft_horizontal_down_deg"


@pytest.fixture(scope="module")
def study(tmp_path_factory: pytest.TempPathFactory) -> Study:
    folder = tmp_path_factory.mktemp("few") / "study"
    demo = shipped_folder("data_demo")
    kept = shutil.ignore_patterns("captures", "truth", "results", ".swinglab", "notebooks")
    shutil.copytree(demo, folder, ignore=kept)
    rows = pd.read_csv(folder / "swings.csv", dtype=str)
    rows[rows["swing"].isin(SWINGS)].to_csv(folder / "swings.csv", index=False)
    (folder / "captures").mkdir()
    for name in SWINGS:
        shutil.copyfile(demo / "captures" / f"{name}.c3d", folder / "captures" / f"{name}.c3d")
    text = (folder / "study.toml").read_text(encoding="utf-8")
    (folder / "study.toml").write_text(text[: text.index("[[hunch]]")], encoding="utf-8")
    return open_study(folder)


def test_a_posture_is_read_earlier_and_later_and_ways_that_change_nothing_are_named(study: Study) -> None:
    """Truth: other. Ten ms later is the curve itself ten ms after the event; hip centres do not enter the tilt."""
    results = measure_study(study, workers=1)
    hunch = Hunch("tilt", "attack_angle_deg", TILT, "shaft_horizontal_down")
    tables, unchanged = measure_processings(study, results, [hunch], workers=1)
    assert list(tables) == [
        "cut-off by residual analysis", "cut-off 6 Hz", "cut-off 10 Hz", "cut-off 15 Hz", "read 10 ms earlier",
        "read 10 ms later",
    ]  # fmt: skip
    assert unchanged == ["hip centres by Bell 1990", "hip centres by Hara 2016"]
    own = next(iter(tables.values())).set_index("swing")
    events = results.events.set_index(["swing", "event"])["time_from_impact_s"]
    for words, shift in (("read 10 ms earlier", -0.01), ("read 10 ms later", 0.01)):
        moved = tables[words].set_index("swing")
        for swing in SWINGS:
            at = events[swing, "shaft_horizontal_down"]
            before, after = measure_curves(study, [swing], TILT, np.array([at, at + shift]))[0]
            assert own.loc[swing, DELIVERY] == pytest.approx(before, abs=0.02)
            assert moved.loc[swing, DELIVERY] == pytest.approx(after, abs=0.02)
            assert abs(after - before) > 0.05
        pd.testing.assert_series_equal(moved["attack_angle_deg"], own["attack_angle_deg"])


def test_another_regression_of_hip_centres_reaches_the_measurement(
    study: Study, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Truth: made. These captures have no knees, so no value shows it: the call is read."""
    seen: list[str] = []

    def measure(trial: Trial, **how: str) -> Posture:
        seen.append(how["hip_method"])
        return measure_posture(trial, **how)

    monkeypatch.setattr("swinglab.study.swing.measure_posture", measure)
    other = replace(study, setup=replace(study.setup, hip_method="bell"))
    assert measure_job(job_for(other, SWINGS[0])).posture is not None
    assert seen == ["bell"]


def test_curves_from_address_start_there_and_a_swing_that_cannot_be_measured_is_missing(study: Study) -> None:
    """Truth: other. At impact the curve is the table's value; a broken capture gives no numbers and stops nothing."""
    results = measure_study(study, workers=1)
    name, quantity = "thorax_centre_toward_target_at_impact_cm", "thorax_centre_toward_target_cm"
    seen: list[int] = []
    curves = measure_curves(
        study,
        list(SWINGS),
        quantity,
        np.array([0.0, 9.0]),
        progress=lambda done, of, swing: seen.append(done),
    )
    table = results.swings.set_index("swing").loc[list(SWINGS), name]
    np.testing.assert_allclose(curves[:, 0], table, atol=0.05)
    assert np.isnan(curves[:, 1]).all() and seen == [1, 2]
    captures = dict(study.captures) | {SWINGS[0]: Path("not there.c3d")}
    broken = measure_curves(replace(study, captures=captures), list(SWINGS), quantity, np.array([0.0]))
    assert np.isnan(broken[0]).all() and np.isfinite(broken[1]).all()
