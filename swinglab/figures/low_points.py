"""Figure of the low points of all swings, by golfer."""

from __future__ import annotations

import pandas as pd
from matplotlib.axes import Axes

from swinglab import columns
from swinglab.errors import BadTable
from swinglab.figures.many import sample_of_golfers
from swinglab.figures.points import name_rows
from swinglab.figures.questions import need_columns
from swinglab.figures.style import COLOURS, GREY, legend_above, new_axes, plain, spread

OUTCOME = "low_point_ahead_cm"
#: Colour and marker of each kind of contact.
LOOK = {
    "fat": (COLOURS[1], "s"), "clean": (COLOURS[0], "o"), "thin": (COLOURS[2], "^"), "uncertain": (GREY, "D"),
}  # fmt: skip


def draw_low_points(table: pd.DataFrame, ax: Axes | None = None) -> Axes:
    """Draw the low points of all swings relative to the ball centre, one row for each golfer, with 95 % error bars.

    Parameters
    ----------
    table : DataFrame
        One row for each swing, with the columns golfer and low_point_ahead_cm. If they exist, low_point_ahead_se_cm
        gives the error bars, and contact decides colour and marker.
    ax : Axes, optional
        Axes to draw on; by default those of a new figure.

    Returns
    -------
    Axes
        Golfers from top to bottom in the order of their names; a short line marks each golfer's mean. Swings without a
        low point are left out. With many golfers, a sample of them is drawn (`many.sample_of_golfers`).

    Raises
    ------
    BadTable
        A column is missing, or no swing has a low point.
    """
    need_columns(table, "golfer", OUTCOME)
    error = columns.error_column_name(OUTCOME)
    rows = table.filter(items=["swing", "golfer", OUTCOME, error, "contact"]).dropna(subset=[OUTCOME])
    if rows.empty:
        raise BadTable(
            "there is nothing to draw, because no swing in the table has a low point",
            do="choose swings with a clubhead marker, in which impact was found",
        )
    names = sample_of_golfers(rows, OUTCOME)
    golfers = rows["golfer"].nunique()
    rows = rows.loc[rows["golfer"].astype(str).isin(names)]
    ax = new_axes(ax, height=1.4 + 0.34 * len(names))
    errors = rows.get(error, pd.Series(0.0, index=rows.index)).fillna(0.0)
    kinds = rows["contact"].where(rows["contact"].isin(list(LOOK)), "") if "contact" in rows.columns else ""
    rows = rows.assign(kind=kinds, error=errors, level=0.0)
    for place, name in enumerate(names):
        own = rows["golfer"].astype(str) == name
        rows.loc[own, "level"] = spread(place, int(own.sum()))
        ax.plot(
            [rows.loc[own, OUTCOME].mean()] * 2,
            [place - 0.4, place + 0.4],
            "-",
            color="black",
            lw=1.6,
            zorder=5,
        )
    for kind, alike in rows.groupby("kind"):
        colour, marker = LOOK.get(str(kind), (COLOURS[0], "o"))
        ax.errorbar(alike[OUTCOME], alike["level"], xerr=1.96 * alike["error"], fmt=marker, color=colour, ms=3.6,
                    lw=0.7, ls="none", label=kind or None)  # fmt: skip
    name_rows(ax, rows, rows[OUTCOME], rows["level"], OUTCOME)
    ax.axvline(0.0, color=GREY, lw=1.0, ls=":")
    ax.set_yticks(range(len(names)), names)
    ax.set_ylim(len(names) - 0.5, -0.5)
    ax.set_xlabel(columns.column(OUTCOME).axis_label)
    if len(names) < golfers:
        ax.set_ylabel(f"{len(names)} of {golfers} golfers")
    legend_above(ax, ncols=4)
    plain(ax)
    return ax
