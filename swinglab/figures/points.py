"""Swings that the marks of a figure represent, stored so that a page can show them under the pointer."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from importlib.resources import files
from typing import NamedTuple

import numpy as np
import pandas as pd
from matplotlib.axes import Axes

from swinglab import columns

_HELD = "_swinglab_points"


class Point(NamedTuple):
    """One mark of a figure, with the swing that it represents.

    swing, golfer : names. across, down : position of the mark from the left and the top edge of the picture, as shares
    of its width and height. words : values of the swing with units, as text.
    """

    swing: str
    golfer: str
    across: float
    down: float
    words: str


def name_points(
    ax: Axes,
    x: Sequence[float] | np.ndarray | pd.Series,
    y: Sequence[float] | np.ndarray | pd.Series,
    swings: Sequence[str],
    golfers: Sequence[str],
    words: Sequence[str],
) -> None:
    """Store in the axes which swing each mark represents; `points_in_picture` reads this later.

    One entry for each mark: `x`, `y` : position in data units. `swings`, `golfers` : names. `words` : the
    values that the mark shows, as text.
    """
    held = getattr(ax, _HELD, [])
    held += list(zip(map(float, x), map(float, y), map(str, swings), map(str, golfers), words, strict=True))
    setattr(ax, _HELD, held)


def name_rows(
    ax: Axes,
    rows: pd.DataFrame,
    x: Sequence[float] | np.ndarray | pd.Series,
    y: Sequence[float] | np.ndarray | pd.Series,
    *values: str,
) -> None:
    """Store in the axes which swing each mark represents, if each mark is a row of a table.

    `rows` : the table. `x`, `y` : positions of the marks in data units. `values` : columns whose values are
    shown with the name of the swing. Nothing is done if the table has no column swing or golfer.
    """
    if "swing" not in rows.columns or "golfer" not in rows.columns:
        return
    cells = zip(*(rows[name].tolist() for name in values), strict=True)
    words = ["; ".join(map(_value_words, values, row)) for row in cells]
    name_points(ax, x, y, list(rows["swing"]), list(rows["golfer"]), words)


def _value_words(name: str, value: object) -> str:
    """Return a value with its unit, at the usual precision of that unit."""
    if not columns.is_column(name) or not isinstance(value, (int, float)):
        return str(value)
    unit = columns.column(name).unit
    text = f"{value:.{columns.UNIT_DECIMALS.get(unit, 2)}f}"
    text = (text.lstrip("-") if float(text) == 0 else text).replace("-", "−")
    return f"{text} {columns.UNIT_WORDS.get(unit, unit)}".rstrip()


def points_in_picture(ax: Axes) -> list[Point]:
    """Return the marks of a figure with their swings, sorted by golfer and from left to right.

    Parameters
    ----------
    ax : Axes
        Any axes of the figure; the marks of all its axes are returned. The figure must have been drawn or
        saved before, because this determines its layout.
    """
    figure = ax.figure
    width, height = figure.bbox.width, figure.bbox.height
    found = []
    for axes in figure.axes:
        for x, y, swing, golfer, words in getattr(axes, _HELD, []):
            across, up = axes.transData.transform((x, y))
            if np.isfinite([across, up]).all() and axes.bbox.contains(across, up):
                found.append(Point(swing, golfer, round(across / width, 5), round(1 - up / height, 5), words))
    return sorted(found, key=lambda p: (p.golfer, p.across, p.swing))


@cache
def points_script() -> str:
    """Return the JavaScript that shows the name of the swing under the mouse pointer."""
    return files("swinglab.figures").joinpath("points.js").read_text(encoding="utf-8")


@cache
def points_style() -> str:
    """Return the CSS style sheet for the script of `points_script`."""
    return files("swinglab.figures").joinpath("points.css").read_text(encoding="utf-8")
