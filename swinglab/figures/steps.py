"""Contact in words (fat, clean, thin) as three positions of an axis."""

from __future__ import annotations

import pandas as pd
from matplotlib.axes import Axes

from swinglab.conventions import CONTACTS


def contact_steps(values: pd.Series) -> pd.Series:
    """Return the words fat, clean and thin as 0, 1 and 2; NaN for any other word."""
    return values.map({word: float(step) for step, word in enumerate(CONTACTS)}).astype(float)


def name_steps(ax: Axes) -> None:
    """Label the positions 0, 1 and 2 of the vertical axis with fat, clean and thin."""
    ax.set_yticks(range(len(CONTACTS)), CONTACTS)
    ax.set_ylim(-0.5, len(CONTACTS) - 0.5)
