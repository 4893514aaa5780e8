"""Copies of captures under codes, without people's names in paths, labels or parameters."""

from __future__ import annotations

import struct
import warnings
from pathlib import Path

import c3d
import numpy as np
import pandas as pd

from swinglab.load.units import METRES
from swinglab.records import Capture

#: Resolution of residuals in the copies, in the capture's unit.
_RESIDUAL_STEP = 0.01
#: Greatest number of labels in one LABELS parameter of a C3D file.
_MOST_LABELS = 255


def write_coded_copy(capture: Capture, path: Path) -> Path:
    """Write a copy of a capture with points, labels, residuals or confidence, frame rate and events; return its path.

    The prefix `Subject:` is removed from labels; labels that become equal are numbered. C3D files contain 32-bit floats
    in the capture's own unit. A pose table is written as CSV with one row for each frame and without events.
    Analog channels and all other parameters are left out.
    """
    labels = _bare(capture.labels)
    path.parent.mkdir(parents=True, exist_ok=True)
    points = capture.points_m / METRES[capture.unit]
    if path.suffix == ".c3d":
        _write_c3d(capture, labels, points, path)
    else:
        _write_table(capture, labels, points, path)
    return path


def _bare(labels: tuple[str, ...]) -> list[str]:
    made: list[str] = []
    for label in labels:
        bare = label.rpartition(":")[2]
        made.append(
            bare
            if bare not in made
            else f"{bare}_{sum(m == bare or m.startswith(bare + '_') for m in made) + 1}"
        )
    return made


def _write_c3d(capture: Capture, labels: list[str], points: np.ndarray, path: Path) -> None:
    writer = c3d.Writer(point_rate=capture.rate_hz, point_scale=-_RESIDUAL_STEP, point_units=capture.unit)
    blocks = [labels[k : k + _MOST_LABELS] for k in range(0, len(labels), _MOST_LABELS)]
    writer.set_point_labels(blocks[0])
    for number, block in enumerate(blocks[1:], start=2):
        width = max(map(len, block))
        writer.point_group.add_str(
            f"LABELS{number}", "", "".join(b.ljust(width) for b in block), width, len(block)
        )
    if capture.events:
        _add_events(writer, capture)
    missing = ~np.isfinite(points).all(axis=-1)
    frames = np.zeros((*missing.shape, 5))
    frames[..., :3] = np.where(missing[..., None], 0.0, points)
    residual = (
        np.zeros(missing.shape) if capture.residual_m is None else capture.residual_m / METRES[capture.unit]
    )
    steps = np.clip(np.round(np.nan_to_num(residual) / _RESIDUAL_STEP), 0, 255)
    frames[..., 3] = np.where(missing, -1.0, steps * _RESIDUAL_STEP)
    nothing = np.zeros((0, 0))
    writer.add_frames([(frame, nothing) for frame in frames])
    with path.open("wb") as stream, warnings.catch_warnings():
        warnings.filterwarnings("ignore", message="No analog data found")
        writer.write(stream)


def _add_events(writer: c3d.Writer, capture: Capture) -> None:
    labels = [event.label for event in capture.events]
    width = max(1, *map(len, labels))
    group = writer.get_create("EVENT")
    group.add_param("USED", desc="", bytes_per_element=2, bytes=struct.pack("<h", len(labels)))
    group.add_str("LABELS", "", "".join(label.ljust(width) for label in labels), width, len(labels))
    times = np.array([divmod(event.time_s, 60.0) for event in capture.events], dtype=np.float32)
    group.add_param("TIMES", desc="", bytes_per_element=4, dimensions=[2, len(labels)], bytes=times.tobytes())


def _write_table(capture: Capture, labels: list[str], points: np.ndarray, path: Path) -> None:
    table: dict[str, np.ndarray] = {"time_s": capture.time_s}
    for k, label in enumerate(labels):
        for axis, letter in enumerate("xyz"):
            table[f"{label}_{letter}"] = points[:, k, axis]
        if capture.confidence is not None:
            table[f"{label}_confidence"] = capture.confidence[:, k]
    pd.DataFrame(table).to_csv(path, index=False, float_format="%.9g", lineterminator="\n")
