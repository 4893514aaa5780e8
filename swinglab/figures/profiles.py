"""Figures by golfer: a posture quantity at every event, or any column of the swing table."""

from __future__ import annotations

import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from swinglab import columns, conventions
from swinglab.errors import BadTable
from swinglab.figures.points import name_rows
from swinglab.figures.questions import need_columns
from swinglab.figures.style import (
    EVENT_SHORT,
    TEXT,
    UNPHASED,
    legend_above,
    look_of,
    mark_reference,
    new_axes,
    plain,
    spread,
)


def draw_profiles(
    posture: pd.DataFrame, swings: pd.DataFrame, *, quantity: str, colour: str | None = None
) -> Axes:
    """Draw a posture quantity at every event, one panel for each golfer, one line for each swing.

    Parameters
    ----------
    posture : DataFrame
        Table with one row for each swing, event and quantity (columns swing, event, quantity, value), as posture.csv.
    swings : DataFrame
        The swing table, with the columns swing and golfer.
    quantity : str
        Name of the posture quantity.
    colour : str, optional
        Column of the swing table whose values differ in colour and marker.

    Returns
    -------
    Axes
        The first panel; the others are in the same figure and have the same scales.

    Raises
    ------
    BadTable
        No row has a value of the quantity, or the swing table lacks the column `colour`.
    """
    column = columns.quantity_column(quantity)
    # The posture table also contains swings excluded by hand; the swing table does not.
    drawn = posture["swing"].isin(swings["swing"])
    rows = posture[drawn & (posture["quantity"] == quantity) & posture["value"].notna()]
    if rows.empty:
        raise BadTable(
            f"there is nothing to draw, because {quantity} was not measured in any swing",
            do="choose another quantity",
        )
    need_columns(swings, colour)
    wide = rows.astype({"swing": str, "event": str}).pivot(index="swing", columns="event", values="value")
    events = [event for event in conventions.EVENTS if event in wide.columns]
    table = wide.join(
        swings.set_index("swing")[list(dict.fromkeys(["golfer", *([colour] if colour else [])]))]
    )
    golfers = sorted(table["golfer"].astype(str).unique())
    across = min(4, len(golfers))
    down = -(-len(golfers) // across)
    # Fixed margins in inches: an automatic layout of so many panels takes longer than drawing them.
    width, height = 2.5 * across + 0.9, 2.0 * down + 1.7
    figure = Figure(figsize=(width, height))
    figure.subplots_adjust(left=0.75 / width, right=1 - 0.1 / width, bottom=1.3 / height, top=1 - 0.55 / height,
                           wspace=0.08, hspace=0.28)  # fmt: skip
    grid = np.atleast_1d(figure.subplots(down, across, sharex=True, sharey=True, squeeze=False)).ravel()
    look = look_of(colour, list(table[colour].astype(str)) if colour else [])
    for ax, golfer in zip(grid, golfers, strict=False):
        own = table[table["golfer"].astype(str) == golfer]
        for name, (shade, marker) in look.items():
            lines = own[own[colour].astype(str) == name] if colour else own
            # One line with gaps for all swings of one colour, because hundreds of lines take seconds to draw.
            x = np.tile([*range(len(events)), np.nan], len(lines))
            y = np.column_stack([lines[events].to_numpy(float), np.full(len(lines), np.nan)]).ravel()
            ax.plot(x, y, f"{marker}-", ms=2.5, lw=0.9, color=shade, alpha=0.7)
        ax.set_title(golfer, fontsize=TEXT, loc="left")
        plain(ax)
    for ax in grid[len(golfers) :]:
        ax.set_axis_off()
    for ax in grid[max(0, len(golfers) - across) : len(golfers)]:
        ax.tick_params(labelbottom=True)
        ax.set_xticks(range(len(events)), [EVENT_SHORT[event] for event in events], rotation=90, fontsize=9)
    figure.supylabel(column.axis_label.replace("\n", "; "), fontsize=TEXT, x=0.12 / width)
    if colour:
        for name, (shade, marker) in look.items():
            grid[0].plot([], [], f"{marker}-", color=shade, ms=4, label=name or UNPHASED)
        figure.legend(loc="upper right", ncols=len(look), frameon=False, fontsize=TEXT)
    return grid[0]


def draw_by_golfer(
    table: pd.DataFrame,
    *,
    value: str,
    colour: str | None = None,
    reference: str | None = None,
    ax: Axes | None = None,
) -> Axes:
    """Draw the value of a column for every swing by golfer, and each golfer's mean.

    Error bars are standard errors, if the table has them.

    Parameters
    ----------
    table : DataFrame
        The swing table.
    value : str
        Numeric column that is drawn.
    colour : str, optional
        Column whose values differ in colour and marker.
    reference : str, optional
        A value of the column group; the means of its golfers are drawn as short lines at the right edge.
    ax : Axes, optional
        Axes to draw on; by default those of a new figure.

    Raises
    ------
    BadTable
        A column is missing or has no numbers.
    """
    needed = [value, "golfer", *([colour] if colour else [])]
    need_columns(table, *needed)
    if not pd.api.types.is_numeric_dtype(table[value]) or not table[value].notna().any():
        raise BadTable(
            f"there is nothing to draw, because the column {value} has no numbers",
            do="choose a numeric column",
        )
    error = columns.error_column_name(value) if columns.is_column(value) else ""
    rows = table.dropna(subset=[value])
    golfers = sorted(rows["golfer"].astype(str).unique())
    ax = new_axes(ax, width=max(4.4, 0.5 * len(golfers) + 1.6), height=4.0)
    if reference is not None and "group" in rows.columns:
        mark_reference(ax, rows[rows["group"] == reference], value, reference)
    look = look_of(colour, list(rows[colour].astype(str)) if colour else [])
    for place, golfer in enumerate(golfers):
        own = rows[rows["golfer"].astype(str) == golfer]
        spots = spread(place, len(own))
        for name, (shade, marker) in look.items():
            here = (own[colour].astype(str) == name).to_numpy() if colour else np.ones(len(own), bool)
            bars = own[error].to_numpy(float)[here] if error in own.columns else None
            ax.errorbar(spots[here], own[value].to_numpy(float)[here], yerr=bars, fmt=marker, ms=4, color=shade,
                        mec="white", mew=0.4, elinewidth=0.7)  # fmt: skip
        name_rows(ax, own, spots, own[value], value)
        ax.plot([place - 0.35, place + 0.35], [own[value].mean()] * 2, color="black", lw=1.5)
    for name, (shade, marker) in look.items():
        if colour:
            ax.plot([], [], marker, ls="none", color=shade, ms=5, label=name or UNPHASED)
    ax.plot([], [], color="black", lw=1.5, label="a golfer's mean")
    ax.set_xticks(range(len(golfers)), golfers)
    room = 0.06 * len(golfers) if reference is not None else 0.0  # for the reference lines at the right edge
    ax.set_xlim(-0.7, len(golfers) - 0.3 + room)
    ax.set_ylabel(columns.column(value).axis_label if columns.is_column(value) else value)
    legend_above(ax, ncols=3)
    plain(ax)
    return ax
