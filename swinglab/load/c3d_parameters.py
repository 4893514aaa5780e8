"""Reading of the header and the parameter section of a C3D file, with tolerance for errors in the file.

No record is read beyond the end of the file. For everything that is assumed or truncated, a sentence is added to the
list `findings`; these sentences become warnings of the `Capture`. The layout is that of the C3D format description
(c3d.org): 512-byte blocks, a header block, a parameter section, then frames.
"""

from __future__ import annotations

import math
import struct
from collections.abc import Iterable
from dataclasses import dataclass, field

import numpy as np

BLOCK = 512
#: Byte 4 of the parameter section -> the byte order and float format of the file.
PROCESSORS = {84: "intel", 85: "dec", 86: "mips"}
#: Integer and float word of each processor; DEC floats are turned into IEEE by `ieee_from_dec`.
INTEGER_WORD = {"intel": "<i2", "dec": "<i2", "mips": ">i2"}
FLOAT_WORD = {"intel": "<f4", "dec": "<f4", "mips": ">f4"}
_MOST_RECORDS = 20_000
#: Type of a parameter's values (-1 text, 1 byte, 2 integer, 4 float) -> bytes of one value.
_TYPE_SIZES = {-1: 1, 1: 1, 2: 2, 4: 4}


def ieee_from_dec(words: np.ndarray) -> np.ndarray:
    """Convert DEC (VAX F) floats, given as little-endian 16-bit words, to IEEE floats that are four times too large.

    A DEC float is an IEEE float with its two 16-bit halves exchanged and an exponent larger by two. The calling
    function multiplies the result by 0.25, together with the scale factor, in double precision, which is exact.
    """
    bits = words.view("<u4")
    swapped = bits << np.uint32(16)
    swapped |= bits >> np.uint32(16)
    return swapped.view("<f4")


