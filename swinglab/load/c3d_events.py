"""Events of a C3D file, from its header and its EVENT group, with times from the first frame of the file."""

from __future__ import annotations

import math

from swinglab.load.c3d_parameters import Sections
from swinglab.records import FileEvent


def file_events(sections: Sections, frames: int, rate_hz: float) -> tuple[FileEvent, ...]:
    """Return the events of a C3D file, with times in s from the file's first frame, in order of time.

    `sections` : header and parameters of the file. `frames` : number of frames in the file. In the C3D format, the time
    of an event is counted from frame 1 of the recording, so the time of the file's first frame is subtracted. Some
    programs count from the file's first frame instead. This is assumed, with a warning, if all events lie inside the
    file only on this assumption. Warnings are added to `sections.findings`.
    """
    events = _group_events(sections)
    for label, seconds in sections.header.events:
        same = (e for e in events if e.label[:4] == label and abs(e.time_s - seconds) < 1 / rate_hz)
        if next(same, None) is None:
            events.append(FileEvent(label, seconds))
    start = (max(1, sections.header.first_frame) - 1) / rate_hz
    length = frames / rate_hz
    shifted = [e.time_s - start for e in events]
    plain = [e.time_s for e in events]
    if start and events:
        inside = [all(-1 / rate_hz <= t <= length for t in times) for times in (shifted, plain)]
        if inside == [False, True]:
            sections.findings.append(
                "event times were counted from the file's first frame, because counted from frame 1 of the recording "
                "they lie outside the file"
            )
            shifted = plain
    outside = [e.label for e, t in zip(events, shifted, strict=True) if not -1 / rate_hz <= t <= length]
    if outside:
        sections.findings.append(f"these events have times outside the file: {', '.join(outside[:5])}")
    placed = [FileEvent(e.label, t, e.context) for e, t in zip(events, shifted, strict=True)]
    return tuple(sorted(placed, key=lambda e: e.time_s))


def _group_events(sections: Sections) -> list[FileEvent]:
    labels, contexts = sections.texts("EVENT", "LABELS"), sections.texts("EVENT", "CONTEXTS")
    parameter = sections.parameters.get(("EVENT", "TIMES"))
    if parameter is None or not labels:
        return []
    times = _seconds(parameter.numbers(), parameter.dims)
    used = sections.count("EVENT", "USED")
    number = min(len(labels), len(times), used if used is not None else len(labels))
    if number < len(labels) or number < len(times):
        sections.findings.append(
            f"the EVENT group is inconsistent (labels: {len(labels)}, times: {len(times)}); events read: {number}"
        )
    contexts += [""] * (number - len(contexts))
    return [
        FileEvent(label, time, context)
        for label, time, context in zip(labels[:number], times, contexts, strict=False)
        if label and math.isfinite(time)
    ]


def _seconds(values: list[float], dims: tuple[int, ...]) -> list[float]:
    """Times in seconds from the stored numbers of EVENT:TIMES; `dims` : dimensions of this parameter.

    The numbers are (minutes, seconds) pairs, stored pair by pair, or all minutes first if dims are (n, 2). With one
    dimension other than 2, they are seconds.
    """
    if len(dims) == 1:
        return values if dims[0] != 2 else [60 * values[0] + values[1]] if len(values) == 2 else []
    pairs = len(values) // 2
    if len(dims) == 2 and dims[1] == 2 and dims[0] != 2:
        return [60 * m + s for m, s in zip(values[:pairs], values[pairs:], strict=False)]
    return [60 * values[2 * k] + values[2 * k + 1] for k in range(pairs)]
