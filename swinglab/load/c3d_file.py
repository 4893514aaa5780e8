"""Reading of a C3D file as a `Capture`."""

from __future__ import annotations

import math
from dataclasses import replace
from io import BufferedReader
from pathlib import Path

import numpy as np

from swinglab.errors import UnreadableFile
from swinglab.load.c3d_events import file_events
from swinglab.load.c3d_labels import point_labels
from swinglab.load.c3d_layout import EXPORT_AGAIN, find_layout, find_rate, scales_written
from swinglab.load.c3d_parameters import BLOCK, PROCESSORS, Sections, parse_header, parse_parameters
from swinglab.load.c3d_points import Layout, decode_points, sample_points
from swinglab.load.units import METRES, body_size, doubt_unit, judge_unit, metres_in, unit_named
from swinglab.records import Capture

#: Parameter groups, without a final S, that can contain names of persons (common practice, no source).
_PERSONS = ("SUBJECT", "PATIENT", "PARTICIPANT")


def read_c3d(path: Path, *, unit: str | None, rate_hz: float | None, use_invalid: bool = False) -> Capture:
    """Read the points of a C3D file in metres, in the axes of the file.

    `unit`, `rate_hz` : unit of length and frame rate that replace those of the file; None to use those of the file.
    `use_invalid` : whether to use points that the file marks as invalid. Raises UnreadableFile if the content of the
    file is invalid, and OSError if it cannot be opened.
    """
    size = path.stat().st_size
    sections = _read_sections(path, size)
    warnings = sections.findings
    rate = find_rate(sections, rate_hz, path)
    layout = replace(find_layout(sections, size, path), keep_invalid=use_invalid)
    sample = sample_points(path, layout)
    layout, sample = _settle_scale(sections, layout, sample)
    stated = _unit(sections, unit)
    chosen = stated or _judged_unit(sections, sample)
    doubt = doubt_unit(sample * METRES[chosen], chosen) if unit is None else None
    warnings += [doubt] if doubt else []
    unit_m = metres_in(chosen, sample)
    points, residual = decode_points(path, layout, unit_m)
    if use_invalid:
        warnings.append(
            "points that the file marks as invalid are used, because use_points_marked_invalid = true in study.toml"
        )
    if not np.isfinite(sample).any() and not np.isfinite(points).any():
        _refuse_all_missing(path, layout)
    labels = point_labels(sections, layout.points)
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
        unit_judged=stated is None,
        unit_m=unit_m,
    )


def missing_frames(path: Path) -> int:
    """Return the number of frames that a C3D file declares but does not contain; 0 for a complete file.

    Raises UnreadableFile if the file has no readable header, no points, or not one complete frame.
    """
    size = path.stat().st_size
    layout = find_layout(_read_sections(path, size), size, path)
    return layout.declared_frames - layout.frames


def person_texts(path: Path) -> tuple[str, ...]:
    """Return the texts of a C3D file that can contain names of persons.

    These are the names and prefixes in the groups SUBJECTS, PATIENT and PARTICIPANT. The result is empty if the file
    has no readable header.
    """
    try:
        parameters = _read_sections(path, path.stat().st_size).parameters
    except (UnreadableFile, OSError):
        return ()
    texts = (
        text
        for (group, name), one in parameters.items()
        if group.rstrip("S") in _PERSONS and ("NAME" in name or "PREFIX" in name)
        for text in one.texts()
    )
    return tuple(dict.fromkeys(text for text in texts if text))


# --- header and parameters ---------------------------------------------------------------------------------