@dataclass(frozen=True, slots=True)
class Parameter:
    """One parameter of a C3D file, as stored.

    kind : type of the values: -1 text, 1 byte, 2 integer, 4 float. dims : dimensions of the array; the first index
    varies fastest. data : the bytes. processor : number format ("intel", "dec" or "mips").
    """

    kind: int
    dims: tuple[int, ...]
    data: bytes
    processor: str

    def numbers(self) -> list[float]:
        """Return the values as floats, in the order of the file; empty if the parameter is text."""
        if self.kind == -1:
            return []
        if self.kind == 1:
            return [float(value) for value in self.data]
        size = _TYPE_SIZES[self.kind]
        whole = self.data[: len(self.data) // size * size]
        if self.kind == 2:
            return [float(v) for v in np.frombuffer(whole, INTEGER_WORD[self.processor])]
        values = np.frombuffer(whole, FLOAT_WORD[self.processor])
        if self.processor == "dec":
            values = ieee_from_dec(values) * np.float32(0.25)
        return [float(v) for v in values]

    def texts(self) -> list[str]:
        """Return the strings of a text parameter without trailing spaces; empty if the parameter is numeric."""
        if self.kind != -1:
            return []
        width = self.dims[0] if self.dims else len(self.data)
        if not width:
            return []
        pieces = (self.data[at : at + width] for at in range(0, len(self.data), width))
        return [_text(piece) for piece in pieces]


@dataclass(slots=True)
class Header:
    """Values in the header block of a C3D file, as stored.

    points, analog_words : number of points and of analog values in a frame. first_frame, last_frame : frame numbers,
    from 1. scale : factor from integer coordinates to the unit of the file; negative if the points are floats.
    data_block : number of the 512-byte block in which the frames begin, from 1. analog_per_frame : samples of each
    analog channel in a frame. rate_hz : frame rate of the points. events : (label, time in s from frame 1 of the
    recording).
    """

    points: int
    analog_words: int
    first_frame: int
    last_frame: int
    scale: float
    data_block: int
    analog_per_frame: int
    rate_hz: float
    events: tuple[tuple[str, float], ...] = ()


@dataclass(slots=True)
class Sections:
    """Header, parameters and number format (processor) of one C3D file.

    parameters : (group, name) in upper case -> parameter. findings : one sentence for each irregularity of the file.
    """

    header: Header
    processor: str
    parameters: dict[tuple[str, str], Parameter]
    findings: list[str] = field(default_factory=list)

    def numbers(self, group: str, name: str) -> list[float]:
        """Return the finite values of a parameter; empty if it is absent or contains text."""
        found = self.parameters.get((group, name))
        return [v for v in found.numbers() if math.isfinite(v)] if found else []

    def number(self, group: str, name: str) -> float | None:
        """Return the first value of a parameter; None if it is absent, empty or contains text."""
        values = self.numbers(group, name)
        return values[0] if values else None

    def count(self, group: str, name: str) -> int | None:
        """Return the value of a parameter that is a count, with 16-bit integers read as unsigned; None if absent."""
        value = self.number(group, name)
        if value is None:
            return None
        kind = self.parameters[group, name].kind
        return int(value) % 65536 if kind == 2 else int(value)

    def texts(self, group: str, name: str) -> list[str]:
        """Return the strings of a parameter; empty if it is absent or contains numbers."""
        found = self.parameters.get((group, name))
        return found.texts() if found else []


def _text(piece: bytes) -> str:
    for coding in ("utf-8", "latin-1"):
        try:
            text = piece.decode(coding)
            break
        except UnicodeDecodeError:
            continue
    return "".join(char for char in text.split("\0")[0] if char.isprintable()).strip()


def _header_float(block: bytes, at: int, processor: str) -> float:
    word = np.frombuffer(block[at : at + 4], FLOAT_WORD[processor])
    if processor == "dec":
        return float(ieee_from_dec(word)[0]) / 4
    return float(word[0])


def parse_header(block: bytes, processor: str) -> Header:
    """Decode the 512-byte header block of a C3D file, without checking whether the values are plausible.

    `processor` : number format, "intel", "dec" or "mips".
    """
    order = ">" if processor == "mips" else "<"
    words = struct.unpack(f"{order}256H", block[:BLOCK])
    count = min(words[150], 18) if words[149] == 12345 else 0
    events = []
    for number in range(count):
        seconds = _header_float(block, 2 * 152 + 4 * number, processor)
        label = _text(block[2 * 198 + 4 * number : 2 * 198 + 4 * number + 4])
        shown = block[2 * 188 + number] in (0, 1)
        if label and shown and math.isfinite(seconds):
            events.append((label, seconds))
    return Header(
        points=words[1],
        analog_words=words[2],
        first_frame=words[3],
        last_frame=words[4],
        scale=_header_float(block, 12, processor),
        data_block=words[8],
        analog_per_frame=words[9],
        rate_hz=_header_float(block, 20, processor),
        events=tuple(events),
    )


def _records(section: bytes, processor: str, findings: list[str]) -> Iterable[tuple[int, str, int, int]]:
    """Yield each record of the section: group id, name, offset of its content, and offset of its end."""
    order = ">h" if processor == "mips" else "<h"
    at = 4
    for _ in range(_MOST_RECORDS):
        if at + 2 > len(section):
            return
        length, group = struct.unpack_from("bb", section, at)
        length = abs(length)
        if length == 0 or group == 0:
            return
        link = at + 2 + length
        if link + 2 > len(section):
            findings.append("the parameter section ends within a record; the rest of it was not read")
            return
        (offset,) = struct.unpack_from(order, section, link)
        name = _text(section[at + 2 : link]).upper()
        end = link + offset if offset > 0 else len(section)
        if end > len(section):
            findings.append(f"the parameter record {name} points beyond the parameter section")
            end = len(section)
        yield group, name, link + 2, end
        if offset <= 0:
            return
        at = end


def parse_parameters(section: bytes, processor: str, findings: list[str]) -> dict[tuple[str, str], Parameter]:
    """Decode the parameter section of a C3D file; return (group, name) in upper case -> parameter.

    Invalid records are truncated or skipped, and a sentence is added to `findings` for each.
    """
    groups: dict[int, str] = {}
    found: list[tuple[int, str, Parameter]] = []
    skipped = []
    for group, name, at, end in _records(section, processor, findings):
        if group < 0:
            groups.setdefault(-group, name)
            continue
        if at + 2 > end:
            skipped.append(name)
            continue
        kind, dimensions = struct.unpack_from("bB", section, at)
        dims = tuple(section[at + 2 : min(at + 2 + dimensions, end)])
        if kind not in _TYPE_SIZES or dimensions > 7 or len(dims) < dimensions:
            skipped.append(name)
            continue
        begin = at + 2 + dimensions
        size = math.prod(dims) * _TYPE_SIZES[kind]
        data = section[begin : min(begin + size, len(section))]
        if len(data) < size:
            findings.append(
                f"the parameter {name} declares {size} bytes but has only {len(data)}, which were read"
            )
        found.append((group, name, Parameter(kind, dims, data, processor)))
    if skipped:
        findings.append(f"unreadable parameter records were skipped: {', '.join(skipped[:5])}")
    made: dict[tuple[str, str], Parameter] = {}
    for group, name, parameter in found:
        made.setdefault((groups.get(group, f"GROUP{group}"), name), parameter)
    return made
