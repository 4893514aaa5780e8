"""All golfers moved along their own lines: numbers, picture and limits, without a browser."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from swinglab import controls
from swinglab.figures import sketch_moved_golfers


def test_every_golfer_moves_along_the_own_line(measured_demo: Path) -> None:
    """Truth: other (numpy on the swing table). All lines rise, the line through the means falls."""
    chosen = controls.choose_study(measured_demo)
    panel = controls.move_golfers(chosen)
    names = ["thorax_lateral_flexion_at_shaft_horizontal_down_deg", "attack_angle_deg"]
    table = chosen.results.swings.dropna(subset=names).groupby("golfer")[names]
    slopes = table.apply(lambda own: np.polyfit(*own.to_numpy().T, 1)[0])
    reach = table.apply(lambda own: np.ptp(own[names[0]]) / 2)
    assert panel.slider.max == pytest.approx(reach.min(), abs=0.1)
    assert panel.slider.max <= reach.min()
    assert "Move the slider" in panel.outcome.value
    still = panel.sketch.value
    panel.slider.value = 1.5
    assert panel.sketch.value != still
    assert f"rises in {int((slopes > 0).sum())} of {len(slopes)} golfers" in panel.outcome.value
    assert f"the mean change is {1.5 * slopes.mean():+.2f} deg" in panel.outcome.value
    between = np.polyfit(*table.mean().to_numpy().T, 1)[0]
    assert between < 0 < slopes.min()
    assert f"the change would be {1.5 * between:+.2f} deg".replace("-", "−") in panel.outcome.value


def test_the_picture_puts_rings_and_discs_where_they_belong() -> None:
    """Truth: made. Scales are linear: a disc is moved by the change, and by slope times change."""
    golfers = pd.DataFrame({"golfer": ["A", "B<"], "posture": [10.0, 20.0], "outcome": [-4.0, -6.0],
                            "half_range": [5.0, 5.0], "slope": [0.2, 0.4]})  # fmt: skip
    svg = sketch_moved_golfers(golfers, 2.0, posture="tilt (deg)", outcome="attack angle (deg)")
    places = np.array(re.findall(r'circle cx="([\d.]+)" cy="([\d.]+)"', svg), float)
    (ring, disc), (other, its_disc) = places.reshape(2, 2, 2)
    per_deg = (other[0] - ring[0]) / 10.0
    assert disc[0] - ring[0] == pytest.approx(2 * per_deg, abs=0.2)
    up = (ring[1] - other[1]) / 2.0  # pixels per degree of attack angle, downward
    assert disc[1] - ring[1] == pytest.approx(0.4 * up, abs=0.2)
    assert its_disc[1] - other[1] == pytest.approx(0.8 * up, abs=0.2)
    assert "B&lt;" in svg and "each moved by +2.0" in svg
