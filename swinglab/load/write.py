"""`write_capture`: writing of a trial as a C3D file, for use of simulated and processed swings in other programs."""

from __future__ import annotations

import struct
import warnings
from collections.abc import Mapping
from pathlib import Path

import c3d
import numpy as np

from swinglab.conventions import mirrored_name
from swinglab.errors import BadRequest
from swinglab.records import Events, Posture, Trial

#: Residuals are stored in steps of this many millimetres (the size of POINT:SCALE in a float file).
_RESIDUAL_STEP_MM = 0.01
_MOST_LABELS = 255


def write_capture(
    trial: Trial, path: str | Path, *, posture: Posture | None = None, events: Events | None = None
) -> Path:
    """Write the points of a trial (gaps filled, smoothed, as in `points_m`) to a C3D file, in millimetres.

    Parameters
    ----------
    trial : Trial
        A measured or simulated swing.
    path : str or Path
        The file to write; an existing one is replaced.
    posture : Posture, optional
        Angles to write in addition. Each is a point whose X coordinate is the angle in degrees; the parameter
        POINT:ANGLES lists these points.
    events : Events, optional
        Events to write to the EVENT group, instead of those of the file from which the trial was read.

    Returns
    -------
    Path
        The path of the written file.

    Raises
    ------
    BadRequest
        More than 255 points, or a file name that does not end in .c3d.

    Notes
    -----
    Frame: the study frame; read the file with ``up = "+Y"``, ``target = "+X"``. A left-hander is mirrored back, so read
    the file with ``hand = "left"``.
    Missing: the residual is -1 for a missing sample, 0 for a filled one, and the noise of the landmark (at least
    0.01 mm) for a measured one. Numbers are 32-bit floats, accurate to about 0.0001 mm.

    Examples
    --------
    >>> write_capture(trial, "g07_03.c3d")  # doctest: +SKIP
    PosixPath('g07_03.c3d')
    """
    path = Path(path)
    if path.suffix.lower() != ".c3d":
        raise BadRequest(
            "captures can be written as C3D files only", file=path, do="give a name that ends in .c3d"
        )
    angles = () if posture is None else tuple(name for name in posture.quantities if name.endswith("_deg"))
    count = len(trial.landmarks) + len(angles)
    if count > _MOST_LABELS:
        raise BadRequest(
            f"a C3D file can have at most {_MOST_LABELS} points, but {count} were given (landmarks and angles)",
            file=path,
            do="leave out posture, or use a trial with fewer landmarks",
        )
    writer = c3d.Writer(point_rate=trial.rate_hz, point_scale=-_RESIDUAL_STEP_MM, point_units="mm")
    writer.set_screen_axis("+X", "+Y")
    left = trial.hand == "left"
    names = [mirrored_name(name) if left else name for name in trial.landmarks]
    writer.set_point_labels([*names, *(name.removesuffix("_deg") for name in angles)])
    times = (
        trial.file_events if events is None else {e.name: e.time_s for e in events.events if e.time_s >= 0}
    )
    _add_events(writer, times)
    _add_angle_labels(writer, angles)
    points = trial.points_m * np.where(left, [1000.0, 1000.0, -1000.0], 1000.0)
    missing = ~np.isfinite(points).all(axis=-1)
    noise = np.nan_to_num(trial.noise_m * 1000, nan=_RESIDUAL_STEP_MM)
    steps = np.clip(np.round(noise / _RESIDUAL_STEP_MM), 1, 255)
    frames = np.zeros((*missing.shape, 5))
    frames[..., :3] = np.where(missing[..., None], 0.0, points)
    frames[..., 3] = np.where(missing, -1.0, np.where(trial.filled, 0.0, steps * _RESIDUAL_STEP_MM))
    if posture is not None:
        frames = np.concatenate([frames, _angle_points(posture, angles)], axis=1)
    no_analog = np.zeros((0, 0))
    writer.add_frames([(frame, no_analog) for frame in frames])
    with path.open("wb") as stream, warnings.catch_warnings():
        warnings.filterwarnings("ignore", message="No analog data found")
        writer.write(stream)
    return path


def _angle_points(posture: Posture, angles: tuple[str, ...]) -> np.ndarray:
    """Points (n_frames, n_angles, 5) whose X is an angle in degrees; a residual of -1 marks a missing angle."""
    values = posture.values[:, [posture.quantities.index(name) for name in angles]]
    points = np.zeros((*values.shape, 5))
    points[..., 0] = np.nan_to_num(values)
    points[..., 3] = np.where(np.isfinite(values), 0.0, -1.0)
    return points


def _add_angle_labels(writer: c3d.Writer, angles: tuple[str, ...]) -> None:
    """Add POINT:ANGLES, the labels of the points that contain angles, and their unit."""
    if not angles:
        return
    labels = [name.removesuffix("_deg") for name in angles]
    width = max(map(len, labels))
    group = writer.get_create("POINT")
    text = "".join(label.ljust(width) for label in labels)
    group.add_str("ANGLES", "Points that hold angles", text, width, len(labels))
    group.add_str("ANGLE_UNITS", "Unit of the angles", "deg", 3)


def _add_events(writer: c3d.Writer, times: Mapping[str, float]) -> None:
    """Add the EVENT group: labels, and times as pairs of whole minutes and seconds."""
    if not times:
        return
    labels = list(times)
    width = max(map(len, labels))
    group = writer.get_create("EVENT")
    group.add_param(
        "USED", desc="Number of events", bytes_per_element=2, bytes=struct.pack("<h", len(labels))
    )
    group.add_str(
        "LABELS", "Event labels", "".join(label.ljust(width) for label in labels), width, len(labels)
    )
    pairs = np.array([divmod(time, 60.0) for time in times.values()], dtype=np.float32)
    group.add_param("TIMES", desc="Minutes, seconds", bytes_per_element=4, dimensions=[2, len(labels)],
                    bytes=pairs.tobytes())  # fmt: skip
