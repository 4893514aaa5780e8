"""Figure of a specification curve: the answer to a hunch under every combination of choices of analysis."""

from __future__ import annotations

import re

import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from swinglab import columns
from swinglab.figures.style import COLOURS, GREY, plain


def _in_order(words: str) -> list[str | float]:
    """Return a sort key by which numbers in a text are ordered by size: 6 Hz before 10 Hz."""
    return [float(part) if part.isdigit() else part for part in re.split(r"(\d+)", words)]


def _covariates(names: str) -> str:
    """Return the labels of covariates as text; "nothing" if there are none."""
    known = (
        columns.column(name).label.lower() if columns.is_column(name) else name for name in names.split(", ")
    )
    return ", ".join(known) or "nothing"


def draw_specifications(
    table: pd.DataFrame, *, median: float, unit: str = "", smallest_effect: float | None = None
) -> Axes:
    """Draw the estimates of a specification curve in rising order and, below them, the choices of each.

    Parameters
    ----------
    table : DataFrame
        The field `table` of a `SpecificationCurve`, with estimate, ci_low, ci_high and the choices.
    median : float
        Median of the estimates.
    unit : str
        Unit of the outcome.
    smallest_effect : float, optional
        Smallest effect that matters, drawn as a band around 0.

    Returns
    -------
    Axes
        The upper panel, with the estimates.
    """
    choices = [
        (name, value)
        for name in ("processing", "angles", "adjust", "correction")
        for value in sorted(set(table[name]), key=_in_order)
        if table[name].nunique() > 1
    ]
    figure = Figure(figsize=(8.0, 3.4 + 0.24 * len(choices)), layout="constrained")
    upper, lower = figure.subplots(2, 1, sharex=True, height_ratios=[3.0, 0.3 + 0.24 * len(choices)])
    x = np.arange(len(table))
    corrected = (table["correction"] == "corrected for error").to_numpy()
    whole = (table["left_out"] == "").to_numpy() & ~corrected
    left = ~whole & ~corrected
    upper.vlines(x, table["ci_low"], table["ci_high"], color="#c9c9c9", lw=0.8)
    upper.plot(x[left], table["estimate"][left], ".", color=GREY, ms=4, label="one golfer left out")
    upper.plot(x[whole], table["estimate"][whole], "o", color=COLOURS[0], ms=5, label="all golfers")
    if corrected.any():
        upper.plot(
            x[corrected], table["estimate"][corrected], "D", color=COLOURS[1], mfc="white", ms=5,
            label="all golfers, corrected for error",
        )  # fmt: skip
    upper.axhline(0.0, color="black", lw=0.9)
    upper.axhline(median, color=COLOURS[1], lw=1.0, ls="--", label="median as measured")
    if smallest_effect:
        upper.axhspan(
            -smallest_effect, smallest_effect, color=GREY, alpha=0.12, lw=0, label="too small to matter"
        )
    upper.set_ylabel(f"change of the strike{f' ({unit})' if unit else ''}\nfor 10 units more")
    upper.legend(frameon=False, fontsize=8, ncols=3, loc="lower center", bbox_to_anchor=(0.5, 1.0))
    for place, (name, value) in enumerate(choices):
        made = (table[name] == value).to_numpy()
        lower.plot(x[made], np.full(made.sum(), -place), "|", color="black", ms=6)
        if place and choices[place - 1][0] != name:
            lower.axhline(0.5 - place, color=GREY, lw=0.6)
    words = [value if name != "adjust" else f"adjusted: {_covariates(value)}" for name, value in choices]
    lower.set_yticks(-np.arange(len(choices)), words, fontsize=8)
    lower.set_ylim(-len(choices) + 0.4, 0.6)
    lower.set_xlabel(f"{len(table)} ways to calculate the answer, from the smallest to the largest")
    for axes in (upper, lower):
        plain(axes)
    return upper
