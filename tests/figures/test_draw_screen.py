"""The picture of a screen."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from swinglab import columns
from swinglab.errors import BadTable
from swinglab.figures import draw_screen


def rows() -> pd.DataFrame:
    names = [columns.event_column_name("thorax_flexion_deg", event) for event in ("top", "impact")]
    return pd.DataFrame(
        {"column": names, "estimate": [0.1, 1.0], "ci_low": [-9.0, 0.4], "ci_high": [0.5, 1.6],
         "p_adjusted": [0.9, 0.01]}
    )  # fmt: skip


def test_found_marks_are_filled_and_long_intervals_have_an_arrow() -> None:
    """Truth: made. Two events in their order; the open mark's interval goes on below."""
    axes = draw_screen(rows(), part="thorax", unit="deg")
    marks = [line for line in axes.lines if line.get_marker() == "o"]
    assert [tuple(np.round(line.get_ydata(), 1)) for line in marks] == [(0.1,), (1.0,)]
    assert marks[0].get_markerfacecolor() == "white" != marks[1].get_markerfacecolor()
    arrows = [line for line in axes.lines if line.get_marker() == "v"]
    assert len(arrows) == 1 and arrows[0].get_ydata()[0] == -2.0
    assert [tick.get_text() for tick in axes.get_xticklabels()] == ["top", "impact"]
    assert "deg" in axes.get_ylabel()


def test_a_part_that_was_not_screened_is_refused() -> None:
    """Truth: made."""
    with pytest.raises(BadTable, match="pelvis"):
        draw_screen(rows(), part="pelvis")
