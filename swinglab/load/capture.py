"""`read_capture`: reads every supported kind of capture file."""

from __future__ import annotations

import math
from pathlib import Path

from swinglab.errors import BadRequest, UnreadableFile, near_names
from swinglab.load.c3d_file import read_c3d
from swinglab.load.pose_tables import read_table
from swinglab.load.units import METRES
from swinglab.records import Capture

SUFFIXES = (".c3d", ".csv", ".parquet")


def read_capture(
    path: str | Path, *, unit: str | None = None, rate_hz: float | None = None, use_invalid: bool = False
) -> Capture:
    """Read a capture file without changes: its own axes and labels, in metres, NaN where a point is missing.

    Parameters
    ----------
    path : str or Path
        A C3D file, or a pose table (.csv, .parquet): wide (``time_s`` or ``frame``, ``<landmark>_x``, ``_y``,
        ``_z``, ``_confidence``) or long (``time_s`` or ``frame``, ``landmark``, ``x``, ``y``, ``z``,
        ``confidence``).
    unit : {"m", "cm", "mm", "none"}, optional
        Unit of length, where the file does not state it or states it wrongly.
    rate_hz : float, optional
        Frames a second, where the file does not state it or states it wrongly.
    use_invalid : bool
        Use the samples of a C3D file that it marks invalid (fourth word below zero), with a warning.

    Returns
    -------
    Capture
        points_m (n_frames, n_points, 3), labels, rate, events and `warnings`: every repair and every doubt.

    Raises
    ------
    UnreadableFile
        The file does not exist, is not of the kind its name implies, or holds no points. The message states what to do.
    BadRequest
        An unknown unit, or a frame rate of 0 or less.

    Notes
    -----
    Missing: in a C3D file, a sample whose fourth word is below zero, whose coordinates are not finite or are all
    exactly zero; in a table, a NaN or an empty cell.

    Examples
    --------
    >>> capture = read_capture("captures/g07_03.c3d")          # doctest: +SKIP
    >>> capture.points_m.shape, capture.rate_hz, capture.unit  # doctest: +SKIP
    ((340, 34, 3), 240.0, 'mm')
    """
    path = Path(path)
    if unit is not None and unit not in METRES:
        raise BadRequest(f"there is no unit {unit!r}", file=path, do=f"use one of {', '.join(METRES)}")
    if rate_hz is not None and not (math.isfinite(rate_hz) and rate_hz > 0):
        raise BadRequest(f"the frame rate cannot be {rate_hz} Hz", file=path, do="give a rate above 0")
    if not path.is_file():
        beside = [other.name for other in path.parent.iterdir()] if path.parent.is_dir() else []
        near = near_names(path.name, beside)
        what = "it is a folder, not a capture" if path.is_dir() else "there is no such file"
        raise UnreadableFile(what, file=path, do=near or "check the name in the capture column of swings.csv")
    suffix = path.suffix.lower()
    if suffix not in SUFFIXES:
        raise UnreadableFile(
            f"captures end in {', '.join(SUFFIXES)}, not {suffix or 'nothing'}",
            file=path,
            do="rename or convert it",
        )
    try:
        if suffix == ".c3d":
            return read_c3d(path, unit=unit, rate_hz=rate_hz, use_invalid=use_invalid)
        return read_table(path, unit=unit, rate_hz=rate_hz)
    except OSError as problem:
        raise UnreadableFile(
            f"it cannot be opened ({problem.strerror or problem})", file=path, do="check its permissions"
        ) from problem
    except EOFError as problem:
        raise UnreadableFile(
            str(problem), file=path, do="wait until it is written, then try again"
        ) from problem
    except MemoryError as problem:
        raise UnreadableFile(
            "it does not fit into memory", file=path, do="cut the capture to the swing"
        ) from problem
