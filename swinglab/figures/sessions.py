"""Figure of one golfer's swings by session."""

from __future__ import annotations

import numpy as np
import pandas as pd
from matplotlib.axes import Axes

from swinglab.figures.style import COLOURS, FAINT, new_axes, plain, spread


def draw_sessions(
    means: pd.DataFrame, swings: pd.DataFrame, *, column: str, label: str, ax: Axes | None = None
) -> Axes:
    """Draw the swings of one golfer by session, with mean, its 95 % limits, and SD of each session.

    Parameters
    ----------
    means : DataFrame
        Result of `answers.session_means`, with the columns session, swings, mean, sd, low, high.
    swings : DataFrame
        The golfer's swings, with the columns session and `column`.
    column, label : str
        Column that is drawn, and label of its axis.
    ax : Axes, optional
        Axes to draw on; by default those of a new figure.
    """
    ax = new_axes(ax, width=6.8, height=3.6)
    for place, row in enumerate(means.to_dict("records")):
        own = swings.loc[swings["session"] == row["session"], column].dropna().to_numpy(float)
        ax.plot(spread(place, len(own)), own, ".", color=FAINT, ms=4, zorder=1,
                label="swings, in the order of play" if place == 0 else "_")  # fmt: skip
        if np.isfinite(row["sd"]):
            ax.fill_between([place - 0.34, place + 0.34], row["mean"] - row["sd"], row["mean"] + row["sd"],
                            color=COLOURS[0], alpha=0.12, lw=0,
                            label="own spread (1 SD)" if place == 0 else "_")  # fmt: skip
        limits = [[row["mean"] - row["low"]], [row["high"] - row["mean"]]]
        ax.errorbar(place, row["mean"], yerr=limits, fmt="o", color=COLOURS[0], ms=8, mec="white", lw=2,
                    capsize=4, zorder=3, label="mean and its 95 % limits" if place == 0 else "_")  # fmt: skip
    words = [f"{row['session']}\n({row['swings']} swings)" for row in means.to_dict("records")]
    ax.set_xticks(range(len(means)), words, fontsize=9)
    ax.set_xlim(-0.6, len(means) - 0.4)
    ax.set_ylabel(label)
    ax.legend(frameon=False, fontsize=8, ncols=3, loc="lower center", bbox_to_anchor=(0.5, 1.0))
    plain(ax)
    return ax
