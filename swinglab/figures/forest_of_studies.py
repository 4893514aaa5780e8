"""Forest plot of a meta-analysis: slopes of several studies and their combination."""

from __future__ import annotations

import numpy as np
import pandas as pd
from matplotlib.axes import Axes

from swinglab.figures.style import COLOURS, GREY, new_axes, plain


def draw_studies(
    table: pd.DataFrame, *, estimate: float, interval: tuple[float, float], prediction: tuple[float, float],
    unit: str = "", ax: Axes | None = None,
) -> Axes:  # fmt: skip
    """Draw each study's slope with its interval, the combined slope, and the prediction interval of a new study.

    Parameters
    ----------
    table : DataFrame
        One row for each study, with the columns study, estimate, ci_low, ci_high, weight (0 to 1), n_golfers,
        n_swings.
    estimate, interval, prediction : float, (low, high), (low, high)
        Combined estimate, its confidence interval, and the prediction interval, which is not drawn if it is NaN.
    unit : str
        Unit of the outcome.
    ax : Axes, optional
        Axes to draw on; by default those of a new figure.
    """
    ax = new_axes(ax, width=7.2, height=1.6 + 0.42 * (len(table) + 2))
    number = len(table)
    for place, row in enumerate(table.to_dict("records")):
        y = number - place
        ax.plot([row["ci_low"], row["ci_high"]], [y, y], "-", color=GREY, lw=1.4)
        ax.plot(row["estimate"], y, "s", color=COLOURS[0], ms=4 + 10 * np.sqrt(row["weight"]), mec="white")
    ax.plot(list(interval), [0, 0], "-", color="black", lw=2.6)
    ax.plot(estimate, 0, "D", color="black", ms=8, mec="white")
    words = [
        f"{row['study']}\n({row['n_golfers']} golfers, {row['n_swings']} swings)"
        for row in table.to_dict("records")
    ]
    labels, places = [*words, "combined"], [*range(number, 0, -1), 0]
    if np.isfinite(prediction).all():
        ax.plot(list(prediction), [-1, -1], "-", color=COLOURS[1], lw=1.6)
        labels, places = [*labels, "prediction for a new study"], [*places, -1]
    ax.axvline(0.0, color="black", lw=0.8)
    ax.set_yticks(places, labels, fontsize=8)
    ax.set_ylim(min(places) - 0.7, number + 0.7)
    ax.set_xlabel(f"change of the strike{f' ({unit})' if unit else ''} for 10 units more; bars: 95 %")
    plain(ax)
    return ax
