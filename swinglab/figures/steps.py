"""Contact in words as three steps of an axis, from fat to thin."""

from __future__ import annotations

import pandas as pd
from matplotlib.axes import Axes

from swinglab.conventions import CONTACTS


def contact_steps(values: pd.Series) -> pd.Series:
    """Return contact in words as 0 (fat), 1 (clean) and 2 (thin); NaN for any other word."""
    return values.map({word: float(step) for step, word in enumerate(CONTACTS)}).astype(float)


def name_steps(ax: Axes) -> None:
    """Label the steps of the vertical axis with their words."""
    ax.set_yticks(range(len(CONTACTS)), CONTACTS)
    ax.set_ylim(-0.5, len(CONTACTS) - 0.5)
