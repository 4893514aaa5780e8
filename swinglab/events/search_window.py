"""Time window in which an event is searched, and the record of a missing event."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from swinglab.records import Event

NAN = float("nan")
#: Reasons why an event is missing (`Event.source`). If samples are missing, another line may still give the event.
MISSING, SAMPLES_MISSING = "missing", "samples_missing"


def missing(name: str, reason: str) -> Event:
    """Return a missing event (time NaN) with the reason."""
    return Event(name, NAN, NAN, "", reason, MISSING)


def unseen(name: str, reason: str) -> Event:
    """Return a missing event (time NaN) for which too few samples were measured, with the reason."""
    return Event(name, NAN, NAN, "", f"samples are missing: {reason}", SAMPLES_MISSING)


@dataclass(frozen=True, slots=True, eq=False)
class Window:
    """Time window in which an event is searched, and the samples that may be used for it.

    time_s : (n,) times of the frames. start_s, stop_s : limits of the search. first_usable_s, last_usable_s : only
    samples between these times are used, for example only those before contact. longest_gap_s : longest period without
    samples across which a crossing can still be found. words : text for the window in messages, such as "between
    takeaway and the top". note : added to the event.
    """

    time_s: np.ndarray
    start_s: float
    stop_s: float
    first_usable_s: float
    last_usable_s: float
    longest_gap_s: float
    words: str
    note: str = ""
