"""Serves and swings from elsewhere, as whole studies: opened, checked, measured, what they lack reported."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import numpy as np
import pytest
from captures import capture_path
from load.test_real_trials import CHANNELS, SERVE, level_direction

from swinglab import study
from swinglab.load import read_capture

FILES = {
    "racket_serve_full_body.c3d": ("+Z", 2, 0.0, "Derrick:RFIN", SERVE),
    "racket_serve_with_gaps.c3d": ("+Z", 2, 0.0, "Derrick:RFIN", SERVE),
    "unlabelled_swing.c3d": ("+X", 0, -60.0, "Channel801", {k: f"Channel{v}" for k, v in CHANNELS.items()}),
    "unlabelled_swing_bad_parameters.c3d":
        ("+X", 0, -60.0, "Channel801", {k: f"Channel{v}" for k, v in CHANNELS.items()}),
}  # fmt: skip


def write_study(folder: Path, name: str) -> Path:
    """A study folder of this one capture; the target is where hand or club heads when it is fastest."""
    up, axis, ground, swung, labels = FILES[name]
    target, _ = level_direction(read_capture(capture_path(name)), swung, axis)
    (folder / "captures").mkdir(parents=True)
    shutil.copyfile(capture_path(name), folder / "captures" / name)
    mapped = [f"{key} = {json.dumps(label)}" for key, label in labels.items()]
    lab = ["[lab]", f'up = "{up}"', f"target = {list(map(float, target))}", f"ground = {ground}"]
    lines = ['title = "A real capture"', *lab, "[landmarks]", *mapped]
    (folder / "study.toml").write_text("\n".join(lines) + "\n", encoding="utf-8")
    (folder / "golfers.csv").write_text("golfer,hand,group\nP1,right,players\n", encoding="utf-8")
    (folder / "swings.csv").write_text(f"swing,golfer,capture\none,P1,{name}\n", encoding="utf-8")
    return folder


@pytest.mark.parametrize("name", FILES)
def test_a_real_capture_as_a_study(name: str, tmp_path: Path) -> None:
    """other: what the files hold. No ball is struck, so no strike is claimed, and posture is there all the same."""
    opened = study.open_study(write_study(tmp_path / "a study", name))
    row = study.check_study(opened).iloc[0]
    assert (row["problem"], row["landmarks_missing"]) == ("", "")
    results = study.measure_study(opened)
    assert set(results.left_out["stage"]) <= {"strike"} and len(results.left_out) == 1
    assert results.strike["attack_angle_deg"].isna().all()
    turn = study.load_swing(opened, "one").posture.curve("thorax_axial_rotation_deg")
    assert np.ptp(turn[np.isfinite(turn)]) > 60
