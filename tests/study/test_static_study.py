"""A study whose swings lack a marker that a static capture has. Truth: made (sticks, the study with all markers)."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from gate.mistakes import write_mistake

from swinglab.__main__ import main
from swinglab.study import measure_study, open_study

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
