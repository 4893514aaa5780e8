"""The frames of a C3D file, decoded in bulk: six encodings, one pass, chunks that fit the processor's cache."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from swinglab.load.c3d_parameters import FLOAT_WORD, INTEGER_WORD, ieee_from_dec

_CHUNK_BYTES = 1 << 19
#: Coordinates beyond this (in metres) are no measurement: a damaged word, or a float read in the wrong order.
LARGEST_M = 1e6


@dataclass(frozen=True, slots=True)
class Layout:
    """Where the points lie: byte offset of the first frame, bytes a frame, counts, coding and scale."""

    offset: int
    stride: int
    frames: int
    points: int
    processor: str  # intel | dec | mips
    is_float: bool
    scale: float  # > 0, units per integer step; for floats it scales the residual alone

    @property
    def word(self) -> str:
        """numpy's name of one stored word."""
        return (FLOAT_WORD if self.is_float else INTEGER_WORD)[self.processor]


def decode_points(path: Path, layout: Layout, metres: float) -> tuple[np.ndarray, np.ndarray]:
    """Points in metres (frames, points, 3), NaN where missing, and residuals (frames, points) in metres.

    A sample is missing where its fourth word is below zero, a coordinate is not a finite number or all three
    are exactly zero. `metres` is the size of the file's unit. Only one chunk of the file is in memory.
    """
    points = np.empty((layout.frames, layout.points, 3))
    residual = np.empty((layout.frames, layout.points), np.float32)
    size = np.dtype(layout.word).itemsize
    step = max(1, _CHUNK_BYTES // layout.stride)
    buffer = np.empty(step * layout.stride, np.uint8)
    with path.open("rb", buffering=0) as stream:
        stream.seek(layout.offset)
        for first in range(0, layout.frames, step):
            number = min(step, layout.frames - first)
            _fill(stream, memoryview(buffer)[: number * layout.stride])
            words = np.ndarray(
                (number, layout.points, 4), layout.word, buffer, 0, (layout.stride, 4 * size, size)
            )
            here = slice(first, first + number)
            _decode_chunk(words, layout, metres, points[here], residual[here])
    return points, residual


def _fill(stream, target: memoryview) -> None:  # type: ignore[no-untyped-def]
    """Read until the target is full; a file that shrinks while it is read is told as such."""
    done = 0
    while done < len(target):
        got = stream.readinto(target[done:])
        if not got:
            raise EOFError("the file became shorter while it was read")
        done += got


def _decode_chunk(
    words: np.ndarray, layout: Layout, metres: float, points: np.ndarray, residual: np.ndarray
) -> None:
    factor = metres if layout.is_float else metres * layout.scale
    if layout.is_float and layout.processor == "dec":
        words = ieee_from_dec(np.ascontiguousarray(words))
        factor *= 0.25
    with np.errstate(invalid="ignore", over="ignore"):
        np.multiply(words[..., :3], factor, out=points, dtype=np.float64)
        fourth = words[..., 3]
        missing = fourth < 0
        # The low byte is the residual; NaN and huge floats in that word say nothing about the point.
        if layout.is_float:
            unit = 0.25 if layout.processor == "dec" else 1.0
            np.remainder(fourth * np.float32(unit), np.float32(256), out=residual)
            np.floor(residual, out=residual)
        else:
            residual[...] = fourth & 0xFF
        residual *= np.float32(layout.scale * metres)
        total = points[..., 0] + points[..., 1] + points[..., 2]
        odd = ~(np.abs(total) < LARGEST_M)
        # Only a sum that is nearly zero can be three zeros (DEC zeros may carry dirty fractions).
        empty = np.abs(total) < 1e-30
        if empty.any():
            empty[empty] = (np.abs(points[empty]) < 1e-30).all(axis=-1)
        if odd.any():
            odd[odd] = ~(np.abs(points[odd]) < LARGEST_M).all(axis=-1)
        missing |= odd
        missing |= empty
    if missing.any():
        points[missing] = np.nan
        residual[missing] = np.nan
