"""Decoding of the frames of a C3D file (three number formats, integers or floats), in small parts to save memory."""

from __future__ import annotations

from dataclasses import dataclass
from io import RawIOBase
from pathlib import Path

import numpy as np

from swinglab.load.c3d_parameters import FLOAT_WORD, INTEGER_WORD, ieee_from_dec

_CHUNK_BYTES = 1 << 17
#: Coordinates beyond this (in metres) are not measurements but damaged words or floats in the wrong byte order.
LARGEST_M = 1e6
#: A sample with all three coordinates at or below this is empty (DEC zeros may have nonzero fraction bits).
_NOTHING = 1e-30


@dataclass(frozen=True, slots=True)
class Layout:
    """Position and encoding of the points in a C3D file.

    offset : byte at which the first frame begins. stride : bytes in a frame. frames : number of frames in the file.
    points : number of points in a frame. processor : number format. is_float : whether coordinates are floats, not
    integers. scale : factor from integer coordinates, and from residuals, to the unit of the file. declared_frames :
    number of frames that the file declares. keep_invalid : whether to use points that are marked as invalid.
    """

    offset: int
    stride: int
    frames: int
    points: int
    processor: str  # intel | dec | mips
    is_float: bool
    scale: float  # > 0, units per integer step; for floats it scales only the residual
    declared_frames: int = 0  # larger than `frames` if the file is truncated
    keep_invalid: bool = False  # use samples that the file marks invalid

    @property
    def word(self) -> str:
        """The numpy data type, as a string, of one stored value."""
        return (FLOAT_WORD if self.is_float else INTEGER_WORD)[self.processor]


def decode_points(path: Path, layout: Layout, metres: float) -> tuple[np.ndarray, np.ndarray]:
    """Return the points (frames, points, 3) in metres, NaN if missing, and their residuals (frames, points) in metres.

    A sample is missing if its fourth value (residual and camera mask) is below zero, if a coordinate is not finite, or
    if all three coordinates are exactly zero. `metres` : size of the file's unit in metres. Only a part of the file is
    in memory at a time. Raises EOFError if the file becomes shorter while it is read.
    """
    points = np.empty((layout.frames, layout.points, 3))
    residual = np.empty((layout.frames, layout.points), np.float32)
    step = max(1, _CHUNK_BYTES // layout.stride)
    with path.open("rb", buffering=0) as stream:
        stream.seek(layout.offset)
        buffer = np.empty(min(step, layout.frames) * layout.stride, np.uint8)
        for first in range(0, layout.frames, step):
            number = min(step, layout.frames - first)
            _fill(stream, buffer[: number * layout.stride])
            here = slice(first, first + number)
            _decode_chunk(_words(buffer, number, layout), layout, metres, points[here], residual[here])
    return points, residual


def sample_points(path: Path, layout: Layout) -> np.ndarray:
    """Return the points of up to 50 frames distributed over the file, (frames, points, 3), in the file's unit.

    Unit and scale are determined from them.
    """
    frames = np.unique(np.linspace(0, layout.frames - 1, 50).astype(int))
    points = np.empty((len(frames), layout.points, 3))
    residual = np.empty((len(frames), layout.points), np.float32)
    buffer = np.empty((len(frames), layout.stride), np.uint8)
    with path.open("rb", buffering=0) as stream:
        for k, frame in enumerate(frames):
            stream.seek(layout.offset + int(frame) * layout.stride)
            _fill(stream, buffer[k])
    _decode_chunk(_words(buffer, len(frames), layout), layout, 1.0, points, residual)
    return points


def _words(buffer: np.ndarray, frames: int, layout: Layout) -> np.ndarray:
    """View of the stored values (words) of the points in a buffer, (frames, points, 4), without the analog values."""
    size = np.dtype(layout.word).itemsize
    strides = (layout.stride, 4 * size, size)
    return np.ndarray((frames, layout.points, 4), layout.word, buffer, 0, strides)


def _fill(stream: RawIOBase, buffer: np.ndarray) -> None:
    """Read until the buffer is full. Raises EOFError if the file becomes shorter while it is read."""
    target = memoryview(buffer)  # type: ignore[arg-type]
    done = 0
    while done < len(target):
        got = stream.readinto(target[done:])
        if not got:
            raise EOFError("it became shorter")
        done += got


def _decode_chunk(
    words: np.ndarray, layout: Layout, metres: float, points: np.ndarray, residual: np.ndarray
) -> None:
    """Decode the stored values (words) of some frames and write them to the arrays `points` and `residual`.

    The words are first separated into four columns, because contiguous arrays are processed several times faster.
    """
    columns = np.empty((4, words.shape[0] * words.shape[1]), words.dtype.newbyteorder("="))
    columns[...] = words.reshape(-1, 4).T
    factor, unit = (1.0 if layout.is_float else layout.scale) * metres, np.float32(1)
    if layout.is_float and layout.processor == "dec":
        columns = ieee_from_dec(columns)
        factor, unit = factor * 0.25, np.float32(0.25)
    flat, left = points.reshape(-1, 3), residual.reshape(-1)
    with np.errstate(invalid="ignore", over="ignore"):
        for axis in range(3):
            flat[:, axis] = columns[axis]
        flat *= factor
        missing = np.zeros(len(flat), dtype=bool) if layout.keep_invalid else columns[3] < 0
        # The low byte is the residual. NaN and very large floats in this word do not mark the point as missing.
        whole = (columns[3] * unit).astype(np.int32) if layout.is_float else columns[3]
        np.multiply(whole & 0xFF, np.float32(layout.scale * metres), out=left, casting="unsafe")
        missing |= _never_measured(columns, flat, missing, LARGEST_M / factor)
    gone = np.flatnonzero(missing)
    if len(gone):
        flat[gone] = np.nan
        left[gone] = np.nan


def _never_measured(columns: np.ndarray, flat: np.ndarray, missing: np.ndarray, largest: float) -> np.ndarray:
    """Mask of further missing samples: those with three zeros, non-finite or impossibly large coordinates."""
    if columns.dtype.kind == "i":
        return (columns[0] | columns[1] | columns[2]) == 0
    total = columns[0] + columns[1]
    total += columns[2]
    np.abs(total, out=total)
    # Only if the sum is not finite, very large or nearly zero can a sample be of this kind; only these are checked.
    odd = ~((total < largest) & (total > _NOTHING)) & ~missing
    if odd.any():
        here = np.abs(flat[odd])
        odd[odd] = ~(here < LARGEST_M).all(axis=-1) | (here <= _NOTHING).all(axis=-1)
    return odd
