"""Estimates by method, each with its interval."""

from __future__ import annotations

import pytest

from swinglab.figures import draw_forest
from swinglab.figures.forest import Row


def test_limits_that_are_none_do_not_set_the_scale() -> None:
    """Truth: made. A mark alone for limits of 4e36 and for limits that are not known."""
    nan = float("nan")
    rows = [
        Row("a", 1.0, 0.5, 1.5, "judged"),
        Row("b", 2.0, -4e36, 4e36),
        Row("c", 1.5, nan, nan),
        Row("d", 1.0, 0.0, nan),
    ]
    ax = draw_forest(rows)
    lines = [
        line for line in ax.lines if len(line.get_xdata()) == 2 and line.get_ydata()[0] == line.get_ydata()[1]
    ]
    assert [tuple(line.get_xdata()) for line in lines] == [(0.5, 1.5)]
    assert ax.get_xlim()[1] == pytest.approx(2.0, abs=0.2)
