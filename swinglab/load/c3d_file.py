"""A C3D file as a `Capture`: which count, stride, scale, unit and label holds where the file contradicts itself."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np

from swinglab.errors import UnreadableFile
from swinglab.load.c3d_events import file_events
from swinglab.load.c3d_parameters import (
    BLOCK,
    PROCESSORS,
    Sections,
    parse_header,
    parse_parameters,
)
from swinglab.load.c3d_points import Layout, decode_points
from swinglab.load.units import METRES, body_size, doubt_unit, judge_unit, unit_named
from swinglab.records import Capture

_EXPORT = "export the capture again as C3D, with 3D points"
_SATURATED = 65535


def read_c3d(path: Path, *, unit: str | None, rate_hz: float | None) -> Capture:
    """The points of a C3D file in metres, in the file's own axes; UnreadableFile where that cannot be."""
    size = path.stat().st_size
    sections = _read_sections(path, size)
    warnings = sections.findings
    rate = _rate(sections, rate_hz, path)
    layout = _layout(sections, size, path)
    points, residual = decode_points(path, layout, 1.0)
    if not np.isfinite(points).any():
        _refuse_all_missing(path, layout)
    layout, points, residual = _settle_scale(sections, layout, points, residual)
    chosen = _unit(sections, points, unit)
    if METRES[chosen] != 1.0:
        points *= METRES[chosen]
        residual *= np.float32(METRES[chosen])
    doubt = doubt_unit(points, chosen) if unit is None else None
    warnings += [doubt] if doubt else []
    labels = _labels(sections, layout.points)
    events = file_events(sections, layout.frames, rate)
    return Capture(
        file=str(path),
        labels=labels,
        points_m=points,
        rate_hz=rate,
        events=events,
        warnings=tuple(f"{path.name}: {text}" for text in dict.fromkeys(warnings)),
        unit=chosen,
        first_frame=max(1, sections.header.first_frame),
        kind="c3d",
        residual_m=residual,
    )


# --- header and parameters ---------------------------------------------------------------------------------


def _read_sections(path: Path, size: int) -> Sections:
    with path.open("rb") as stream:
        block = stream.read(BLOCK)
        if len(block) < BLOCK or block[1] != 0x50:
            what = "the file is empty" if size == 0 else "it does not begin as a C3D file does"
            raise UnreadableFile(what, file=path, do=_EXPORT)
        findings: list[str] = []
        at, start = _parameter_section(stream, block[0], size, findings)
        processor = PROCESSORS.get(start[3], "") if len(start) == 4 else ""
        if not processor:
            processor = _guess_processor(block)
            findings.append(f"the parameter section names no known processor; read as {processor}")
        header = parse_header(block, processor)
        # The number of parameter blocks is often wrong; the data block bounds it where that makes sense.
        blocks = start[2] if len(start) == 4 else 0
        end = max(at + blocks * BLOCK, (header.data_block - 1) * BLOCK)
        stream.seek(at)
        section = stream.read(min(end, size) - at) if at < size else b""
    parameters = parse_parameters(section, processor, findings)
    if not any(group == "POINT" for group, _ in parameters):
        findings.append("the parameter section could not be read; the header alone is believed")
    return Sections(header, processor, parameters, findings)


def _parameter_section(stream, block: int, size: int, findings: list[str]) -> tuple[int, bytes]:  # type: ignore[no-untyped-def]
    """Offset and first four bytes of the parameter section: where the header says, else in block 2."""
    for number in dict.fromkeys((block, 2)):
        at = (number - 1) * BLOCK
        if number >= 2 and at + 4 <= size:
            stream.seek(at)
            start = stream.read(4)
            if start[3] in PROCESSORS:
                if number != block:
                    findings.append("the header points to no parameter section; the one in block 2 was read")
                return at, start
    return BLOCK, b""


def _guess_processor(block: bytes) -> str:
    """The processor with which the header gives a rate that a camera can have."""
    for processor in PROCESSORS.values():
        header = parse_header(block, processor)
        if 1 <= header.rate_hz <= 20_000 and header.points and header.data_block >= 2:
            return processor
    return "intel"