def _read_sections(path: Path, size: int) -> Sections:
    with path.open("rb") as stream:
        block = stream.read(BLOCK)
        if size == 0:
            raise UnreadableFile("the file is empty", file=path, do=EXPORT_AGAIN)
        if len(block) < BLOCK or block[1] != 0x50:
            raise UnreadableFile("the file does not begin as a C3D file does", file=path, do=EXPORT_AGAIN)
        findings: list[str] = []
        at, start = _parameter_section(stream, block[0], size, findings)
        processor = PROCESSORS.get(start[3], "") if len(start) == 4 else ""
        if not processor:
            processor = _guess_processor(block)
            findings.append(
                f"the parameter section names no known number format; the file was read in the format {processor}"
            )
        header = parse_header(block, processor)
        # The number of parameter blocks is often wrong; the start of the data limits it where that is plausible.
        blocks = start[2] if len(start) == 4 else 0
        end = max(at + blocks * BLOCK, (header.data_block - 1) * BLOCK)
        stream.seek(at)
        section = stream.read(min(end, size) - at) if at < size else b""
    parameters = parse_parameters(section, processor, findings)
    if not any(group == "POINT" for group, _ in parameters):
        findings.append("the parameter section could not be read; only the header is used")
    return Sections(header, processor, parameters, findings)


def _parameter_section(
    stream: BufferedReader, block: int, size: int, findings: list[str]
) -> tuple[int, bytes]:
    """Offset and first four bytes of the parameter section, at the block given in the header, else in block 2.

    If it is in neither, the offset is that of block 2, without bytes.
    """
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
    """The number format ("intel", "dec" or "mips") in which the header is plausible; "intel" if there is none."""
    for processor in PROCESSORS.values():
        header = parse_header(block, processor)
        if 1 <= header.rate_hz <= 20_000 and header.points and header.data_block >= 2:
            return processor
    return "intel"


# --- scale, unit -------------------------------------------------------------------------------------------


def _settle_scale(sections: Sections, layout: Layout, sample: np.ndarray) -> tuple[Layout, np.ndarray]:
    """Choose between two different scales of integer points: the one that gives the size of a body.

    If both do, POINT:SCALE is used. Returns the layout and the sample of points, both with the chosen scale.
    """
    scales = [s for s in scales_written(sections) if s > 0]
    if layout.is_float or len(scales) < 2 or abs(scales[0] - scales[1]) <= 1e-4 * scales[0]:
        return layout, sample
    unit = next((u for u in map(unit_named, sections.texts("POINT", "UNITS")) if u), None)
    size = body_size(sample) * METRES[unit or judge_unit(sample)]
    # Distance, in powers of ten, from the height of a standing adult.
    misfit = [abs(math.log10(size * s / scales[0] / 1.7)) if size > 0 else 0.0 for s in scales]
    chosen = scales[1] if misfit[1] < misfit[0] - 0.05 else scales[0]
    sections.findings.append(
        f"the parameter POINT:SCALE is {scales[0]:.4g}, but the scale of the header is {scales[1]:.4g}; "
        f"{chosen:.4g} was used, with which the points extend over {size * chosen / scales[0]:.2f} m"
    )
    return replace(layout, scale=chosen), sample * (chosen / scales[0])


def _unit(sections: Sections, given: str | None) -> str | None:
    """The unit given in the study, else the unit named in the file; None if there is neither."""
    named = next((u for u in map(unit_named, sections.texts("POINT", "UNITS")) if u), None)
    if given and named and named != given:
        sections.findings.append(
            f"the unit in the file is {named}, but {given} was used, as set in study.toml"
        )
    return given or named


def _judged_unit(sections: Sections, points: np.ndarray) -> str:
    written = [text for text in sections.texts("POINT", "UNITS") if text]
    judged = judge_unit(points)
    why = f"the unit {written[0]!r} is not known" if written else "the file gives no unit"
    sections.findings.append(
        f"{why}; {judged} was assumed from the size of the body. If this is wrong, set unit under [lab] in study.toml"
    )
    return judged


def _refuse_all_missing(path: Path, layout: Layout) -> None:
    """Raise UnreadableFile with the reason why there are no points: all are marked invalid, or none was measured."""
    size = np.dtype(layout.word).itemsize
    with path.open("rb") as stream:
        stream.seek(layout.offset)
        words = np.frombuffer(stream.read(layout.points * 4 * size), layout.word).reshape(-1, 4)
    if np.any(words[:, :3] != 0):
        raise UnreadableFile(
            "all points are marked as invalid (their residual is below zero), although they have coordinates",
            file=path,
            do="export the file again with valid points, or set use_points_marked_invalid = true under [processing] in "
            "study.toml",
        )
    raise UnreadableFile("all samples of all points are missing", file=path, do=EXPORT_AGAIN)
