"""Figures of a very large number of swings: a density instead of single marks, and a sample of the golfers."""

from __future__ import annotations

import numpy as np
import pandas as pd
from matplotlib.axes import Axes

#: With more swings than this, a density is drawn instead of a mark for each swing.
MOST_SWINGS = 2_000
#: With more golfers than this, only a sample of the golfers is drawn.
MOST_GOLFERS = 40


def are_many(rows: pd.DataFrame) -> bool:
    """Return whether a table has too many rows (swings) to draw a mark for each."""
    return len(rows) > MOST_SWINGS


def draw_density(ax: Axes, x: np.ndarray | pd.Series, y: np.ndarray | pd.Series) -> None:
    """Draw swings as a two-dimensional histogram, darker where there are more; a bitmap keeps the file small."""
    import seaborn as sns  # loaded here because it is slow, and needed only with many swings

    grey = sns.light_palette("#303030", as_cmap=True)
    sns.histplot(
        x=np.asarray(x, float), y=np.asarray(y, float), bins=48, cmap=grey, ax=ax, zorder=0, rasterized=True
    )


def sample_of_golfers(rows: pd.DataFrame, value: str, most: int = MOST_GOLFERS) -> list[str]:
    """Return the golfers that are drawn, sorted by name: all golfers, or a sample of `most` of them.

    The sample is evenly spaced in the order of the golfers' means of the column `value`.

    Examples
    --------
    >>> swings = pd.DataFrame({"golfer": ["G4", "G1", "G2", "G3"], "low": [4.0, 1.0, 2.0, 3.0]})
    >>> sample_of_golfers(swings, "low"), sample_of_golfers(swings, "low", most=2)
    (['G1', 'G2', 'G3', 'G4'], ['G1', 'G4'])
    """
    means = rows.groupby(rows["golfer"].astype(str))[value].mean().sort_values(kind="stable")
    if len(means) <= most:
        return sorted(means.index)
    places = np.linspace(0, len(means) - 1, most).round().astype(int)
    return sorted(means.index[places])
