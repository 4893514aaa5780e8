"""The turf of a capture without scale: its height is given in the unit of the file, as for other captures."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from swinglab import simulate
from swinglab.events import find_events
from swinglab.load import load_trial, read_capture
from swinglab.records import Setup
from swinglab.segments import measure_posture
from swinglab.simulate.capture import Lab, write_c3d, write_pose_table


@pytest.mark.parametrize("write", [write_c3d, write_pose_table])
def test_the_turf_of_a_capture_without_scale_is_in_the_files_unit(tmp_path: Path, write) -> None:
    """Truth: made. The same file with and without scale has impact at the same time.

    Before, the height of the turf was taken as metres, so that the club passed the ball at 600 m: no impact, no strike.
    """
    swing = simulate.make_swing(simulate.make_golfer(name="A"), seed=1, noise_m=0.0005)
    path = tmp_path / ("a.c3d" if write is write_c3d else "a.csv")
    write(swing, path, Lab(up="+Z", target="+X", ground_mm=-600.0))
    impacts, heels = [], []
    for unit in ("mm", "none"):
        setup = Setup(up="+Z", target="+X", unit=unit, ground=-600.0)
        trial = load_trial(read_capture(path, unit=unit), setup, swing="1", golfer="A")
        impacts.append(find_events(trial, measure_posture(trial)).time_s("impact"))
        heels.append(float(np.nanmin(trial.point("heel_right")[:, 1])) if trial.has("heel_right") else 0.0)
    assert impacts[1] == pytest.approx(impacts[0], abs=0.001)
    assert abs(heels[1]) < 0.2
