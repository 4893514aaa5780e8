"""Lines that the commands `check` and `measure` print about a study's faults, captures and doubts."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pandas as pd

from swinglab.study.checking import StudyCheck
from swinglab.study.gate import ACCEPTED, shared_doubts
from swinglab.study.opening import Study

#: Largest number of names listed in a message; further ones are counted.
_MOST = 12
_PLURAL = {"event": "events", "quantity": "quantities", "outcome": "outcomes"}


def check_lines(found: StudyCheck) -> list[str]:
    """Return the lines that the command `check` prints about captures, labels, quantities and doubts.

    Faults are not among them; the command raises them as one error.
    """
    study = found.study
    asked = [f"{kind}: {len(those)}" for kind, those in (
        ("hunches", study.hunches), ("comparisons", study.comparisons), ("lessons", study.lessons))]  # fmt: skip
    lines = [study.title, f"golfers: {len(study.golfers)}, swings: {len(study.swings)}, {', '.join(asked)}"]
    lines += [f"note: {note}" for note in study.notes]
    for row in _each(found.captures):
        if not row.problem:
            lines.append(f"  {row.swing} ({row.file}): {_capture_words(row)}")
    lines += _problem_lines(found.captures)
    lines += _label_lines(found.labels)
    lines += available_lines(found.available, len(study.swings))
    lines += [
        f"  strike not measured: {_listed(list(swings))}: {why}"
        for why, swings in found.without_strike.items()
    ]
    lines += [f"  {line}" for line in found.agreement]
    lines += doubt_lines(found.gate)
    faulty = int((found.captures["problem"] != "").sum())
    lines.append(
        f"{len(found.captures) - faulty} of {len(found.captures)} captures can be "
        + ("read" if found.faults else "measured")
        + ("; those that cannot are listed above" if faulty else "")
    )
    return lines


def _capture_words(row: Any) -> str:
    kind = row.kind.replace("_", " ")
    words = f"{kind}, {row.rate_hz:g} Hz, {row.duration_s:.2f} s, {row.missing_percent:.1f} % missing"
    return words + (f"; note: {row.warnings}" if row.warnings else "")


def _problem_lines(captures: pd.DataFrame) -> list[str]:
    """Return one line for each reason why captures cannot be used, with the files that share the reason."""
    lines = []
    for problem, rows in captures[captures["problem"] != ""].groupby("problem", sort=False):
        files = list(dict.fromkeys(rows["file"]))
        lines.append(f"  cannot be used: {_listed(files)}: {problem}")
    return lines


def _label_lines(labels: pd.DataFrame) -> list[str]:
    if labels.empty:
        return []
    absent = labels[labels["landmark"].str.endswith("(not in the files)")]
    unused = labels[labels["landmark"] == ""]
    matched = labels.drop(index=[*absent.index, *unused.index])
    lines = [
        f"marker labels: {matched['label'].nunique()} are landmarks, {unused['label'].nunique()} are not used"
    ]
    if len(unused):
        words = [f"{row.label} ({row.near})" if row.near else row.label for row in _each(unused)]
        lines.append(f"  not used: {_listed(list(dict.fromkeys(words)))}")
    for row in _each(absent):
        name = row.landmark.removesuffix(" (not in the files)")
        lines.append(
            f"  label missing in {row.captures} capture{'' if row.captures == 1 else 's'}: {row.label}, "
            f"which study.toml gives for {name}" + (f"; {row.near}" if row.near else "")
        )
    return lines


def available_lines(available: pd.DataFrame, swings: int) -> list[str]:
    """Return lines with the events, quantities and outcomes that will be measured, and those that some swings lack.

    available : from `what_is_available`. swings : number of swings.
    """
    lines = []
    for kind, rows in available.groupby("kind", sort=False):
        there, none = rows[rows["swings"] > 0], rows[rows["swings"] == 0]
        some = there[there["swings"] < there["swings"].max()]
        line = f"{_PLURAL[str(kind)]}: {len(there)} of {len(rows)} found"
        line += f"; in no swing: {_listed(list(none['name']))}" if len(none) else ""
        if len(some):
            words = [f"{row.name} ({row.swings} of {swings})" for row in _each(some)]
            line += f"; not in all swings: {_listed(words)}"
        lines.append(line)
    return lines


def doubt_lines(gate: pd.DataFrame, *, accepted: bool = True) -> list[str]:
    """Return a line for each doubt about swings; swings with the same doubt are listed together.

    gate : one row for each doubt, as in gate.csv. accepted : whether accepted doubts are included.
    """
    return [one.sentence() for one in shared_doubts(gate) if accepted or one.verdict != ACCEPTED]


def note_lines(study: Study) -> list[str]:
    """Return lines that say how a table was read, if it could be read in more than one way."""
    return [f"note: {note}" for note in study.notes]


def _each(table: pd.DataFrame) -> Iterator[Any]:
    yield from table.itertuples(index=False)


def _listed(names: list[str]) -> str:
    more = f" and {len(names) - _MOST} more" if len(names) > _MOST else ""
    return ", ".join(names[:_MOST]) + more
