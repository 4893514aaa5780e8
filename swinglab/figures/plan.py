"""Figure for planning a study: power by numbers of golfers and swings."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from matplotlib.axes import Axes

from swinglab.figures.style import COLOURS, GREY, MARKERS, new_axes, plain


def draw_plan(
    chances: Mapping[int, Sequence[tuple[int, float]]],
    *,
    chosen: tuple[int, float, float, float] | None = None,
    wanted: float = 0.8,
    ax: Axes | None = None,
) -> Axes:
    """Draw the probability that a study gives a clear answer against the number of golfers.

    There is one line for each number of swings.

    Parameters
    ----------
    chances : mapping
        Number of swings of each golfer in a session -> pairs (number of golfers, probability), sorted by golfers.
    chosen : (golfers, probability, low, high), optional
        A plan that is marked, with the range of its probability that follows from the uncertainty of the variances.
    wanted : float
        Desired probability, drawn as a dotted line.
    ax : Axes, optional
        Axes to draw on; by default those of a new figure.
    """
    ax = new_axes(ax, width=5.0, height=4.4)
    for number, (swings, line) in enumerate(chances.items()):
        colour, marker = COLOURS[number % len(COLOURS)], MARKERS[number % len(MARKERS)]
        golfers, chance = zip(*line, strict=True)
        ax.plot(golfers, chance, "-", color=colour, marker=marker, ms=5, mec="white",
                markevery=max(1, len(line) // 8), label=f"{swings} swings")  # fmt: skip
    if chosen is not None:
        number, middle, low, high = chosen
        ends = np.array([[max(middle - low, 0.0)], [max(high - middle, 0.0)]])
        ax.errorbar(number, middle, yerr=ends, fmt="*", ms=14, color="black", capsize=5, lw=1.4, zorder=5,
                    label="this plan, with its uncertainty")  # fmt: skip
    ax.axhline(wanted, ls=":", color=GREY, lw=1.2)
    ax.text(ax.get_xlim()[0], wanted + 0.01, f" {wanted:.0%}", fontsize=8, color=GREY)
    ax.set_ylim(0.0, 1.02)
    ax.set_xlabel("golfers")
    ax.set_ylabel("probability that the question is settled")
    ax.legend(frameon=False, fontsize=8, title="of each golfer in a session", title_fontsize=8,
              loc="lower center", bbox_to_anchor=(0.5, 1.0), ncols=2)  # fmt: skip
    plain(ax)
    return ax
