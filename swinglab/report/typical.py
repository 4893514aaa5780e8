"""Selection of representative swings: nearest to a mean, and with the least and the most of a value."""

from __future__ import annotations

import numpy as np
import pandas as pd


def typical_swing(rows: pd.DataFrame, column: str) -> str:
    """Return the swing whose value is nearest the rows' mean; the first where none has a value, "" without rows."""
    if rows.empty:
        return ""
    known = rows.dropna(subset=[column]) if column in rows.columns else rows.iloc[:0]
    if known.empty:
        return str(rows["swing"].iloc[0])
    values = known[column].to_numpy(float)
    return str(known["swing"].iloc[int(np.abs(values - values.mean()).argmin())])


def least_and_most(rows: pd.DataFrame, column: str) -> tuple[str, ...]:
    """The swings with the least and the most of a column; fewer where fewer have a value."""
    if column not in rows.columns:
        return ()
    known = rows.dropna(subset=[column]).sort_values(column, kind="stable")
    ends = known["swing"].iloc[[0, -1]] if len(known) > 1 else known["swing"]
    return tuple(str(swing) for swing in ends)


def golfer_with_most_swings(table: pd.DataFrame) -> str:
    """The golfer with most rows, the first by name among equals."""
    return str(table["golfer"].value_counts().sort_index(kind="stable").idxmax())