# --- rate, counts, stride ----------------------------------------------------------------------------------


def _tidy(rate: float) -> float:
    """A 32-bit rate as the shortest decimal that means it: 59.94, not 59.93999862670898."""
    return float(str(np.float32(rate)))


def _rate(sections: Sections, given: float | None, path: Path) -> float:
    written = [_tidy(v) for v in (sections.number("POINT", "RATE"), sections.header.rate_hz) if v is not None]
    usable = [v for v in written if math.isfinite(v) and 0 < v <= 1e6]
    if given is not None:
        if usable and abs(usable[0] - given) > 0.01 * given:
            sections.findings.append(
                f"the file says {usable[0]:g} Hz; read at {given:g} Hz, as the study says"
            )
        return float(given)
    if not usable:
        said = f"{written[0]:g}" if written else "not given"
        raise UnreadableFile(
            f"the rate is {said}", file=path, where="POINT:RATE", do="give rate_hz under [lab] in study.toml"
        )
    if len(usable) == 2 and abs(usable[0] - usable[1]) > 0.001 * usable[0]:
        sections.findings.append(
            f"POINT:RATE is {usable[0]:g} Hz, the header says {usable[1]:g} Hz; the first holds"
        )
    return usable[0]


def _frame_counts(sections: Sections) -> list[int]:
    """What the file says of its number of frames, the most trusted first."""
    header = sections.header
    start, end = (_long_number(sections, f"ACTUAL_{name}_FIELD") for name in ("START", "END"))
    trial = end - start + 1 if start is not None and end is not None else None
    long_frames, frames = sections.count("POINT", "LONG_FRAMES"), sections.count("POINT", "FRAMES")
    counts = [trial, long_frames, frames]
    counts.insert(3 if header.last_frame == _SATURATED else 0, header.last_frame - header.first_frame + 1)
    return list(dict.fromkeys(int(c) for c in counts if c is not None and c > 0))


def _long_number(sections: Sections, name: str) -> int | None:
    """A frame number of the TRIAL group: two 16-bit words, the low one first."""
    words = [int(v) % 65536 for v in sections.numbers("TRIAL", name)[:2]]
    if not words:
        return None
    return words[0] + (65536 * words[1] if len(words) == 2 else 0)


def _point_counts(sections: Sections) -> list[int]:
    used = sections.count("POINT", "USED")
    return list(dict.fromkeys(n for n in (sections.header.points, used) if n is not None))


def _analog_counts(sections: Sections) -> list[int]:
    """Analog words in a frame: the header's, else channels x samples by two other ways."""
    header, used = sections.header, sections.count("ANALOG", "USED")
    counts = [header.analog_words]
    if used is not None:
        counts.append(used * header.analog_per_frame)
        rates = sections.number("ANALOG", "RATE"), sections.number("POINT", "RATE")
        if rates[0] is not None and rates[1] and rates[0] >= 0 and rates[0] / rates[1] < 1e5:
            counts.append(used * round(rates[0] / rates[1]))
    return list(dict.fromkeys(n for n in counts if 0 <= n < 1_000_000))


def _data_offsets(sections: Sections, size: int) -> list[int]:
    blocks = (sections.header.data_block, sections.count("POINT", "DATA_START"))
    offsets = [(block - 1) * BLOCK for block in dict.fromkeys(blocks) if block is not None and block >= 2]
    return [offset for offset in offsets if offset < size]


