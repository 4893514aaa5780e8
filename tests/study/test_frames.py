"""Posture frame by frame for other programs: the long table and the C3D file of each swing."""

from __future__ import annotations

from pathlib import Path

import ezc3d
import numpy as np
import pandas as pd
import pytest

from swinglab import commands, simulate
from swinglab.__main__ import main
from swinglab.study import load_swing, open_study


@pytest.fixture(scope="module")
def measured(tmp_path_factory) -> Path:
    """A study of one left-handed and one right-handed swing, measured with --frames."""
    folder = tmp_path_factory.mktemp("frames") / "study"
    swings, golfers = [], {}
    for hand in ("left", "right"):
        golfer = simulate.make_golfer(name=f"G_{hand}", hand=hand)
        golfers[golfer.name] = {"hand": hand, "group": "all"}
        swings.append(
            simulate.StudySwing(simulate.make_swing(golfer, seed=1, noise_m=3e-4, name=f"S_{hand}"))
        )
    simulate.write_study(folder, simulate.SimulatedStudy("Frames", swings, golfers=golfers))
    assert commands is not None and main(["measure", str(folder), "--frames", "--workers", "1"]) == 0
    return folder


@pytest.mark.parametrize("swing", ["S_left", "S_right"])
def test_the_long_table_is_the_posture(measured: Path, swing: str) -> None:
    """Truth: made. Every quantity in every frame, 0 % at takeaway and 100 % at impact."""
    table = pd.read_csv(measured / "results" / "frames" / f"{swing}.csv")
    records = load_swing(open_study(measured), swing)
    posture, events = records.posture, records.events
    assert len(table) == posture.values.size
    turn = table[table["quantity"] == "thorax_axial_rotation_deg"]
    np.testing.assert_allclose(
        turn["value"], posture.curve("thorax_axial_rotation_deg"), rtol=1e-6, atol=1e-6
    )
    assert (turn["unit"] == "deg").all() and (turn["standard_error"] > 0).all()
    percent = np.interp(
        [events.time_s("takeaway"), events.time_s("impact")], turn["time_s"], turn["percent_of_swing"]
    )
    np.testing.assert_allclose(percent, [0.0, 100.0], atol=1e-3)
    np.testing.assert_allclose(
        turn["time_from_impact_s"], turn["time_s"] - events.time_s("impact"), atol=1e-6
    )


@pytest.mark.parametrize("swing", ["S_left", "S_right"])
def test_the_c3d_file_holds_angles_and_events(measured: Path, swing: str) -> None:
    """Truth: other (ezc3d). Angles are points listed in POINT:ANGLES, events those that were found."""
    file = ezc3d.c3d(str(measured / "results" / "frames" / f"{swing}.c3d"))
    records = load_swing(open_study(measured), swing)
    point = file["parameters"]["POINT"]
    angles = [label.strip() for label in point["ANGLES"]["value"]]
    assert "thorax_axial_rotation" in angles and set(angles) < {n.strip() for n in point["LABELS"]["value"]}
    assert point["ANGLE_UNITS"]["value"] == ["deg"]
    column = [n.strip() for n in point["LABELS"]["value"]].index("thorax_axial_rotation")
    values = file["data"]["points"][0, column]
    np.testing.assert_allclose(values, records.posture.curve("thorax_axial_rotation_deg"), atol=1e-3)
    events = file["parameters"]["EVENT"]
    times = dict(zip(events["LABELS"]["value"], np.array([60, 1]) @ events["TIMES"]["value"], strict=True))
    assert times["impact"] == pytest.approx(records.events.time_s("impact"), abs=1e-5)
    assert "shaft_horizontal_down" in times


def test_the_plain_command_writes_no_frames(measured: Path, tmp_path: Path) -> None:
    """Truth: made."""
    assert main(["measure", str(measured), "--out", str(tmp_path / "out"), "--workers", "1"]) == 0
    assert not (tmp_path / "out" / "frames").exists()
