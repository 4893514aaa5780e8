"""C3D files made byte by byte for the tests, from the format description (c3d.org), in all six encodings."""

from __future__ import annotations

import struct

import numpy as np

BLOCK = 512
NUMBERS = {"intel": 84, "dec": 85, "mips": 86}


def dec_bytes(values: np.ndarray) -> bytes:
    """IEEE floats as DEC floats: four times as large, the two halves exchanged; zero stays zero."""
    bits = (np.asarray(values, np.float32) * np.float32(4)).view("<u4")
    return ((bits << np.uint32(16)) | (bits >> np.uint32(16))).astype("<u4").tobytes()


def float_bytes(values: np.ndarray, processor: str) -> bytes:
    """Floats in a processor's own coding."""
    if processor == "dec":
        return dec_bytes(values)
    return np.asarray(values, ">f4" if processor == "mips" else "<f4").tobytes()


def parameter(group: int, name: str, kind: int, dims: list[int], data: bytes, processor: str) -> bytes:
    """One parameter record; the next follows directly."""
    body = struct.pack("bB", kind, len(dims)) + bytes(dims) + data + b"\0"
    order = ">" if processor == "mips" else "<"
    return (
        struct.pack("bb", len(name), group) + name.encode() + struct.pack(f"{order}h", len(body) + 2) + body
    )


def group_record(group: int, name: str, processor: str) -> bytes:
    """One group record."""
    order = ">" if processor == "mips" else "<"
    return struct.pack("bb", len(name), -group) + name.encode() + struct.pack(f"{order}h", 3) + b"\0"


def text_parameter(
    group: int, name: str, texts: list[str], processor: str, *, width: int | None = None
) -> bytes:
    """A list of strings, padded with blanks."""
    width = width or max([len(t.encode()) for t in texts] + [1])
    data = b"".join(t.encode().ljust(width) for t in texts)
    return parameter(group, name, -1, [width, len(texts)], data, processor)


def made_c3d(
    points: np.ndarray, *, processor: str = "intel", is_float: bool = True, scale: float = 0.1, rate: float = 240.0,
    labels: list[str] | None = None, units: str | None = "mm", analog: int = 0, missing: np.ndarray | None = None,
    first_frame: int = 1, header: dict | None = None, point: dict | None = None, extra: bytes = b"",
    header_events: list[tuple[str, float]] = (), tail: bytes = b"", used: int | None = None,
) -> bytes:  # fmt: skip
    """A whole C3D file. points : (n_frames, n_points, 3) in the file's unit; NaN or `missing` gives -1.

    `header` overrides words of the header by number (1-based), `point` entries of the POINT group by name
    (None leaves one out); `extra` is appended to the parameter records.
    """
    n, k = points.shape[:2]
    gone = ~np.isfinite(points).all(axis=-1) if missing is None else missing
    order = ">" if processor == "mips" else "<"
    sign = -scale if is_float else scale
    entries = {
        "USED": (2, [], struct.pack(f"{order}H", k)),
        "FRAMES": (2, [], struct.pack(f"{order}H", min(n, 65535))),
        "SCALE": (4, [], float_bytes(np.array([sign]), processor)),
        "RATE": (4, [], float_bytes(np.array([rate]), processor)),
        "DATA_START": (2, [], b"\0\0"),
    }
    entries |= point or {}
    section = group_record(1, "POINT", processor)
    for name, entry in entries.items():
        if entry is not None:
            section += parameter(1, name, *entry, processor)
    if units is not None:
        section += text_parameter(1, "UNITS", [units], processor)
    names = labels if labels is not None else [f"P{i}" for i in range(k)]
    for number in range(0, len(names), 255):
        part = names[number : number + 255]
        section += text_parameter(1, f"LABELS{number // 255 + 1 if number else ''}", part, processor)
    section += extra
    blocks = -(-(len(section) + 4 + 2) // BLOCK)
    start = 2 + blocks
    at = section.find(b"DATA_START")
    if at >= 0:
        at += len("DATA_START") + 4
        if point is None or "DATA_START" not in point:
            section = section[:at] + struct.pack(f"{order}H", start) + section[at + 2 :]
    section = (b"\x01\x50" + bytes([blocks, NUMBERS[processor]]) + section).ljust(blocks * BLOCK, b"\0")
    words = bytearray(BLOCK)
    last = min(first_frame + n - 1, 65535)
    struct.pack_into(
        f"{order}HHHHH", words, 2, k if used is None else used, analog, min(first_frame, 65535), last, 10
    )
    words[0], words[1] = 2, 0x50
    words[12:16] = float_bytes(np.array([sign]), processor)
    struct.pack_into(f"{order}HH", words, 16, start, 1 if analog else 0)
    words[20:24] = float_bytes(np.array([rate]), processor)
    for number, (label, seconds) in enumerate(header_events):
        struct.pack_into(f"{order}HHH", words, 298, 12345, len(header_events), 0)
        words[304 + 4 * number : 308 + 4 * number] = float_bytes(np.array([seconds]), processor)
        words[396 + 4 * number : 400 + 4 * number] = label.encode()[:4].ljust(4)
    for number, value in (header or {}).items():
        struct.pack_into(f"{order}H", words, 2 * (number - 1), value)
    return bytes(words) + section + _frames(points, gone, processor, is_float, scale, analog) + tail


def _frames(
    points: np.ndarray, gone: np.ndarray, processor: str, is_float: bool, scale: float, analog: int
) -> bytes:  # fmt: skip
    n, k = points.shape[:2]
    rows = np.zeros((n, 4 * k + analog), np.float32 if is_float else np.int16)
    values = np.where(gone[..., None], 0, points)
    cells = rows[:, : 4 * k].reshape(n, k, 4)
    cells[..., :3] = values if is_float else np.round(values / scale)
    cells[..., 3] = np.where(gone, -1, 1)
    integers = ">i2" if processor == "mips" else "<i2"
    data = float_bytes(rows, processor) if is_float else rows.astype(integers).tobytes()
    return data.ljust(-(-len(data) // BLOCK) * BLOCK, b"\0")
