"""The picture of the trade between golfers and swings."""

from __future__ import annotations

import numpy as np
import pytest

from swinglab.figures import draw_plan


def test_the_trade_is_a_line_for_each_number_of_swings_and_the_plan_has_its_range() -> None:
    """Truth: made. Two lines with their golfers and chances, the plan's star, its range, four in five."""
    chances = {6: [(3, 0.1), (30, 0.6)], 24: [(3, 0.3), (30, 0.9)]}
    axes = draw_plan(chances, chosen=(12, 0.7, 0.5, 0.85))
    lines = {line.get_label(): line for line in axes.lines}
    assert lines["24 swings"].get_xydata().tolist() == [[3.0, 0.3], [30.0, 0.9]]
    assert lines["6 swings"].get_marker() != lines["24 swings"].get_marker()
    (plan,) = axes.containers
    assert plan.lines[0].get_xydata().tolist() == [[12.0, 0.7]]
    ends = plan.lines[2][0].get_segments()[0]
    assert ends[:, 1] == pytest.approx([0.5, 0.85])
    wanted = [line for line in axes.lines if np.allclose(line.get_ydata(), 0.8)]
    assert len(wanted) == 1
    assert (axes.get_xlabel(), axes.get_ylabel()) == ("golfers", "probability that the question is settled")
