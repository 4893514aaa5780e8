"""A pose without scale: `begin` says so, angles and times are measured, lengths and speeds are missing."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from swinglab import columns, simulate
from swinglab.begin import begin_study
from swinglab.load import read_capture
from swinglab.simulate.swing import landmarks_of
from swinglab.study import check_folder, measure_study, open_study
from tests.captures import capture_path

#: Keypoint -> markers of the published capture whose mean it is here.
KEYPOINTS = {
    "shoulder": ("SHO",), "elbow": ("ELB",), "wrist": ("WRA", "WRB"), "hip": ("ASI", "PSI"), "knee": ("KNE",),
    "ankle": ("ANK",), "heel": ("HEE",), "big_toe": ("TOE",), "ear": ("FHD", "BHD"),
}  # fmt: skip


def write_pose(folder: Path, points: dict[str, np.ndarray], rate_hz: float, unit_m: float) -> Path:
    """A wide table whose unit is `unit_m` metres."""
    table = {"time_s": np.arange(len(next(iter(points.values())))) / rate_hz}
    for name, path in points.items():
        for axis, letter in enumerate("xyz"):
            table[f"{name}_{letter}"] = path[:, axis] / unit_m
    path = folder / "captures" / "G01" / "shot.csv"
    path.parent.mkdir(parents=True)
    pd.DataFrame(table).to_csv(path, index=False)
    return folder


def test_a_real_pose_gives_the_same_angles_without_scale(tmp_path: Path) -> None:
    """Truth: other. A published whole-body shot with a stick (biomechZoo, Apache-2.0), its markers averaged to the
    keypoints of a pose file, once in metres and once in parts of the picture's height."""
    capture = read_capture(capture_path("stick_shot_full_body.c3d"))
    place = {label.rpartition(":")[2]: k for k, label in enumerate(capture.labels)}
    points = {
        f"{side}_{name}": np.mean([capture.points_m[:, place[side[0].upper() + mark]] for mark in marks], axis=0)
        for name, marks in KEYPOINTS.items() for side in ("left", "right")
    }  # fmt: skip
    made = {
        unit: write_pose(tmp_path / unit, points, capture.rate_hz, size)
        for unit, size in (("m", 1.0), ("none", 3.1))
    }
    found = {}
    for unit, folder in made.items():
        assert begin_study(folder).found.labs[""].unit.value == unit
        checked = check_folder(folder, workers=1)
        assert checked.passed, checked.captures["problem"].tolist()
        found[unit] = measure_study(open_study(folder), workers=1).posture.set_index(["quantity", "event"])
    both = found["none"].assign(value_m=found["m"]["value"]).dropna(subset=["value", "value_m"])
    assert len(both) >= 15
    assert (both["value"] - both["value_m"]).abs().max() < 0.2
    kinds = {columns.quantity_column(name).unit for name, _ in found["none"].dropna(subset=["value"]).index}
    assert kinds == {"deg"}


def test_a_swing_without_scale_has_events_angles_of_the_strike_and_no_length(tmp_path: Path) -> None:
    """Truth: made. Joint centres, clubhead and ball of a simulated swing; events, club path and attack angle as with
    scale, no speed, no low point, no contact class, and each says why."""
    swing = simulate.make_swing(
        simulate.make_golfer(name="G01"), seed=4, rate_hz=240.0, before_s=1.9, after_s=0.8
    )
    names = landmarks_of("joint_centres", swing.points)
    turned = {name: swing.points[name][:, [0, 2, 1]] * [1, -1, 1] for name in names}
    write_pose(tmp_path, turned, 240.0, 0.41)
    begin_study(tmp_path)
    assert open_study(tmp_path).setup.unit == "none"
    results = measure_study(open_study(tmp_path), workers=1)
    row = results.swings.iloc[0]
    for name in ("attack_angle_deg", "club_path_in_to_out_deg"):
        assert row[name] == pytest.approx(swing.true_strike[name], abs=0.4)
    events = results.events.set_index("event")["time_s"]
    for name in ("takeaway", "top", "shaft_horizontal_down", "impact"):
        assert events[name] == pytest.approx(
            swing.true_events[name], abs=0.02 if name != "takeaway" else 0.06
        )
    assert np.isnan(row[["clubhead_speed_mps", "low_point_ahead_cm", "arc_radius_m"]].astype(float)).all()
    assert not [
        n
        for n in results.posture.dropna(subset=["value"])["quantity"].unique()
        if columns.quantity_column(n).unit == "cm"
    ]
