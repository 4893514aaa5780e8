"""Setting an event by hand, and taking it back."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd

from swinglab.conventions import EVENTS
from swinglab.errors import BadRequest, near_names
from swinglab.study.by_hand import COLUMNS, FILE, read_by_hand
from swinglab.study.csv_tables import write_table
from swinglab.study.opening import Study


def mark_event(
    study: Study, swing: str, event: str, time_s: float, *, who: str = "", note: str = ""
) -> pd.DataFrame:
    """Set an event by hand; it wins over swings.csv, the file's events and what would be found.

    Parameters
    ----------
    study : Study
    swing, event : str
    time_s : float
        Seconds from the capture file's first frame.

    Returns
    -------
    DataFrame
        All events set by hand, as now stored in events_by_hand.csv. Open the study again to use them.
    """
    _check(study, swing, event)
    if not np.isfinite(time_s) or time_s < 0:
        raise BadRequest(f"an event's time must be 0 s or later, not {time_s}")
    marked = read_by_hand(study.folder)
    kept = marked[~((marked["swing"] == swing) & (marked["event"] == event))]
    row = pd.DataFrame([[swing, event, float(time_s), who, note]], columns=COLUMNS)
    return _store(study.folder, pd.concat([kept, row], ignore_index=True) if len(kept) else row)


def unmark_event(study: Study, swing: str, event: str) -> pd.DataFrame:
    """Take back an event set by hand; BadRequest where it was not set."""
    _check(study, swing, event)
    marked = read_by_hand(study.folder)
    gone = (marked["swing"] == swing) & (marked["event"] == event)
    if not gone.any():
        raise BadRequest(f"{event} of swing {swing} was not set by hand", file=FILE)
    return _store(study.folder, marked[~gone].reset_index(drop=True))


def _check(study: Study, swing: str, event: str) -> None:
    known = list(study.swings["swing"])
    if swing not in known:
        raise BadRequest(f"there is no swing {swing} in this study", do=near_names(swing, known) or None)
    if event not in EVENTS:
        raise BadRequest(f"there is no event {event}", do=near_names(event, EVENTS) or None)


def _store(folder: Path, marked: pd.DataFrame) -> pd.DataFrame:
    path = folder / FILE
    if marked.empty:
        path.unlink(missing_ok=True)
        return marked
    beside = path.with_suffix(".csv.new")
    write_table(marked, beside)
    beside.replace(path)
    return marked
