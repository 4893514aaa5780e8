"""Figure of a curve of differences or slopes over time with simultaneous confidence limits."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from matplotlib.axes import Axes

from swinglab.figures.style import COLOURS, GREY, new_axes, plain


def draw_curve_test(
    time_s: np.ndarray, estimate: np.ndarray, limits: tuple[np.ndarray, np.ndarray], *,
    stretches: Sequence[tuple[float, float]] = (), events: dict[str, float] | None = None, label: str = "",
    ax: Axes | None = None,
) -> Axes:  # fmt: skip
    """Draw a curve of differences or slopes, its simultaneous limits, and the times at which the limits exclude 0.

    Parameters
    ----------
    time_s, estimate : numpy.ndarray, (n,)
        Times in s from impact, and values of the curve; missing values are drawn as gaps.
    limits : (low, high), each (n,)
        Simultaneous 95 % confidence limits.
    stretches : sequence of (first, last)
        Time intervals in which the limits exclude 0, in s from impact; they are marked along the horizontal axis.
    events : dict, optional
        Short name of an event -> its usual time in s, drawn for orientation.
    label : str
        Label of the vertical axis.
    ax : Axes, optional
        Axes to draw on; by default those of a new figure.
    """
    ax = new_axes(ax, width=7.2, height=3.8)
    ms = 1e3 * np.asarray(time_s, float)
    ax.fill_between(
        ms, limits[0], limits[1], color=COLOURS[0], alpha=0.2, lw=0, label="95 % for all times together"
    )
    ax.plot(ms, estimate, "-", color=COLOURS[0], lw=1.8, label="estimate")
    ax.axhline(0.0, color="black", lw=0.9)
    bottom = ax.get_ylim()[0]
    for number, (first, last) in enumerate(stretches):
        ax.plot(
            [1e3 * first, 1e3 * last], [bottom, bottom], "-", color=COLOURS[1], lw=5, solid_capstyle="butt",
            label="limits exclude 0" if number == 0 else "_",
        )  # fmt: skip
    for name, at in (events or {}).items():
        ax.axvline(1e3 * at, color=GREY, lw=0.8, ls=":")
        ax.annotate(name, (1e3 * at, 1.0), xycoords=("data", "axes fraction"), xytext=(2, -2),
                    textcoords="offset points", rotation=90, fontsize=7, va="top", color=GREY)  # fmt: skip
    ax.set_xlim(ms[0], ms[-1])
    ax.set_xlabel("time from impact (ms)")
    ax.set_ylabel(label)
    ax.legend(frameon=False, fontsize=8, ncols=3, loc="lower center", bbox_to_anchor=(0.5, 1.0))
    plain(ax)
    return ax
