"""Low points by their data and labels. Truth: made."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from swinglab.errors import BadTable
from swinglab.figures import draw_low_points


def test_low_points_of_all_golfers_with_their_errors() -> None:
    table = pd.DataFrame(
        {
            "golfer": ["G02", "G01", "G01", "G02"],
            "low_point_ahead_cm": [3.0, 5.0, np.nan, 7.0],
            "low_point_ahead_se_cm": [1.0, 0.5, np.nan, 0.8],
            "contact": ["fat", "clean", "", "thin"],
        }
    )
    ax = draw_low_points(table)
    assert [t.get_text() for t in ax.get_yticklabels()] == ["G01", "G02"]
    assert len(ax.containers) == 3
    assert set(ax.get_legend_handles_labels()[1]) == {"fat", "clean", "thin"}
    with pytest.raises(BadTable, match="no column low_point_ahead_cm"):
        draw_low_points(table.drop(columns="low_point_ahead_cm"))
    with pytest.raises(BadTable, match="no swing"):
        draw_low_points(table.iloc[[2]])
