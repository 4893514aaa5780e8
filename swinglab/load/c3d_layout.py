"""Layout of the frames in a C3D file: counts, offset, encoding and scale, also if the file contradicts itself."""

from __future__ import annotations

import math
from pathlib import Path
from typing import NamedTuple

import numpy as np

from swinglab.errors import UnreadableFile
from swinglab.load.c3d_parameters import BLOCK, Sections
from swinglab.load.c3d_points import Layout

EXPORT_AGAIN = "export the capture again as C3D, with 3D points"
#: Largest frame number that fits in the 16-bit field of the header; the true last frame can be later.
_SATURATED = 65535


def _tidy(rate: float) -> float:
    """Round a 32-bit rate to the shortest decimal that represents it: 59.94, not 59.93999862670898."""
    return float(str(np.float32(rate)))


def find_rate(sections: Sections, given: float | None, path: Path) -> float:
    """Return the frame rate (Hz): `given` (from study.toml), else the parameter POINT:RATE, else that of the header.

    Contradictions between these are added to `sections.findings`. Raises UnreadableFile if none is a usable rate.
    """
    written = [_tidy(v) for v in (sections.number("POINT", "RATE"), sections.header.rate_hz) if v is not None]
    usable = [v for v in written if math.isfinite(v) and 0 < v <= 1e6]
    if given is not None:
        if usable and abs(usable[0] - given) > 0.01 * given:
            sections.findings.append(
                f"the frame rate in the file is {usable[0]:g} Hz, but {given:g} Hz was used, as set in study.toml"
            )
        return float(given)
    if not usable:
        shown = f"{written[0]:g}" if written else "not given"
        raise UnreadableFile(
            f"the file has no usable frame rate (it is {shown})",
            file=path,
            where="POINT:RATE",
            do="set rate_hz under [lab] in study.toml",
        )
    if len(usable) == 2 and abs(usable[0] - usable[1]) > 0.001 * usable[0]:
        sections.findings.append(
            f"the frame rate is {usable[0]:g} Hz in the parameter POINT:RATE and {usable[1]:g} Hz in the header; "
            f"{usable[0]:g} Hz was used"
        )
    return usable[0]


def _frame_counts(sections: Sections) -> list[int]:
    """Numbers of frames that the file declares in various places, the most reliable first."""
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
    """Possible numbers of analog values in a frame: that of the header, then channels x samples from two sources."""
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


def _no_frame(sections: Sections, size: int) -> str:
    """Message that says why the first frame cannot be found; `size` : of the file in bytes."""
    blocks = (sections.header.data_block, sections.count("POINT", "DATA_START"))
    block = next((block for block in blocks if block is not None and block >= 2), None)
    if block is None:
        return "the file does not give the block in which its first frame begins"
    return (
        f"the file has {size} bytes, but its first frame should begin after byte {(block - 1) * BLOCK} (block {block}; "
        f"a block has {BLOCK} bytes)"
    )


class _Choice(NamedTuple):
    """One possible layout of a file, from its declarations, which may contradict each other.

    offset : byte at which the first frame begins. points, analog : number of points and of analog values in a frame.
    is_float : whether values are floats, not integers. frames : number of frames; 0 if the file does not give it.
    """

    offset: int
    points: int
    analog: int
    is_float: bool
    frames: int

    @property
    def stride(self) -> int:
        """Number of bytes in a frame."""
        return (4 * self.points + self.analog) * (4 if self.is_float else 2)

    def held(self, size: int) -> int:
        """Return the number of complete frames that a file of this size (bytes) can contain."""
        return (size - self.offset) // self.stride

    def fills(self, size: int) -> bool:
        """Return whether the last frame ends in the last 512-byte block of a file of this size (bytes)."""
        return 0 <= size - self.offset - self.frames * self.stride < BLOCK


