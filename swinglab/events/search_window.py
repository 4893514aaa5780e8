"""The search window of an event, and the record of a missing event."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from swinglab.records import Event

NAN = float("nan")
#: Why an event is missing (`Event.source`): after the second, another line may still show it.
MISSING, SAMPLES_MISSING = "missing", "samples_missing"


def missing(name: str, reason: str) -> Event:
    """A missing event with its reason."""
    return Event(name, NAN, NAN, "", reason, MISSING)


def unseen(name: str, reason: str) -> Event:
    """An event that is missing because samples are."""
    return Event(name, NAN, NAN, "", f"samples are missing: {reason}", SAMPLES_MISSING)


@dataclass(frozen=True, slots=True, eq=False)
class Window:
    """Where an event is searched, and which samples may be used for it.

    start_s, stop_s : the search. first_usable_s, last_usable_s : samples outside are on the other side of
    the contact, or not there. words : how the window reads in a sentence. note : goes with what is found.
    """

    time_s: np.ndarray
    start_s: float
    stop_s: float
    first_usable_s: float
    last_usable_s: float
    longest_gap_s: float
    words: str
    note: str = ""
