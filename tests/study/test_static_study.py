"""A study whose swings lack a marker that a static capture has. Truth: made (sticks, the study with all markers)."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from gate.mistakes import write_mistake

from swinglab.__main__ import main
from swinglab.study import load_swing, measure_study, open_study
from swinglab.study.swing import _NEUTRAL

LOST = [f"psis_left_{axis}" for axis in "xyz"]


def test_a_static_capture_stands_in_for_a_marker_that_was_taken_off(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Truth: made. Pelvis angles at every event are those of the study with all markers, to 0.3 deg."""
    whole, less = write_mistake(tmp_path / "whole"), write_mistake(tmp_path / "less")
    first = pd.read_csv(less / "captures" / "s1.csv")
    first[first["time_s"] < 1.0].to_csv(less / "captures" / "still.csv", index=False)
    for number in (1, 2):
        path = less / "captures" / f"s{number}.csv"
        pd.read_csv(path).drop(columns=LOST).to_csv(path, index=False)
    with (less / "study.toml").open("a", encoding="utf-8") as file:
        file.write('[static]\nG01 = "still.csv"\n')
    assert main(["check", str(less)]) == 0
    assert "4 of 4 captures can be measured" in capsys.readouterr().out
    tables = [measure_study(open_study(folder), workers=1).posture for folder in (whole, less)]
    key = ["swing", "event", "quantity"]
    both = tables[0].merge(tables[1], on=key, suffixes=("", "_static"))
    both = both[both["quantity"].isin(["pelvis_flexion_deg", "pelvis_axial_rotation_deg"])]
    both = both[both["swing"].isin(["S1", "S2"])].dropna(subset=["value"])
    assert len(both) > 20
    # The marker that is carried has the noise of its cluster, not its own.
    np.testing.assert_allclose(both["value_static"], both["value"], rtol=0, atol=0.3)


def test_a_replaced_static_capture_is_used_for_the_neutral_posture_too(tmp_path: Path) -> None:
    """Truth: other (a process that has measured nothing before). Angles from neutral were those of the old file."""
    home = write_mistake(tmp_path / "home")
    captures = home / "captures"
    still = pd.read_csv(captures / "s1.csv")
    still = still[still["time_s"] < 1.0]
    still.to_csv(captures / "still.csv", index=False)
    still.drop(columns=LOST).to_csv(captures / "neutral.csv", index=False)
    pd.read_csv(captures / "s1.csv").drop(columns=LOST).to_csv(captures / "s1.csv", index=False)
    with (home / "study.toml").open("a", encoding="utf-8") as file:
        file.write('[static]\nG01 = "still.csv"\n[neutral]\nG01 = "neutral.csv"\n')

    def angle() -> float:
        posture = load_swing(open_study(home), "S1").posture
        return float(np.nanmean(posture.curve("pelvis_flexion_from_neutral_deg")))

    before = angle()
    still["psis_left_z"] += 30.0
    still.to_csv(captures / "still.csv", index=False)
    after = angle()
    _NEUTRAL.clear()
    assert after == angle() and abs(after - before) > 1e-6