def find_layout(sections: Sections, size: int, path: Path) -> Layout:
    """Return the layout of the frames that agrees with the size of the file.

    Header and parameters can give different numbers of points, frames and analog channels. The first combination whose
    frames fill the file to within one block of 512 bytes is used. If there is none, the first combination with a
    complete frame is used. `size` : size of the file in bytes. Contradictions are added to `sections.findings`. Raises
    UnreadableFile if the file has no points or no complete frame.
    """
    header, findings = sections.header, sections.findings
    point_counts = [n for n in _point_counts(sections) if n]
    if not point_counts:
        analog = "only analog channels" if header.analog_words else "and no analog channels either"
        raise UnreadableFile(f"the file contains no points, {analog}", file=path, do=EXPORT_AGAIN)
    offsets = _data_offsets(sections, size)
    if not offsets:
        raise UnreadableFile(_no_frame(sections, size), file=path, do=EXPORT_AGAIN)
    scales = scales_written(sections)
    counts = _frame_counts(sections)
    choices = [
        _Choice(offset, points, analog, is_float, frames)
        for is_float in dict.fromkeys(s < 0 for s in scales)
        for offset in offsets
        for points in point_counts
        for analog in _analog_counts(sections)
        for frames in counts or [0]
    ]
    filling = (c for c in choices if counts and c.fills(size))
    chosen = next(filling, None) or next((c for c in choices if c.held(size)), None)
    if chosen is None:
        raise UnreadableFile("the file does not contain one complete frame", file=path, do=EXPORT_AGAIN)
    held = chosen.held(size)
    if not counts:
        findings.append(
            f"the file does not give its number of frames; all {held} frames that it contains were read"
        )
        chosen = chosen._replace(frames=held)
    _say_set_aside(sections, chosen, size, counts)
    declared = chosen.frames
    if chosen.frames > held:
        findings.append(
            f"the file is truncated: it declares {chosen.frames} frames but contains only {held}, which were read"
        )
        chosen = chosen._replace(frames=held)
    scale = next(abs(s) for s in scales if (s < 0) == chosen.is_float)
    return Layout(
        chosen.offset, chosen.stride, chosen.frames, chosen.points, sections.processor, chosen.is_float, scale,
        declared,
    )  # fmt: skip


def _say_set_aside(sections: Sections, chosen: _Choice, size: int, counts: list[int]) -> None:
    """Add a warning for every declaration that contradicts the chosen layout."""
    header, say = sections.header, sections.findings.append
    block = chosen.offset // BLOCK + 1
    for name, value in (
        ("POINT:DATA_START", sections.count("POINT", "DATA_START")), ("the header's data block", header.data_block),
    ):  # fmt: skip
        if value is not None and value != block:
            say(f"{name} is {value}, but the frames begin in block {block}")
    for name, value in (
        ("the header's number of points", header.points), ("POINT:USED", sections.count("POINT", "USED")),
    ):  # fmt: skip
        if value is not None and value != chosen.points:
            say(f"{name} is {value}, but the frames contain {chosen.points} points")
    if chosen.analog != header.analog_words:
        say(
            f"the header gives {header.analog_words} analog values per frame, but {chosen.analog} fit the file's size"
        )
    if {s < 0 for s in scales_written(sections)} != {chosen.is_float}:
        form = "floats" if chosen.is_float else "integers"
        say(
            f"header and parameter POINT:SCALE disagree about the encoding of the points; they were read as {form}"
        )
    # FRAMES is often off by one, and frame numbers may be those before the trial was cropped; neither is an error.
    if counts and counts[0] != chosen.frames and chosen.fills(size):
        say(f"the file declares {counts[0]} frames, but {chosen.frames} fit its size")
    spare = size - chosen.offset - chosen.frames * chosen.stride
    if spare >= max(BLOCK, chosen.stride):
        say(f"{spare} bytes after the last frame were not read")


def scales_written(sections: Sections) -> list[float]:
    """Return the different scale factors in the file: of the parameter POINT:SCALE, then of the header.

    A negative value means that the points are stored as floating-point numbers. If the file gives no usable scale, the
    result is [-1.0], with a warning.
    """
    written = (sections.number("POINT", "SCALE"), sections.header.scale)
    usable = [s for s in written if s is not None and math.isfinite(s) and 1e-12 < abs(s) < 1e12]
    if not usable:
        sections.findings.append("the file gives no scale of its points; they were read as floats")
        return [-1.0]
    return list(dict.fromkeys(usable))
