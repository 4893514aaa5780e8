"""Events set by hand (events_by_hand.csv): reading, setting and removing them."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from swinglab.conventions import EVENTS
from swinglab.errors import BadRequest, StudyFaults, SwinglabError, near_names
from swinglab.study.csv_tables import read_rows_by_hand, store_table
from swinglab.study.names import event_name, near_events

if TYPE_CHECKING:
    from swinglab.study.opening import Study

FILE = "events_by_hand.csv"
COLUMNS = ["swing", "event", "time_s", "who", "note"]


def read_by_hand(folder: Path | None) -> pd.DataFrame:
    """Read events_by_hand.csv of a study folder; the table is empty if there is no file.

    folder : the study folder; None gives an empty table. time_s is in seconds from the first frame of the capture file.

    Raises
    ------
    StudyFaults
        A column is missing, an event is unknown, a time is not a number, or an event is set more than once for a swing.
    """
    table = read_rows_by_hand(folder, FILE, COLUMNS, 3)
    table["event"] = table["event"].map(event_name)
    faults = [
        SwinglabError(f"there is no event {name}", file=FILE, do=near_events(name) or "check the spelling")
        for name in sorted(set(table["event"]) - set(EVENTS))
    ]
    times = pd.to_numeric(table["time_s"], errors="coerce")
    bad = np.flatnonzero(~np.isfinite(times))
    if len(bad):
        rows = ", ".join(str(i + 2) for i in bad)
        faults.append(SwinglabError("time_s must be a number of seconds", file=FILE, where=f"row {rows}"))
    for swing, event in table.loc[table.duplicated(["swing", "event"]), ["swing", "event"]].to_numpy():
        faults.append(
            SwinglabError(
                f"the event {event} of swing {swing} is set more than once",
                file=FILE,
                do="keep one row for this event",
            )
        )
    if faults:
        raise StudyFaults(faults)
    return table.assign(time_s=times.astype(float))


def mark_event(
    study: Study, swing: str, event: str, time_s: float, *, who: str = "", note: str = ""
) -> pd.DataFrame:
    """Set an event of a swing by hand and store it in events_by_hand.csv.

    It takes precedence over times in swings.csv, events in the capture file, and events found by swinglab.

    Parameters
    ----------
    study : Study
    swing, event : str
        Names of the swing and of the event.
    time_s : float
        Seconds from the capture file's first frame.
    who : str
        Code of the person who sets the event, never a name.
    note : str
        A remark.

    Returns
    -------
    DataFrame
        All events set by hand, as now stored in events_by_hand.csv. Open the study again to use them.

    Raises
    ------
    BadRequest
        The swing or event is unknown, the time is negative or not finite, or the file cannot be written.
    """
    _check(study, swing, event)
    if not np.isfinite(time_s) or time_s < 0:
        raise BadRequest(
            f"the time of {event} must be 0 s or later (from the capture's first frame), not {time_s}"
        )
    marked = read_by_hand(study.folder)
    kept = marked[~((marked["swing"] == swing) & (marked["event"] == event))]
    row = pd.DataFrame([[swing, event, float(time_s), who, note]], columns=COLUMNS)
    return store_table(pd.concat([kept, row], ignore_index=True) if len(kept) else row, study.folder / FILE)


def unmark_event(study: Study, swing: str, event: str) -> pd.DataFrame:
    """Remove an event that was set by hand, and return the events that are still set by hand.

    Raises
    ------
    BadRequest
        The swing or event is unknown, or the event of this swing was not set by hand.
    """
    _check(study, swing, event)
    marked = read_by_hand(study.folder)
    gone = (marked["swing"] == swing) & (marked["event"] == event)
    if not gone.any():
        raise BadRequest(
            f"the event {event} of swing {swing} was not set by hand", file=FILE, do="check the names"
        )
    return store_table(marked[~gone].reset_index(drop=True), study.folder / FILE)


def _check(study: Study, swing: str, event: str) -> None:
    study.need_swing(swing)
    if event not in EVENTS:
        raise BadRequest(f"there is no event {event}", do=near_names(event, EVENTS) or None)
