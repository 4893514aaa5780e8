"""Common style of all figures: colours that colour-blind readers can distinguish, shapes of marks, and layout."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from typing import Any

import matplotlib
import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.text import Text

from swinglab.conventions import OTHER_UNITS

#: Colours that colour-blind readers can distinguish; those with most contrast to white come first. They are
#: seaborn's palette "colorblind", written out because importing seaborn takes a second.
COLOURS = ("#0173b2", "#d55e00", "#029e73", "#cc78bc", "#56b4e9", "#de8f05", "#ca9161")
MARKERS = ("o", "s", "^", "D", "v", "P", "X")
GREY = "#595959"
#: Size of all text in points. On a phone, a figure of the usual width is shown at 0.85 of its size; its text
#: is then still 11 pixels high or more.
TEXT = 10.0
#: Legend of swings that belong to no phase.
UNPHASED = "no phase"
FAINT = "#b5b5b5"

#: Short names of events, for figures with many events.
EVENT_SHORT = {
    "address": "address", "takeaway": "takeaway", "shaft_horizontal_back": "shaft level, back",
    "lead_arm_horizontal_back": "arm level, back", "pelvis_reversal": "pelvis turns back", "top": "top",
    "lead_arm_horizontal_down": "arm level, down", "shaft_45_down": "shaft 45 deg, down",
    "shaft_horizontal_down": "delivery", "impact": "impact", "shaft_horizontal_through": "shaft level, through",
    "trail_arm_horizontal_through": "arm level, through", "finish": "finish",
}  # fmt: skip


class PlainTextFigure(Figure):
    """A figure whose text is drawn literally: `$` in names of groups and golfers is not read as mathematics."""

    def draw(self, renderer: Any) -> None:
        """Draw the figure without reading its text as mathematics, also if the text contains `$` or `\\`."""
        for text in self.findobj(Text):
            text.set_parse_math(False)
        with matplotlib.rc_context({"text.parse_math": False}):  # tick labels are made while drawing
            super().draw(renderer)


def new_axes(ax: Axes | None, *, width: float = 4.4, height: float = 3.5) -> Axes:
    """Return `ax` or, if it is None, the axes of a new figure with this width and height in inches.

    The figure is not registered with pyplot, so no window opens and it need not be closed.
    """
    if ax is not None:
        return ax
    return PlainTextFigure(figsize=(width, height), layout="constrained").add_subplot()


def group_look(names: list[str]) -> dict[str, tuple[str, str]]:
    """Return name -> (colour, marker) for groups; the colours are assigned in the order given."""
    return {name: (COLOURS[i % len(COLOURS)], MARKERS[i % len(MARKERS)]) for i, name in enumerate(names)}


def phase_look(names: list[str]) -> dict[str, tuple[str, str]]:
    """Return name -> (colour, marker) for phases in the order of play; swings without a phase are grey."""
    phases = group_look([name for name in names if name])
    return {name: phases.get(name, (GREY, "X")) for name in names}


def look_of(column: str | None, values: Sequence[str]) -> dict[str, tuple[str, str]]:
    """Return value -> (colour, marker) for a column: phases in the order of play, other values sorted by name."""
    if column in ("phase", "session"):
        return phase_look(list(dict.fromkeys(values)))
    return group_look(sorted(set(values))) if column else group_look([""])


def spread(place: float, number: int, width: float = 0.56) -> np.ndarray:
    """Return `number` positions around `place` on an axis, so that marks of several swings do not overlap.

    `width` : distance of the first from the last position, in data units.
    """
    return place + width * (np.arange(number) - (number - 1) / 2) / max(number - 1, 1)


def mark_reference(ax: Axes, rows: pd.DataFrame, value: str, group: str) -> None:
    """Draw the means of the golfers of a reference group as short lines at the right edge.

    `rows` : the swings of the group. `value` : column that is drawn. `group` : name of the group, for the legend. With
    several clubs, only the club with most swings is used, and the legend names it.
    """
    club = ""
    if "club" in rows and rows["club"].nunique() > 1:
        common = rows["club"].value_counts().index[0]
        rows, club = rows[rows["club"] == common], f", {common}"
    means = rows.groupby("golfer")[value].mean().dropna()
    width = 1.2 if len(means) <= 40 else 0.2
    for number, mean in enumerate(means):
        ax.plot([0.955, 1.0], [mean, mean], color="black", lw=width, transform=ax.get_yaxis_transform(),
                label=None if number else f"each golfer of {group} (reference{club})", zorder=0)  # fmt: skip


def legend_above(ax: Axes, *, ncols: int = 1) -> None:
    """Draw the legend above the axes, if the figure has labels; `ncols` : number of columns of the legend."""
    if ax.get_legend_handles_labels()[0]:
        ax.legend(
            frameon=False, fontsize=TEXT, loc="lower left", bbox_to_anchor=(-0.02, 1.0), ncols=ncols,
            borderaxespad=0.2, handletextpad=0.5, columnspacing=1.2,
        )  # fmt: skip


def add_units(ax: Axes, unit: str, also: Sequence[str]) -> Axes:
    """Add a second vertical scale at the right edge for each unit in `also` to which `unit` can be converted.

    `unit` : unit of the vertical axis. `also` : further units that the study names by `units` under [report] in
    study.toml.
    """
    for name in also:
        its_unit, factor = OTHER_UNITS[name]
        if its_unit == unit:
            other = ax.secondary_yaxis(
                "right", functions=(partial(np.multiply, factor), partial(np.multiply, 1 / factor))
            )
            other.set_ylabel(name, fontsize=TEXT)
            other.tick_params(labelsize=TEXT)
    return ax


def plain(ax: Axes) -> None:
    """Remove frame lines and ticks that carry no information, and set all text to one size."""
    ax.spines[["top", "right"]].set_visible(False)
    ax.tick_params(labelsize=TEXT)
    ax.xaxis.label.set_fontsize(TEXT)
    ax.yaxis.label.set_fontsize(TEXT)