def _layout(sections: Sections, size: int, path: Path) -> Layout:
    """The first combination of counts that fills the file to within a block; else the header's, cut to fit."""
    header, findings = sections.header, sections.findings
    point_counts = _point_counts(sections)
    if not any(point_counts):
        analog = "analog channels only" if header.analog_words else "neither points nor analog channels"
        raise UnreadableFile(f"it holds no points, {analog}", file=path, do=_EXPORT)
    offsets = _data_offsets(sections, size)
    if not offsets:
        raise UnreadableFile(
            f"it ends before its first frame (data block {header.data_block} of a file of {size} bytes)",
            file=path, do=_EXPORT,
        )  # fmt: skip
    scales = _scales(sections)
    frame_counts = _frame_counts(sections)
    choices = [
        (offset, points, analog, scale, frames)
        for scale in dict.fromkeys(s < 0 for s in scales)
        for offset in offsets
        for points in point_counts
        for analog in _analog_counts(sections)
        for frames in frame_counts
        if points
    ]
    best = next((c for c in choices if _fits(*c, size)), None)
    offset, points, analog, is_float, frames = best or (
        offsets[0], max(point_counts[0], 0) or point_counts[-1], _analog_counts(sections)[0], scales[0] < 0,
        frame_counts[0] if frame_counts else 0,
    )  # fmt: skip
    stride = _stride(points, analog, is_float)
    held = (size - offset) // stride
    if frame_counts and frames > held:
        findings.append(
            f"the file says {frames} frames and holds {held}; it was cut short, what is there was kept"
        )
    elif not frame_counts:
        findings.append(f"the file does not say how many frames it has; all {held} it holds were read")
        frames = held
    frames = min(frames, held)
    if frames < 1:
        raise UnreadableFile("it holds no frames", file=path, do=_EXPORT)
    _say_choices(sections, (offset, points, analog, is_float, frames), size, stride, frame_counts)
    scale = next(abs(s) for s in scales if (s < 0) == is_float)
    return Layout(offset, stride, frames, points, sections.processor, is_float, scale)


def _stride(points: int, analog: int, is_float: bool) -> int:
    return (4 * points + analog) * (4 if is_float else 2)


def _fits(offset: int, points: int, analog: int, is_float: bool, frames: int, size: int) -> bool:
    spare = size - offset - frames * _stride(points, analog, is_float)
    return 0 <= spare < BLOCK


def _say_choices(
    sections: Sections, chosen: tuple[int, int, int, bool, int], size: int, stride: int, counts: list[int]
) -> None:
    """Warn of every declaration that the chosen layout sets aside."""
    offset, points, analog, is_float, frames = chosen
    header, say = sections.header, sections.findings.append
    start = sections.count("POINT", "DATA_START")
    if start is not None and (start - 1) * BLOCK != offset:
        say(f"POINT:DATA_START is {start}, the frames begin in block {offset // BLOCK + 1}")
    if (header.data_block - 1) * BLOCK != offset:
        say(
            f"the header's data block is {header.data_block}, the frames begin in block {offset // BLOCK + 1}"
        )
    if points != header.points:
        say(f"the header says {header.points} points, POINT:USED {points}; the second fits the file")
    used = sections.count("POINT", "USED")
    if used is not None and used != points:
        say(f"POINT:USED is {used}, the frames hold {points} points")
    if analog != header.analog_words:
        say(f"the header says {header.analog_words} analog words a frame; {analog} fit the file")
    if {s < 0 for s in _scales(sections)} != {is_float}:
        say(
            f"header and POINT:SCALE differ on how points are stored; read as {'floats' if is_float else 'integers'}"
        )
    others = [count for count in counts if abs(count - frames) > 1]
    if others and counts[0] != frames and others != counts:
        say(f"the file also says {others[0]} frames; {frames} fit its size")
    spare = size - offset - frames * stride
    if spare >= max(BLOCK, stride):
        say(f"{spare} bytes follow the last frame; they were not read")


# --- scale, unit -------------------------------------------------------------------------------------------


def _scales(sections: Sections) -> list[float]:
    """Scales the file gives, POINT:SCALE first; their sign tells floats (negative) from integers."""
    written = (sections.number("POINT", "SCALE"), sections.header.scale)
    usable = [s for s in written if s is not None and math.isfinite(s) and 1e-12 < abs(s) < 1e12]
    if not usable:
        sections.findings.append("the file gives no scale; points were read as floats")
        return [-1.0]
    return list(dict.fromkeys(usable))


