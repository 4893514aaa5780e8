"""Damaged captures: files of every kind, changed at random from a seed, and what reading one may do."""

from __future__ import annotations

import io
import struct
import sys
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pandas as pd

sys.path.insert(0, str(Path(__file__).parents[1]))
from load.made_c3d import made_c3d, parameter, text_parameter

from swinglab.load import read_capture

#: Words that a damaged count tends to have.
_WORDS = (0, 1, 2, 127, 128, 255, 256, 32767, 32768, 65534, 65535)


def made_seeds() -> dict[str, bytes]:
    """Small valid files: C3D in six encodings, with analog words, events, many labels; tables of all forms."""
    rng = np.random.default_rng(5)
    points = rng.normal(1000, 300, (20, 6, 3))
    points[3:5, 2] = np.nan
    seeds = {}
    for processor in ("intel", "dec", "mips"):
        for is_float in (True, False):
            name = f"{processor}_{'float' if is_float else 'integer'}.c3d"
            seeds[name] = made_c3d(
                points,
                processor=processor,
                is_float=is_float,
                analog=4,
                header_events=[("TOP", 0.05)],
                first_frame=3,
            )
    events = text_parameter(2, "LABELS", ["top", "impact"], "intel") + parameter(
        2, "TIMES", 4, [2, 2], np.array([0, 0.02, 0, 0.06], "<f4").tobytes(), "intel"
    )
    group = struct.pack("bb", 5, -2) + b"EVENT" + struct.pack("<h", 3) + b"\0"
    many = rng.normal(1000, 300, (4, 300, 3))
    seeds["events.c3d"] = made_c3d(points, extra=group + events)
    seeds["labels.c3d"] = made_c3d(many)
    moments = np.arange(20) / 60
    wide = pd.DataFrame(
        {"time_s": moments} | {f"{n}_{a}": rng.normal(size=20) for n in ("nose", "hip_left") for a in "xyz"}
    )
    wide["nose_confidence"] = rng.random(20)
    long = pd.concat(
        [
            wide[["time_s"]].assign(landmark=n, **{a: wide[f"{n}_{a}"] for a in "xyz"})
            for n in ("nose", "hip_left")
        ]
    )
    for name, table in (("wide", wide), ("long", long)):
        seeds[f"{name}.csv"] = table.to_csv(index=False).encode()
        buffer = io.BytesIO()
        table.to_parquet(buffer)
        seeds[f"{name}.parquet"] = buffer.getvalue()
    return seeds


def mutate(data: bytes, rng: np.random.Generator, others: list[bytes]) -> bytes:
    """One to four changes: bits, bytes, counts, cuts, doublings, blocks moved, another file's middle."""
    made = bytearray(data)
    for _ in range(rng.integers(1, 5)):
        size = len(made)
        if not size:
            break
        # Half of the changes fall into header and parameters, where the meaning is.
        reach = min(size, 2048) if rng.random() < 0.5 else size
        at = int(rng.integers(reach))
        match int(rng.integers(9)):
            case 0:
                made[at] ^= 1 << int(rng.integers(8))
            case 1:
                made[at] = int(rng.integers(256))
            case 2:
                word = int(rng.choice(_WORDS))
                at -= at % 2
                made[at : at + 2] = struct.pack("<H" if rng.random() < 0.5 else ">H", word)
            case 3:
                made[at : at + 4] = rng.bytes(4)
            case 4:
                del made[at:]
            case 5:
                del made[at : at + int(rng.integers(1, 64))]
            case 6:
                made[at:at] = rng.bytes(int(rng.integers(1, 64)))
            case 7:
                piece = bytes(made[at : at + 512])
                to = int(rng.integers(size))
                made[to : to + len(piece)] = piece
            case 8:
                other = others[int(rng.integers(len(others)))]
                made[at:] = other[at : at + size]
    return bytes(made)


def damaged(seeds: dict[str, bytes], number: int, seed: int) -> Iterator[tuple[str, bytes]]:
    """`number` damaged files, each with the name of the file it was made from."""
    rng = np.random.default_rng(seed)
    names = list(seeds)
    for _ in range(number):
        name = names[int(rng.integers(len(names)))]
        alike = [seeds[other] for other in names if Path(other).suffix == Path(name).suffix]
        yield name, mutate(seeds[name], rng, alike)


def read_damaged(path: Path) -> str:
    """Read a capture: "read", or a description of what must not come out of a damaged file."""
    capture = read_capture(path)
    points = capture.points_m
    if points.nbytes > 40 * path.stat().st_size + 10_000_000:
        return f"took {points.nbytes} bytes for a file of {path.stat().st_size}"
    half = np.isnan(points).any(axis=-1) != np.isnan(points).all(axis=-1)
    if np.isinf(points).any() or (path.suffix == ".c3d" and half.any()):
        return "infinite or half-missing points came out"
    return "read"
