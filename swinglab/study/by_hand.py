"""Events set by hand, as a study keeps them in events_by_hand.csv."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd

from swinglab.conventions import EVENTS
from swinglab.errors import StudyFaults, SwinglabError, UnreadableFile, near_names
from swinglab.study.csv_tables import read_table

FILE = "events_by_hand.csv"
COLUMNS = ["swing", "event", "time_s", "who", "note"]


def read_by_hand(folder: Path | None) -> pd.DataFrame:
    """The events set by hand in a study folder; an empty table where there are none.

    Raises
    ------
    StudyFaults
        Missing columns, unknown events, times that are no numbers, an event set twice for one swing.
    """
    empty = pd.DataFrame({n: pd.Series(dtype=float if n == "time_s" else str) for n in COLUMNS})
    if folder is None or not (folder / FILE).exists():
        return empty
    try:
        table = read_table(folder / FILE, shown=FILE)
    except UnreadableFile as error:
        raise StudyFaults([error]) from error
    lacking = [name for name in COLUMNS[:3] if name not in table.columns]
    if lacking:
        raise StudyFaults([SwinglabError(f"the columns {', '.join(lacking)} are missing", file=FILE)])
    faults = [
        SwinglabError(f"there is no event {name}", file=FILE, do=near_names(name, EVENTS) or None)
        for name in sorted(set(table["event"]) - set(EVENTS))
    ]
    times = pd.to_numeric(table["time_s"], errors="coerce")
    if times.isna().any():
        rows = ", ".join(str(i + 2) for i in np.flatnonzero(times.isna()))
        faults.append(SwinglabError("time_s must be a number of seconds", file=FILE, where=f"row {rows}"))
    for swing, event in table.loc[table.duplicated(["swing", "event"]), ["swing", "event"]].to_numpy():
        faults.append(SwinglabError(f"{event} of swing {swing} is set twice", file=FILE, do="keep one row"))
    if faults:
        raise StudyFaults(faults)
    table["time_s"] = times.astype(float)
    return table.reindex(columns=COLUMNS, fill_value="")