def _settle_scale(
    sections: Sections, layout: Layout, points: np.ndarray, residual: np.ndarray
) -> tuple[Layout, np.ndarray, np.ndarray]:
    """For integers with two scales take the one that gives a body's size; where both do, POINT:SCALE."""
    scales = [abs(s) for s in _scales(sections) if s > 0]
    if layout.is_float or len(scales) < 2 or abs(scales[0] - scales[1]) <= 1e-4 * scales[0]:
        return layout, points, residual
    unit = next((u for u in map(unit_named, sections.texts("POINT", "UNITS")) if u), None)
    metres = METRES[unit or judge_unit(points)]
    size = body_size(points) * metres
    # Distance, in powers of ten, from the height of a standing adult.
    misfit = [abs(math.log10(size * s / scales[0] / 1.7)) if size > 0 else 0.0 for s in scales]
    chosen = scales[1] if misfit[1] < misfit[0] - 0.05 else scales[0]
    sections.findings.append(
        f"POINT:SCALE is {scales[0]:.4g}, the header's scale {scales[1]:.4g}; {chosen:.4g} was used, "
        f"with which the points span {size * chosen / scales[0]:.2f} m"
    )
    if chosen != scales[0]:
        points *= chosen / scales[0]
        residual *= np.float32(chosen / scales[0])
    return layout, points, residual


def _unit(sections: Sections, points: np.ndarray, given: str | None) -> str:
    written = [text for text in sections.texts("POINT", "UNITS") if text]
    named = next((u for u in map(unit_named, written) if u), None)
    if given is not None:
        if named and named != given:
            sections.findings.append(f"the file says {named}; read in {given}, as the study says")
        return given
    if named:
        return named
    judged = judge_unit(points)
    said = f"the unit {written[0]!r} is not known" if written else "the file gives no unit"
    sections.findings.append(
        f"{said}; judged from the size of the body: {judged} (else give unit in study.toml)"
    )
    return judged


# --- labels ------------------------------------------------------------------------------------------------


def _labels(sections: Sections, points: int) -> tuple[str, ...]:
    """One name a point: LABELS, LABELS2, ... in a row, made unique; unnamed points are called by number."""
    written: list[str] = []
    for number in range(1, 300):
        part = sections.texts("POINT", f"LABELS{number if number > 1 else ''}")
        if not part and number > 1:
            break
        written += part
    surplus = [label for label in written[points:] if label]
    if surplus:
        sections.findings.append(f"{len(surplus)} labels more than points; the last ones were not used")
    names = [label or f"point_{k + 1}" for k, label in enumerate(written[:points])]
    unnamed = points - sum(bool(label) for label in written[:points])
    names += [f"point_{k + 1}" for k in range(len(names), points)]
    if unnamed:
        sections.findings.append(
            f"{unnamed} of {points} points have no label; they are called point_1, point_2, ..."
        )
    return unique_labels(names, sections.findings)


def unique_labels(names: list[str], findings: list[str]) -> tuple[str, ...]:
    """Names made unique by a number behind the second and later of each; said once."""
    taken, made, repeated = set(names), [], []
    seen: dict[str, int] = {}
    for name in names:
        seen[name] = seen.get(name, 0) + 1
        if seen[name] == 1:
            made.append(name)
            continue
        repeated.append(name)
        while f"{name}_{seen[name]}" in taken:
            seen[name] += 1
        made.append(f"{name}_{seen[name]}")
        taken.add(made[-1])
    if repeated:
        first = list(dict.fromkeys(repeated))
        findings.append(
            f"{len(first)} labels stand for several points ({', '.join(first[:4])}); "
            f"later ones are called {made[names.index(first[0])]}_2 and so on"
        )
    return tuple(made)


def _refuse_all_missing(path: Path, layout: Layout) -> None:
    """Say why no point is there: all flagged invalid with coordinates present, or simply empty."""
    size = np.dtype(layout.word).itemsize
    with path.open("rb") as stream:
        stream.seek(layout.offset)
        words = np.frombuffer(stream.read(layout.points * 4 * size), layout.word).reshape(-1, 4)
    if np.any(words[:, :3] != 0):
        raise UnreadableFile(
            "every point is marked invalid (its residual is below zero) though coordinates are there",
            file=path,
            do="export it again from the tracking software with the points reconstructed and marked valid",
        )
    raise UnreadableFile("no point has a single measured sample", file=path, do=_EXPORT)
