"""Figure of posture by class of contact (fat, clean, thin)."""

from __future__ import annotations

import numpy as np
import pandas as pd
from matplotlib.axes import Axes

from swinglab.conventions import CONTACTS
from swinglab.errors import BadTable
from swinglab.figures.many import are_many, sample_of_golfers
from swinglab.figures.points import name_rows
from swinglab.figures.questions import axis_text, need_columns
from swinglab.figures.steps import contact_steps, name_steps
from swinglab.figures.style import GREY, group_look, legend_above, new_axes, plain

#: Marks of one class of contact are spread vertically by this much to each side, so that they do not overlap.
#: The second number, the golden section, gives an even spread that is not related to the order of swings.
_SPREAD, _TURN = 0.16, 0.618034
#: With more golfers than this, the means of a sample are drawn.
_MOST_LINES = 20


def draw_contact(
    table: pd.DataFrame,
    *,
    posture: str,
    outcome: str,
    group: str | None = None,
    ax: Axes | None = None,
) -> Axes:
    """Draw posture by class of contact: every swing, and each golfer's mean posture in fat, clean and thin swings.

    Parameters
    ----------
    table : DataFrame
        One row for each swing.
    posture, outcome : str
        Numeric column for the horizontal axis, in its unit, and column with the words fat, clean and thin. Swings with
        another word, such as uncertain, or none are left out.
    group : str, optional
        Column whose values differ in colour and marker.
    ax : Axes, optional
        Axes to draw on; by default those of a new figure.

    Returns
    -------
    Axes
        The means of a golfer are connected by a line. With many golfers, a sample of them is drawn
        (`many.sample_of_golfers`).

    Raises
    ------
    BadTable
        A column is missing, or no swing has both a posture and a contact.
    """
    need_columns(table, "golfer", posture, outcome, group)
    rows = table.filter(items=["swing", "golfer", posture, outcome, str(group)])
    rows = rows.assign(step=contact_steps(table[outcome])).dropna(subset=[posture, "step"])
    if rows.empty:
        raise BadTable(
            f"no swing has both a value of {posture} and one of the contacts {', '.join(CONTACTS)}",
            do="choose a posture and an outcome that were measured in the same swings",
        )
    ax = new_axes(ax)
    look = group_look(sorted(rows[group].astype(str).unique()) if group else [""])
    named: set[str] = set()
    many, shown, golfers = (
        are_many(rows),
        set(sample_of_golfers(rows, posture, _MOST_LINES)),
        rows["golfer"].nunique(),
    )
    for golfer, own in rows.groupby("golfer", sort=True):
        name = str(own[group].iloc[0]) if group else ""
        colour, marker = look[name]
        y = own["step"] + _SPREAD * (2 * (_TURN * np.arange(1, len(own) + 1) % 1) - 1)
        ax.plot(own[posture], y, marker, ms=3.2, color=colour, alpha=0.08 if many else 0.35, mew=0,
                ls="none", rasterized=many)  # fmt: skip
        if not many:
            name_rows(ax, own, own[posture], y, posture, outcome)
        if str(golfer) not in shown:
            continue
        means = own.groupby("step")[posture].mean()
        words = f"mean of a golfer{f', {name}' if name else ''}"
        ax.plot(means, means.index, marker, ls="-", lw=1.2, ms=7, color=colour, mec="white", mew=1.0,
                label=None if name in named else words)  # fmt: skip
        named.add(name)
    of = f", {len(shown)} of {golfers} golfers" if len(shown) < golfers else ""
    ax.plot([], [], "-", color=GREY, lw=1.2, label=f"connects a golfer's means{of}")
    name_steps(ax)
    ax.set_xlabel(axis_text(posture))
    ax.set_ylabel(axis_text(outcome))
    legend_above(ax)
    plain(ax)
    return ax
