"""Figure of a screen (search among many postures): slopes with simultaneous intervals, by event."""

from __future__ import annotations

import numpy as np
import pandas as pd
from matplotlib.axes import Axes

from swinglab import columns, conventions
from swinglab.errors import BadTable
from swinglab.figures.style import COLOURS, EVENT_SHORT, GREY, MARKERS, new_axes, plain

_FOUND = 0.05
#: An interval is cut at this many times the largest slope; an arrow then shows that it continues.
_REACH = 2.0


def draw_screen(rows: pd.DataFrame, *, part: str, unit: str = "", ax: Axes | None = None) -> Axes:
    """Draw the slopes of the outcome on the postures of one body part at every event, with simultaneous intervals.

    Slopes are per 10 units of posture.

    Parameters
    ----------
    rows : DataFrame
        Rows of screen.csv of one screen, with the columns column, estimate, ci_low, ci_high, p_adjusted.
    part : str
        Body part, such as "thorax"; the field `group` of a column's definition.
    unit : str
        Unit of the outcome, for the label of the axis.
    ax : Axes, optional
        Axes to draw on; by default those of a new figure.

    Returns
    -------
    Axes
        Marks are filled if adjusted p is below .05, otherwise open.

    Raises
    ------
    BadTable
        No posture of this part was screened.
    """
    known = rows[rows["estimate"].notna()]
    named = [columns.column(name) for name in known["column"]]
    own = known[[c.group == part for c in named]]
    if own.empty:
        raise BadTable(
            f"there is nothing to draw, because the screen tested no posture of the body part {part}",
            do="choose another body part",
        )
    ax = new_axes(ax, width=8.4, height=4.8)
    at = {name: columns.column(name) for name in own["column"]}
    events = [event for event in conventions.EVENTS if event in {c.event for c in at.values()}]
    quantities = list(dict.fromkeys(c.quantity for c in at.values()))
    reach = _REACH * float(own["estimate"].abs().max())
    step = 0.8 / len(quantities)
    for number, quantity in enumerate(quantities):
        colour, marker = COLOURS[number % len(COLOURS)], MARKERS[number % len(MARKERS)]
        c = columns.quantity_column(quantity)
        shown = own[[at[name].quantity == quantity for name in own["column"]]]
        label = f"{c.label} (10 {columns.UNIT_WORDS.get(c.unit, c.unit)})"
        numbers = shown[["estimate", "ci_low", "ci_high", "p_adjusted"]].to_numpy(float)
        for name, (estimate, low, high, p) in zip(shown["column"], numbers, strict=True):
            x = events.index(at[name].event) - 0.4 + step * (number + 0.5)
            ax.plot([x, x], np.clip([low, high], -reach, reach), "-", color=colour, lw=1.2, zorder=2)
            if high > reach:
                ax.plot(x, reach, "^", color=colour, ms=4, zorder=2)
            if low < -reach:
                ax.plot(x, -reach, "v", color=colour, ms=4, zorder=2)
            face = colour if p < _FOUND else "white"
            ax.plot(x, estimate, marker, color=colour, mfc=face, ms=6, zorder=3, label=label)
            label = "_"
    ax.axhline(0.0, color="black", lw=0.9, zorder=1)
    for border in np.arange(len(events) - 1) + 0.5:
        ax.axvline(border, color=GREY, lw=0.4, alpha=0.5, zorder=0)
    words = [EVENT_SHORT[event] for event in events]
    ax.set_xticks(range(len(events)), words, fontsize=8, rotation=30, ha="right", rotation_mode="anchor")
    ax.set_xlim(-0.5, len(events) - 0.5)
    ax.set_ylabel(f"change of the strike{f' ({unit})' if unit else ''}\nfor 10 units more")
    ax.legend(
        frameon=False, fontsize=8, loc="upper left", bbox_to_anchor=(0.0, -0.26), ncols=2,
        title="filled: found (adjusted p below .05); open: not found; arrow: the interval continues",
        title_fontsize=8,
        alignment="left",
    )  # fmt: skip
    plain(ax)
    return ax
