"""Selection of representative swings: the one nearest a mean, and those with the smallest and largest value."""

from __future__ import annotations

import numpy as np
import pandas as pd


def typical_swing(rows: pd.DataFrame, column: str) -> str:
    """Return the name of the swing whose value of a column is nearest the mean of the rows.

    If no row has a value it is the first swing; "" without rows.
    """
    if rows.empty:
        return ""
    known = rows.dropna(subset=[column]) if column in rows.columns else rows.iloc[:0]
    if known.empty:
        return str(rows["swing"].iloc[0])
    values = known[column].to_numpy(float)
    return str(known["swing"].iloc[int(np.abs(values - values.mean()).argmin())])


def least_and_most(rows: pd.DataFrame, column: str) -> tuple[str, ...]:
    """Return the names of the swings with the smallest and the largest value of a column.

    There are fewer than two names if fewer than two swings have a value.
    """
    if column not in rows.columns:
        return ()
    known = rows.dropna(subset=[column]).sort_values(column, kind="stable")
    ends = known["swing"].iloc[[0, -1]] if len(known) > 1 else known["swing"]
    return tuple(str(swing) for swing in ends)


def golfer_with_most_swings(table: pd.DataFrame) -> str:
    """Return the golfer with most rows of a swing table; of several such golfers, the first by name."""
    return str(table["golfer"].value_counts().sort_index(kind="stable").idxmax())
