"""Check whether a capture file is complete or still being written."""

from __future__ import annotations

from pathlib import Path

from swinglab.errors import UnreadableFile
from swinglab.load.c3d_file import missing_frames

#: Number of bytes at the end of a table that are checked.
_TAIL = 65_536
_PARQUET_MARK = b"PAR1"


def is_whole(path: str | Path) -> bool:
    """Return whether a capture file contains all the data that it declares.

    The result is False if the file is truncated, or if its header is not written yet.

    Parameters
    ----------
    path : str or Path
        A C3D file (complete if it contains the declared number of frames), a CSV table (complete if its last row has as
        many cells as its header) or a Parquet table (complete if it ends with the bytes PAR1 of this format).

    Raises
    ------
    OSError
        The file cannot be opened.

    Examples
    --------
    >>> is_whole("captures/g07_03.c3d")  # doctest: +SKIP
    True
    """
    path = Path(path)
    kind = path.suffix.lower()
    if kind == ".c3d":
        try:
            return missing_frames(path) == 0
        except UnreadableFile:
            return False
    with path.open("rb") as stream:
        head = stream.readline()
        stream.seek(max(0, path.stat().st_size - _TAIL))
        tail = stream.read()
    if kind == ".parquet":
        return len(tail) > len(_PARQUET_MARK) and tail.endswith(_PARQUET_MARK)
    rows = tail.rstrip(b"\r\n").splitlines()
    # A table with decimal commas has semicolons between its columns, as in pose_tables.py.
    between = b";" if head.count(b";") > head.count(b",") else b","
    return bool(rows) and rows[-1] != head.rstrip(b"\r\n") and rows[-1].count(between) == head.count(between)
