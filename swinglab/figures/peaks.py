"""Figures of the times at which the angular velocities of pelvis, thorax, lead arm and club are largest."""

from __future__ import annotations

import numpy as np
import pandas as pd
import scipy.special
from matplotlib.axes import Axes

from swinglab.columns import error_column_name
from swinglab.errors import BadTable
from swinglab.figures.style import COLOURS, new_axes, plain, spread

#: Body parts and club, in order from the ground -> their labels.
PARTS = {"pelvis": "pelvis", "thorax": "thorax", "lead_arm": "lead arm", "club": "club"}
#: With more golfers than this, no intervals of single golfers are drawn.
MOST_INTERVALS = 20
_LEVEL = 0.975
_MS = 1000.0


def time_column(part: str) -> str:
    """Return the column of the swing table with the time of the peak angular velocity of a part, such as "pelvis"."""
    return f"{part}_peak_axial_speed_time_s"


def draw_swing_peaks(swing: pd.Series, *, ax: Axes | None = None) -> Axes:
    """Draw the times of the peak angular velocities of one swing, each with its 95 % interval.

    Parameters
    ----------
    swing : pandas.Series
        A row of the swing table.
    ax : Axes, optional
        Axes to draw on; by default those of a new figure.

    Returns
    -------
    Axes
        Time in ms from impact, negative before impact; one row for each part, with the angular velocity at its peak.

    Raises
    ------
    BadTable
        No peak was found.
    """
    known = [part for part in PARTS if np.isfinite(swing.get(time_column(part), np.nan))]
    if not known:
        raise BadTable(
            "there is nothing to draw, because this swing has no peak of an angular velocity",
            do="choose another swing",
        )
    ax = _rows(ax, [f"{PARTS[part]}\n{swing[f'{part}_peak_axial_speed_dps']:.0f} deg/s" for part in known])
    for place, part in enumerate(known):
        time = _MS * float(swing[time_column(part)])
        error = _MS * float(swing.get(error_column_name(time_column(part)), np.nan))
        if np.isfinite(error):
            half = float(scipy.special.ndtri(_LEVEL)) * error
            ax.plot([time - half, time + half], [place, place], "-", color=COLOURS[0], lw=2.0)
        ax.plot(time, place, "o", color=COLOURS[0], ms=7)
    return ax


def draw_golfer_peaks(table: pd.DataFrame, *, ax: Axes | None = None) -> Axes:
    """Draw the times of the peak angular velocities of each golfer, and their mean over golfers.

    Parameters
    ----------
    table : pandas.DataFrame
        The swing table.
    ax : Axes, optional
        Axes to draw on; by default those of a new figure.

    Returns
    -------
    Axes
        Time in ms from impact, negative before impact. For each part, a mark for every golfer's mean, with a 95 %
        interval from the golfer's swings (not drawn with more than `MOST_INTERVALS` golfers), and a mark for the mean
        over golfers with its 95 % interval.

    Raises
    ------
    BadTable
        No peak was found in any swing.
    """
    known = [part for part in PARTS if table.get(time_column(part), pd.Series(dtype=float)).notna().any()]
    if not known:
        raise BadTable(
            "there is nothing to draw, because no swing has a peak of an angular velocity",
            do="choose swings in which top and impact were found",
        )
    ax = _rows(ax, [PARTS[part] for part in known], each=0.75)
    for place, part in enumerate(known):
        times = _MS * table[time_column(part)]
        means = (
            times.groupby(table["golfer"])
            .agg(["mean", "std", "count"])
            .dropna(subset="mean")
            .sort_values("mean")
        )
        heights = spread(place, len(means), 0.5)
        if len(means) <= MOST_INTERVALS:
            half = half_width(means["std"].to_numpy(), means["count"].to_numpy())
            for height, mean, own in zip(heights, means["mean"], half, strict=True):
                ax.plot([mean - own, mean + own], [height, height], "-", color=COLOURS[0], lw=1.0, alpha=0.6)
        ax.plot(
            means["mean"], heights, "o", color=COLOURS[0], ms=4, label=None if place else "a golfer's mean"
        )
        mean, half_all = float(means["mean"].mean()), half_width(means["mean"].std(), len(means))
        if np.isfinite(half_all):
            ax.plot([mean - half_all, mean + half_all], [place + 0.38] * 2, "-", color="black", lw=2.2)
        ax.plot(
            mean, place + 0.38, "D", color="black", ms=5.5, label=None if place else "mean of the golfers"
        )
    ax.legend(
        frameon=False, fontsize=9, loc="lower left", bbox_to_anchor=(-0.02, 1.0), ncols=2, borderaxespad=0.2
    )
    return ax


def half_width(spread_of: np.ndarray | float, number: np.ndarray | int) -> np.ndarray:
    """Return half the width of a 95 % t interval of a mean; NaN for one value.

    `spread_of` : standard deviation of the values. `number` : number of values.
    """
    number = np.asarray(number, float)
    with np.errstate(invalid="ignore"):
        return scipy.special.stdtrit(np.maximum(number - 1, 1), _LEVEL) * spread_of / np.sqrt(number)


def _rows(ax: Axes | None, words: list[str], each: float = 0.5) -> Axes:
    ax = new_axes(ax, height=1.0 + each * len(words))
    ax.axvline(0.0, color="black", lw=0.9)
    ax.set_yticks(range(len(words)), words)
    ax.set_ylim(len(words) - 0.4, -0.6)
    ax.set_xlabel("Time of peak turning speed from impact (ms)\n- before, + after")
    plain(ax)
    ax.spines["left"].set_visible(False)
    ax.tick_params(axis="y", length=0)
    return ax
