"""Figures and words on the order of peak turning speeds: times with intervals, and the probability of the order."""

from __future__ import annotations

import numpy as np
import pandas as pd

from swinglab import figures
from swinglab.errors import BadTable
from swinglab.figures.peaks import PARTS, half_width, time_column
from swinglab.report.pictures import Drawn
from swinglab.report.wording import count, value_text

#: Order of the peaks whose probability is given.
ORDER = "pelvis, thorax, lead arm, club"
_PROBABILITY = "peak_order_probability"


def _share(probability: float) -> str:
    """Return a probability as text; it is estimated from random errors, so it is never given as 0 or 1."""
    if probability < 0.01:
        return "below 0.01"
    return "above 0.99" if probability > 0.99 else f"{probability:.2f}"


def swing_peaks(swing: pd.Series) -> Drawn | None:
    """Return a figure of the times of peak turning speeds in one swing; None if none was measured.

    swing : row of the swing table.
    """
    try:
        axes = figures.draw_swing_peaks(swing)
    except BadTable:
        return None
    known = [part for part in PARTS if np.isfinite(swing.get(time_column(part), np.nan))]
    times = ", ".join(f"{PARTS[part]} {value_text(1000 * swing[time_column(part)], 'ms')}" for part in known)
    probability = float(swing.get(_PROBABILITY, np.nan))
    sure = (
        f"Given the errors of these times, the probability of the order {ORDER} is {_share(probability)}."
        if np.isfinite(probability)
        else f"The probability of the order {ORDER} cannot be given, because the errors of these times are not known."
    )
    alt = f"Times of the peak turning speeds of swing {swing.get('swing', '')} from impact: {times} (ms)."
    return Drawn(axes, alt, f"Dots: time at which each part turns fastest; lines: 95 % intervals. {sure}")


def golfer_peaks(table: pd.DataFrame) -> list[tuple[str, Drawn]]:
    """Return a figure of the times of peak turning speeds by golfer, as a list of (name, figure).

    The list is empty if no swing has peak turning speeds. table : the swing table.
    """
    try:
        axes = figures.draw_golfer_peaks(table)
    except BadTable:
        return []
    means = {
        words: 1000 * table.groupby("golfer")[time_column(part)].mean().dropna()
        for part, words in PARTS.items()
        if time_column(part) in table
    }
    times = ", ".join(
        f"{words} {value_text(own.mean(), 'ms')} [{value_text(own.mean() - half, 'ms')}, "
        f"{value_text(own.mean() + half, 'ms')}]"
        for words, own in means.items()
        if np.isfinite(half := float(half_width(own.std(), len(own))))
    )
    alt = (
        f"Times of the peak turning speeds from impact, golfer by golfer; means of the golfers: {times} (ms)."
    )
    own = (
        table.groupby("golfer")[_PROBABILITY].mean().dropna()
        if _PROBABILITY in table
        else pd.Series(dtype=float)
    )
    sure = (
        f" Given the errors of these times, the probability that a swing's peaks come in the order {ORDER} is "
        f"{_share(own.mean())} on average over {count(len(own), 'golfer')} (from {_share(own.min())} to "
        f"{_share(own.max())} by golfer)."
        if len(own)
        else ""
    )
    caption = (
        "Dots: golfers' means; bars, drawn if there are few golfers: 95 % intervals from their own swings. Diamonds: "
        f"mean over the golfers with its 95 % interval.{sure}"
    )
    return [("peak_times", Drawn(axes, alt, caption))]
