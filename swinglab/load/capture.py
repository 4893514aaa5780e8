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
    """Read a capture file: points in metres, with the axes and labels of the file, NaN where a point is missing.

    Parameters
    ----------
    path : str or Path
        A C3D file, or a pose table (.csv, .parquet): wide (``time_s`` or ``frame``, ``<landmark>_x``, ``_y``,
        ``_z``, ``_confidence``) or long (``time_s`` or ``frame``, ``landmark``, ``x``, ``y``, ``z``,
        ``confidence``).
    unit : {"m", "cm", "mm", "none"}, optional
        Unit of length, if the file does not state it or states a wrong one. "none": determine it from the size of the
        body.
    rate_hz : float, optional
        Frame rate, if the file does not state it or states a wrong one.
    use_invalid : bool
        Whether to use the samples of a C3D file that are marked as invalid (residual below zero), with a warning.

    Returns
    -------
    Capture
        points_m (n_frames, n_points, 3), labels, rate, events, and `warnings` about everything that was repaired or
        assumed.

    Raises
    ------
    UnreadableFile
        The file does not exist, is not of the kind that its name implies, or contains no points. The message states
        what to do.
    BadRequest
        An unknown unit, or a frame rate of 0 or less.

    Notes
    -----
    Missing: in a C3D file, a sample whose residual is below zero, or whose coordinates are not finite or all exactly
    zero; in a table, a NaN or an empty cell.

    Examples
    --------
    >>> capture = read_capture("captures/g07_03.c3d")          # doctest: +SKIP
    >>> capture.points_m.shape, capture.rate_hz, capture.unit  # doctest: +SKIP
    ((340, 34, 3), 240.0, 'mm')
    """
    path = Path(path)
    if unit is not None and unit not in METRES:
        raise BadRequest(
            f"{unit!r} is not a unit of length of captures",
            file=path,
            do=f"set unit to one of {', '.join(METRES)}",
        )
    if rate_hz is not None and not (math.isfinite(rate_hz) and rate_hz > 0):
        raise BadRequest(
            f"the frame rate cannot be {rate_hz} Hz", file=path, do="set rate_hz to a number above 0"
        )
    if path.is_dir():
        raise UnreadableFile(
            "this is a folder, not a capture file", file=path, do="give the name of a file in the folder"
        )
    if not path.is_file():
        beside = [other.name for other in path.parent.iterdir()] if path.parent.is_dir() else []
        near = near_names(path.name, beside)
        raise UnreadableFile(
            "there is no such file",
            file=path,
            do=near or "check the name in the column capture of swings.csv",
        )
    suffix = path.suffix.lower()
    if suffix not in SUFFIXES:
        raise UnreadableFile(
            f"the name of a capture file must end in {', '.join(SUFFIXES)}"
            + (f", not {suffix}" if suffix else ", but this one has no ending"),
            file=path,
            do="rename the file, or export it in one of these formats",
        )
    try:
        if suffix == ".c3d":
            return read_c3d(path, unit=unit, rate_hz=rate_hz, use_invalid=use_invalid)
        return read_table(path, unit=unit, rate_hz=rate_hz)
    except OSError as problem:
        raise UnreadableFile(
            f"the file cannot be opened ({problem.strerror or problem})",
            file=path,
            do="check that you have permission to read the file",
        ) from problem
    except EOFError as problem:
        raise UnreadableFile(
            f"the file changed while it was being read ({problem})",
            file=path,
            do="wait until the file is completely written, then try again",
        ) from problem
    except MemoryError as problem:
        raise UnreadableFile(
            "the file is too large for the memory of this computer",
            file=path,
            do="export only the part of the recording with the swing",
        ) from problem
