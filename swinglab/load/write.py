"""`write_capture`: a trial as a C3D file, so that made swings and cleaned trials can go to other tools."""

from __future__ import annotations

import struct
import warnings
from pathlib import Path

import c3d
import numpy as np

from swinglab.conventions import mirrored_name
from swinglab.errors import BadRequest
from swinglab.records import Trial

#: Residuals are stored in steps of this many millimetres (the size of POINT:SCALE in a float file).
_RESIDUAL_STEP_MM = 0.01
_MOST_LABELS = 255


def write_capture(trial: Trial, path: str | Path) -> Path:
    """Write a trial's points (filled and smoothed, as in `points_m`) as a C3D file in millimetres.

    Parameters
    ----------
    trial : Trial
        A measured or made swing.
    path : str or Path
        The file to write; an existing one is replaced.

    Returns
    -------
    Path
        The file.

    Raises
    ------
    BadRequest
        More than 255 landmarks, or a file name that does not end in .c3d.

    Notes
    -----
    Frame: the study frame, so read it back with ``up = "+Y"``, ``target = "+X"``. A left-hander is turned
    back into one, and needs ``hand = "left"`` again.
    Missing: a missing sample has the residual -1, a filled one 0, a measured one its noise (at least 0.01 mm).
    Floats of 32 bits: read back equal to about 0.0001 mm. The events stand in the EVENT group.

    Examples
    --------
    >>> write_capture(trial, "g07_03.c3d")  # doctest: +SKIP
    PosixPath('g07_03.c3d')
    """
    path = Path(path)
    if path.suffix.lower() != ".c3d":
        raise BadRequest("a capture is written as C3D", file=path, do="give a name that ends in .c3d")
    if len(trial.landmarks) > _MOST_LABELS:
        raise BadRequest(f"{len(trial.landmarks)} landmarks do not fit; {_MOST_LABELS} do", file=path)
    writer = c3d.Writer(point_rate=trial.rate_hz, point_scale=-_RESIDUAL_STEP_MM, point_units="mm")
    writer.set_screen_axis("+X", "+Y")
    left = trial.hand == "left"
    writer.set_point_labels([mirrored_name(name) if left else name for name in trial.landmarks])
    _add_events(writer, trial)
    points = trial.points_m * np.where(left, [1000.0, 1000.0, -1000.0], 1000.0)
    missing = ~np.isfinite(points).all(axis=-1)
    noise = np.nan_to_num(trial.noise_m * 1000, nan=_RESIDUAL_STEP_MM)
    steps = np.clip(np.round(noise / _RESIDUAL_STEP_MM), 1, 255)
    frames = np.zeros((*missing.shape, 5))
    frames[..., :3] = np.where(missing[..., None], 0.0, points)
    frames[..., 3] = np.where(missing, -1.0, np.where(trial.filled, 0.0, steps * _RESIDUAL_STEP_MM))
    no_analog = np.zeros((0, 0))
    writer.add_frames([(frame, no_analog) for frame in frames])
    with path.open("wb") as stream, warnings.catch_warnings():
        warnings.filterwarnings("ignore", message="No analog data found")
        writer.write(stream)
    return path


def _add_events(writer: c3d.Writer, trial: Trial) -> None:
    """The EVENT group: labels, and times as pairs of whole minutes and seconds."""
    if not trial.file_events:
        return
    labels = list(trial.file_events)
    width = max(map(len, labels))
    group = writer.get_create("EVENT")
    group.add_param(
        "USED", desc="Number of events", bytes_per_element=2, bytes=struct.pack("<h", len(labels))
    )
    group.add_str(
        "LABELS", "Event labels", "".join(label.ljust(width) for label in labels), width, len(labels)
    )
    times = np.array([divmod(time, 60.0) for time in trial.file_events.values()], dtype=np.float32)
    group.add_param("TIMES", desc="Minutes, seconds", bytes_per_element=4, dimensions=[2, len(labels)],
                    bytes=times.tobytes())  # fmt: skip
