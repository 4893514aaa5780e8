"""Low points of all swings, golfer by golfer."""

from __future__ import annotations

import numpy as np
import pandas as pd
from matplotlib.axes import Axes

from swinglab import columns
from swinglab.errors import BadTable, near_names
from swinglab.figures.points import name_rows
from swinglab.figures.style import COLOURS, GREY, TEXT, new_axes, plain


def draw_low_points(table: pd.DataFrame, ax: Axes | None = None, *, golfer: str = "golfer") -> Axes:
    """Low points of all swings, a row for each golfer, with their 95 % error bars, from the ball centre.

    Parameters
    ----------
    table : DataFrame
        One row a swing, with `low_point_ahead_cm`, the golfer and, where there, `low_point_ahead_se_cm` and
        `contact` (which sets the marker).
    ax : Axes, optional
    golfer : str
        Column that names the rows.

    Returns
    -------
    Axes
        Golfers from top to bottom in the order of their names; a short line marks each golfer's mean. Swings
        without a low point are left out.

    Raises
    ------
    BadTable
        A column is missing, or no swing has a low point.
    """
    outcome = "low_point_ahead_cm"
    for name in (golfer, outcome):
        if name not in table.columns:
            known = [str(n) for n in table.columns]
            raise BadTable(f"the table has no column {name}", do=near_names(name, known) or None)
    rows = table[np.isfinite(table[outcome].to_numpy(float))]
    if rows.empty:
        raise BadTable("no swing in this table has a low point")
    names = sorted(rows[golfer].astype(str).unique())
    ax = new_axes(ax, height=1.4 + 0.34 * len(names))
    kinds = rows["contact"].astype(str) if "contact" in rows.columns else pd.Series("", index=rows.index)
    look = {
        "fat": ("s", COLOURS[1]),
        "clean": ("o", COLOURS[0]),
        "thin": ("^", COLOURS[2]),
        "uncertain": ("D", GREY),
    }
    error_name = columns.error_column_name(outcome)
    shown: set[str] = set()
    for level, name in enumerate(names):
        own = rows[rows[golfer].astype(str) == name]
        offsets = np.linspace(-0.28, 0.28, len(own)) if len(own) > 1 else np.zeros(1)
        errors = own[error_name].to_numpy(float) if error_name in own.columns else np.zeros(len(own))
        values = own[outcome].to_numpy(float)
        for value, error, offset, kind in zip(values, errors, offsets, kinds[own.index], strict=True):
            marker, colour = look.get(kind, ("o", COLOURS[0]))
            label = kind if kind in look and kind not in shown else None
            shown.add(kind)
            ax.errorbar(
                value,
                level + offset,
                xerr=1.96 * np.nan_to_num(error),
                fmt=marker,
                color=colour,
                ms=3.6,
                lw=0.7,
                label=label,
            )
        name_rows(ax, own, values, level + offsets, outcome, golfer=golfer)
        ax.plot([values.mean()] * 2, [level - 0.4, level + 0.4], "-", color="black", lw=1.6, zorder=5)
    ax.axvline(0.0, color=GREY, lw=1.0, ls=":")
    ax.set_yticks(range(len(names)), names)
    ax.set_ylim(len(names) - 0.5, -0.5)
    ax.set_xlabel(columns.column(outcome).axis_label)
    if shown & set(look):
        ax.legend(
            frameon=False,
            fontsize=TEXT,
            loc="lower left",
            bbox_to_anchor=(-0.02, 1.0),
            ncols=4,
            borderaxespad=0.2,
            handletextpad=0.3,
            columnspacing=1.0,
        )
    plain(ax)
    return ax
