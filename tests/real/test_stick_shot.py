"""The stick shot through the whole line: a real capture from elsewhere, from marker file to report."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from captures import capture_path
from real.stick_shot import write_stick_study
from scipy.spatial.transform import Rotation

from swinglab import report, study


@pytest.fixture(scope="module")
def opened(tmp_path_factory: pytest.TempPathFactory) -> study.Study:
    """The study around the capture."""
    path = capture_path("stick_shot_full_body.c3d")
    return study.open_study(write_stick_study(tmp_path_factory.mktemp("stick") / "stick shot", path))


@pytest.fixture(scope="module")
def records(opened: study.Study) -> study.SwingRecords:
    """All records of the shot."""
    return study.load_swing(opened, "shot")


def unit(vectors: np.ndarray) -> np.ndarray:
    return vectors / np.linalg.norm(vectors, axis=-1, keepdims=True)


def turn_first(x: np.ndarray, y: np.ndarray, z: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Axial rotation, lateral flexion and flexion of axes given in the study frame, with the kit's signs."""
    golfer = np.array(
        [[0.0, 0.0, 1.0], [0.0, 1.0, 0.0], [-1.0, 0.0, 0.0]]
    )  # rows: to the ball, up, trail side
    matrices = golfer @ np.stack([x, y, z], axis=-1)
    angles = Rotation.from_matrix(matrices).as_euler("YXZ", degrees=True)
    return angles[:, 0], angles[:, 1], -angles[:, 2]


def near(ours: np.ndarray, theirs: np.ndarray) -> float:
    """Largest difference of angles where both are known, whole turns taken out."""
    known = np.isfinite(ours) & np.isfinite(theirs)
    assert known.sum() > 100
    return float(np.abs((ours - theirs + 180.0)[known] % 360.0 - 180.0).max())


def test_pelvis_and_thorax_against_an_independent_construction(records: study.SwingRecords) -> None:
    """other: numpy and scipy alone, by the recipes of Wu et al. 2002 and 2005; every frame, 0.01 deg."""
    at = records.trial.point
    left, right = at("asis_left"), at("asis_right")
    z = unit(right - left)
    y = unit(np.cross(z, (left + right) / 2 - (at("psis_left") + at("psis_right")) / 2))
    whole = np.isfinite(np.cross(y, z)).all(axis=1)
    expected = turn_first(np.cross(y, z)[whole], y[whole], z[whole])
    for name, values in zip(("axial_rotation", "lateral_flexion", "flexion"), expected, strict=True):
        assert near(records.posture.curve(f"pelvis_{name}_deg")[whole], values) < 0.01
    up = unit((at("jugular_notch") + at("c7")) / 2 - (at("xiphoid") + at("t8")) / 2)
    across = unit(np.cross(at("jugular_notch") - at("c7"), up))
    expected = turn_first(np.cross(up, across), up, across)
    for name, values in zip(("axial_rotation", "lateral_flexion", "flexion"), expected, strict=True):
        assert near(records.posture.curve(f"thorax_{name}_deg"), values) < 0.01


def test_markers_that_stood_still_are_not_believed(records: study.SwingRecords) -> None:
    """other: in the file both front pelvis markers repeat one place to the last bit until after the shot."""
    assert any("samples of asis_left do not move" in words for words in records.trial.warnings)
    shot = int(records.events.time_s("impact") * records.trial.rate_hz)
    assert np.isnan(records.posture.curve("pelvis_axial_rotation_deg")[shot])
    assert np.isfinite(records.posture.curve("thorax_axial_rotation_deg")[shot])


def test_the_low_point_lies_near_the_puck(records: study.SwingRecords) -> None:
    """other: the blade's own lowest samples in the file before the puck goes."""
    impact = records.events.time_s("impact")
    time, blade = records.trial.time_s, records.trial.point("clubhead")
    before = (time > impact - 0.1) & (time <= impact)
    lowest = 100 * blade[before][np.argmin(blade[before, 1]), 0]
    assert records.strike.values["low_point_ahead_cm"] == pytest.approx(lowest, abs=15.0)
    assert abs(records.strike.values["low_point_ahead_cm"]) < 30.0
    assert 5.0 < records.strike.values["clubhead_speed_mps"] < 25.0


def test_the_whole_line(opened: study.Study, tmp_path: Path) -> None:
    """made: results and a page, with what is missing reported."""
    results = study.measure_study(opened)
    out = study.write_results(opened, results, (), tmp_path / "results", also=(report.write_report,))
    table = pd.read_csv(out / "swing_table.csv")
    assert table["thorax_flexion_at_impact_deg"].between(0, 90).all()
    assert table["thorax_frame_method"].str.contains("t10 for t8").all()
    assert (out / "report.html").stat().st_size > 10_000
