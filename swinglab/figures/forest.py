"""Forest plot: estimates of the answer to one question by several methods, each with its interval."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from matplotlib.axes import Axes

from swinglab.conventions import UNBOUNDED
from swinglab.errors import BadTable
from swinglab.figures.style import COLOURS, GREY, TEXT, new_axes, plain


class Row(NamedTuple):
    """One row of a forest plot.

    words : label. estimate, low, high : estimate and its limits. weight : "judged" (primary method), "companion"
    (supplementary method) or "other" (estimate of another quantity, such as log odds).
    """

    words: str
    estimate: float
    low: float
    high: float
    weight: str = "companion"


_LOOKS = {
    "judged": ("o", COLOURS[0], COLOURS[0], 2.6),
    "companion": ("o", COLOURS[0], "white", 1.4),
    "other": ("s", GREY, "white", 1.4),
}


def draw_forest(
    rows: Sequence[Row], *, axis: str = "", smallest_effect: float = float("nan"), ax: Axes | None = None
) -> Axes:
    """Draw a forest plot of estimates with intervals, one row for each method; the primary method has a filled mark.

    Parameters
    ----------
    rows : sequence of Row
        From top to bottom. A row without limits, or with extremely wide limits, is drawn as a mark only; a row without
        an estimate is left out.
    axis : str
        Label of the horizontal axis.
    smallest_effect : float
        Smallest effect that matters, drawn as two dotted lines; NaN if it is not known.
    ax : Axes, optional
        Axes to draw on; by default those of a new figure.

    Returns
    -------
    Axes

    Raises
    ------
    BadTable
        No row has an estimate.
    """
    shown = [row for row in rows if np.isfinite(row.estimate)]
    if not shown:
        raise BadTable(
            "there is nothing to draw, because no method gave an estimate",
            do="choose a question that has an answer",
        )
    ax = new_axes(ax, height=0.75 + 0.235 * len(shown))
    for place, row in enumerate(shown):
        marker, colour, face, width = _LOOKS[row.weight]
        if np.all(np.abs([row.low, row.high]) < UNBOUNDED):
            ax.plot([row.low, row.high], [place, place], "-", color=colour, lw=width, solid_capstyle="butt")
        ax.plot(row.estimate, place, marker, ms=6.5, mfc=face, mec=colour, mew=1.4)
    ax.axvline(0.0, color="black", lw=0.9)
    if np.isfinite(smallest_effect):
        for side in (-1, 1):
            ax.axvline(side * smallest_effect, color=GREY, lw=1.0, ls=":")
    ax.set_yticks(range(len(shown)), [row.words for row in shown])
    ax.set_ylim(len(shown) - 0.4, -0.6)
    ax.set_xlabel(axis)
    plain(ax)
    ax.spines["left"].set_visible(False)
    ax.tick_params(axis="y", length=0)
    for place, row in enumerate(shown):
        if row.weight == "judged":
            ax.get_yticklabels()[place].set_fontweight("bold")
    ax.xaxis.label.set_fontsize(TEXT)
    return ax
