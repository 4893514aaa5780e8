"""Measurement methods of the swings of a question (such as markers or video), if they differ between swings."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd

from swinglab import columns
from swinglab.finding_words import Note

#: Body parts whose quantities depend on how the pelvis frame was measured, and on how the thorax frame was.
_TRUNK = ("pelvis", "trunk", "pelvis_thorax", "lead_hip", "trail_hip")
_CHEST = ("thorax", "trunk", "pelvis_thorax", "neck", "lead_shoulder", "trail_shoulder")


def measured_ways(rows: pd.DataFrame, *, names: Sequence[str], event: str | None) -> np.ndarray | None:
    """Return the measurement method of each row as text, shape (n,); None if all rows have the same method.

    Parameters
    ----------
    rows : pandas.DataFrame
        Rows of the swing table.
    names : sequence of str
        Quantities or columns of the question; columns that swinglab does not define are ignored.
    event : str, optional
        Event at which a posture is read.
    """
    known = [columns.column(name) for name in names if columns.is_column(name)]
    own = [
        column
        for column in known
        if column.kind in ("posture", "swing", "strike") or column.name == "contact"
    ]
    across = any(column.quantity == "pelvis_ahead_of_thorax_cm" for column in own)
    bears = {
        "capture_kind": bool(own),
        "pelvis_frame_method": across or any(column.part in _TRUNK for column in own),
        "thorax_frame_method": across or any(column.part in _CHEST for column in own),
        "arm_method": "arm_horizontal" in (event or ""),
        "ball_method": any(needs_ball(column) for column in own),
        "impact_method": event == "impact" or any(column.kind == "strike" for column in own),
    }
    differ = [name for name, bear in bears.items() if bear and name in rows and rows[name].nunique() > 1]
    return rows[differ].astype(str).agg(" + ".join, axis=1).to_numpy() if differ else None


def needs_ball(column: columns.Column) -> bool:
    """Return whether a quantity depends on the measured position of the ball."""
    if column.kind == "measured":
        return False
    stem = column.stem.split("_at_")[0]
    if stem.endswith("toward_ball"):  # a direction, across the target line, not a distance from the ball
        return False
    return stem in ("low_point_ahead", "turf_entry_ahead", "contact") or "ball" in stem.split("_")


def ways_words(ways: np.ndarray) -> Note:
    """Return a note that swings measured by several methods are in one model; `ways` is from `measured_ways`."""
    kinds = sorted({str(way).replace("_", " ") for way in ways})
    return Note("several_ways", ways=len(kinds), names="; ".join(kinds))
