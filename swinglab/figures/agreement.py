"""Bland-Altman plot: agreement of two methods that measured the same swings."""

from __future__ import annotations

from itertools import cycle

import pandas as pd
from matplotlib.axes import Axes

from swinglab import columns
from swinglab.errors import BadTable
from swinglab.figures.many import are_many, draw_density
from swinglab.figures.points import name_rows
from swinglab.figures.questions import axis_text
from swinglab.figures.style import COLOURS, GREY, MARKERS, legend_above, new_axes, plain


def draw_agreement(
    table: pd.DataFrame,
    *,
    computed: str,
    measured: str,
    bias: float,
    lower: float,
    upper: float,
    ax: Axes | None = None,
) -> Axes:
    """Draw a Bland-Altman plot: difference of two methods against their mean, with limits of agreement.

    Parameters
    ----------
    table : DataFrame
        One row for each swing.
    computed, measured : str
        Columns with the values of the two methods, in the same unit; the difference is computed minus measured.
    bias, lower, upper : float
        Mean difference, and lower and upper limit of agreement, in that unit.
    ax : Axes, optional
        Axes to draw on; by default those of a new figure.

    Returns
    -------
    Axes
        One mark for each swing; golfers differ in marker and colour. A very large number of swings is drawn as a
        density.

    Raises
    ------
    BadTable
        No swing has both values.
    """
    swing = ["swing"] if "swing" in table.columns else []
    rows = table[["golfer", computed, measured, *swing]].dropna()
    if rows.empty:
        raise BadTable(
            f"no swing has values in both columns {computed} and {measured}, so their agreement cannot be drawn",
            do="choose columns that were measured in the same swings",
        )
    ax = new_axes(ax)
    level, apart = (rows[computed] + rows[measured]) / 2, rows[computed] - rows[measured]
    looks = [(colour, marker) for marker in MARKERS for colour in COLOURS]
    many = are_many(rows)
    groups = {} if many else rows.groupby("golfer").groups
    for (_, places), (colour, marker) in zip(groups.items(), cycle(looks), strict=False):
        ax.plot(level[places], apart[places], marker, ms=5, color=colour, mec="white", mew=0.5, ls="none")
    if many:
        draw_density(ax, level, apart)
    else:
        name_rows(ax, rows, level, apart, computed, measured)
    for value, style, words in (
        (bias, "-", "mean difference"),
        (lower, "--", "limits of agreement"),
        (upper, "--", ""),
    ):
        ax.axhline(value, ls=style, color="black", lw=1.2, label=words or None)
    ax.axhline(0, color=GREY, lw=0.6)
    unit = _unit(computed)
    ax.set_xlabel(f"mean of both: {axis_text(computed)}")
    ax.set_ylabel(f"computed minus measured ({unit})")
    legend_above(ax)
    plain(ax)
    return ax


def _unit(name: str) -> str:
    """Return the unit of a column as printed; "" for a column that swinglab does not define."""
    if not columns.is_column(name):
        return ""
    unit = columns.column(name).unit
    return columns.UNIT_WORDS.get(unit, unit)
