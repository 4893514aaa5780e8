"""Records that the stages of the kit pass on: immutable dataclasses with read-only arrays, checked when created.

A capture file becomes a `Capture` (the file's own axes), then a `Trial` (the study frame), then `Posture`,
`Events` and `Strike`. Questions of a study are `Hunch`, `Comparison` and `Lesson`; each line of an answer is
a `Finding`. Lengths are in metres, times in seconds, angles in degrees.
"""

from swinglab.records.diagnostics import Diagnostics
from swinglab.records.findings import FINDING_COLUMNS, Finding, finding_of_row, findings_table
from swinglab.records.measured import Capture, Event, Events, FileEvent, Posture, Setup, Strike, Trial
from swinglab.records.questions import (
    Accepted,
    Comparison,
    Errors,
    FoundIn,
    Hunch,
    Lesson,
    PostureScreen,
    Validation,
)

__all__ = [
    "FINDING_COLUMNS",
    "Accepted",
    "Capture",
    "Comparison",
    "Diagnostics",
    "Errors",
    "Event",
    "Events",
    "FileEvent",
    "Finding",
    "FoundIn",
    "Hunch",
    "Lesson",
    "Posture",
    "PostureScreen",
    "Setup",
    "Strike",
    "Trial",
    "Validation",
    "finding_of_row",
    "findings_table",
]
