"""Reading of pose tables (CSV or Parquet, wide or long) as a `Capture`."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from importlib.util import find_spec
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from swinglab.errors import UnreadableFile, shortened, similar_names
from swinglab.load.time_grid import Grid, frame_grid, time_grid
from swinglab.load.units import doubt_unit, judge_unit, metres_in
from swinglab.records import Capture

#: A Parquet table is refused if it declares more bytes of numbers than this, and than this multiple of the file's size.
_PLAIN_BYTES, _MOST_COMPRESSION = 50_000_000, 50
#: Columns of 10,000 points with confidence; reading more would take minutes.
_MOST_COLUMNS = 40_000
#: Characters of a landmark's name, as many as a C3D label holds.
_LONGEST_NAME = 255
_AXES = ("x", "y", "z")
_CLOCKS = ("time_s", "frame")
_FORMS = (
    "a wide table (time_s or frame, <landmark>_x, <landmark>_y, <landmark>_z) or a long one (time_s or frame, "
    "landmark, x, y, z)"
)


@dataclass(frozen=True, slots=True)
class _Pose:
    """The numbers of a table before they are placed in frames with equal time steps; one row for each time.

    clock : "time_s" or "frame". moments : (n_rows,) values of this column. points : (n_rows, n_labels, 3) in the unit
    of the table. confidence : (n_rows, n_labels), None if the table has none.
    """

    clock: str
    moments: np.ndarray
    labels: tuple[str, ...]
    points: np.ndarray
    confidence: np.ndarray | None


def read_table(path: Path, *, unit: str | None, rate_hz: float | None) -> Capture:
    """Read a pose table; positions in metres, at frames with equal time steps.

    `unit`, `rate_hz` : unit of length and frame rate, if the study states them. With None, the unit is determined from
    the size of the body, and the rate from the times in the table. Raises UnreadableFile if the table cannot be read.
    """
    findings: list[str] = []
    table = _read_parquet(path) if path.suffix.lower() == ".parquet" else _read_csv(path)
    table.columns = table.columns.map(lambda name: str(name).strip())
    _refuse_columns(table, path)
    long = {"landmark", *_AXES} <= set(table.columns)
    pose = _long(table, path, findings) if long else _wide(table, path, findings)
    grid = (frame_grid if pose.clock == "frame" else time_grid)(pose.moments, rate_hz, path, findings)
    points, confidence = _on_grid(pose, grid)
    if not np.isfinite(points).any():
        raise UnreadableFile(
            "all positions in the table are missing", file=path, do="check the export of the table"
        )
    judged = unit is None
    if unit is None:
        unit = judge_unit(points)
        findings.append(
            f"a pose table does not state its unit; {unit} was assumed from the size of the body. If this is wrong, "
            "set unit under [lab] in study.toml"
        )
    unit_m = metres_in(unit, points)
    points *= unit_m
    doubt = doubt_unit(points, unit)
    findings += [doubt] if doubt else []
    return Capture(
        file=str(path),
        labels=pose.labels,
        points_m=points,
        rate_hz=grid.rate_hz,
        warnings=tuple(f"{path.name}: {text}" for text in findings),
        unit=unit,
        first_frame=grid.first_frame,
        kind="table",
        confidence=confidence,
        unit_judged=judged,
        unit_m=unit_m,
    )


# --- the file ----------------------------------------------------------------------------------------------


def _read_csv(path: Path) -> pd.DataFrame:
    do = f"give {_FORMS}"
    try:
        with path.open("rb") as stream:
            first = stream.readline()
        if b"\0" in first:
            raise UnreadableFile("the file is not a text file", file=path, do=do)
        number = max(first.count(b";"), first.count(b",")) + 1
        if number > _MOST_COLUMNS:
            raise UnreadableFile(
                f"the table has {number} columns, but at most {_MOST_COLUMNS} can be read", file=path, do=do
            )
        # A table from a spreadsheet that writes decimal commas has semicolons between its columns.
        continental = first.count(b";") > first.count(b",")
        return pd.read_csv(
            path, sep=";" if continental else ",", decimal="," if continental else ".", encoding="utf-8-sig",
            skipinitialspace=True, low_memory=False,
        )  # fmt: skip
    except pd.errors.EmptyDataError as problem:
        raise UnreadableFile("the file is empty", file=path, do=do) from problem
    except (pd.errors.ParserError, ValueError, OverflowError) as problem:
        what = " ".join(str(problem).split())[:160]
        raise UnreadableFile(f"the file is not a CSV table ({what})", file=path, do=do) from problem


def _read_parquet(path: Path) -> pd.DataFrame:
    if find_spec("pyarrow") is None:
        raise UnreadableFile(
            "Parquet files are read with the package pyarrow, which is not installed",
            file=path,
            do="run pip install 'swinglab[parquet]', or save the table as CSV",
        )
    import pyarrow
    from pyarrow import parquet

    try:
        stored = parquet.ParquetFile(path, memory_map=False)
        _refuse_size(path, stored.metadata.num_rows, stored.metadata.num_columns)
        # Columns of text and other types do not contain positions. Each landmark's name is stored once (dictionary).
        names = [
            field.name
            for field in stored.schema_arrow
            if field.name == "landmark" or _is_of_numbers(field.type, pyarrow.types)
        ]
        table = parquet.read_table(path, columns=names, memory_map=False, read_dictionary=["landmark"])
        table.validate(full=True)  # otherwise damaged text is detected only when it is first used
        # The pandas metadata about the index is not needed and may be damaged.
        frame = table.to_pandas(ignore_metadata=True)
        return frame[[name for name in frame.columns if not str(name).startswith("__index_level_")]]
    except (pyarrow.ArrowException, OSError, ValueError, TypeError) as problem:
        what = " ".join(str(problem).split())[:160]
        raise UnreadableFile(
            f"the file is not a Parquet table ({what})", file=path, do="export the table again"
        ) from problem


def _is_of_numbers(kind: Any, kinds: Any) -> bool:
    """Whether a column of a Parquet file can contain numbers, not text, bytes or lists.

    `kind` : Arrow type of the column. `kinds` : the module pyarrow.types.
    """
    held = kind.value_type if kinds.is_dictionary(kind) else kind
    tests = (kinds.is_string, kinds.is_large_string, kinds.is_binary, kinds.is_large_binary, kinds.is_nested)
    return not any(test(held) for test in tests)


def _refuse_size(path: Path, rows: int, columns: int) -> None:
    """Raise UnreadableFile if a table declares far more numbers than a file of this size can contain."""
    size = path.stat().st_size
    if 8 * rows * columns > max(_PLAIN_BYTES, _MOST_COMPRESSION * size):
        raise UnreadableFile(
            f"the file declares {rows} rows of {columns} columns, too much for a file of {size / 1e6:.1f} MB",
            file=path, do="export the table again",
        )  # fmt: skip


def _refuse_columns(table: pd.DataFrame, path: Path) -> None:
    """Raise UnreadableFile with all faults of the table's header in one message."""
    names = [str(name) for name in table.columns]
    known = set(names)
    faults = []
    twice = {name for name, count in Counter(names).items() if count > 1}
    # pandas numbers a repeated column: name.1
    numbered = (name.rpartition(".") for name in names)
    twice |= {stem for stem, _, number in numbered if number.isdigit() and stem in known}
    if twice:
        faults.append(f"columns occur twice: {shortened(sorted(twice))}")
    if not any(clock in known for clock in _CLOCKS):
        near = similar_names("time_s", names) or similar_names("frame", names)
        faults.append(f"there is no column time_s or frame{f' ({near})' if near else ''}")
    stems = dict.fromkeys(n[:-2] for n in names if n[-2:] in ("_x", "_y", "_z") and len(n) > 2)
    long = {"landmark", *_AXES} <= known
    lost = [f"{stem}_{axis}" for stem in stems for axis in _AXES if f"{stem}_{axis}" not in known]
    if lost and not long:
        faults.append(f"columns are missing: {shortened(lost)}")
    if not stems and not long:
        faults.append(f"no columns of landmarks; the columns are {', '.join(names[:12])}")
    if not len(table):
        faults.append("there are no rows")
    if faults:
        raise UnreadableFile(
            f"this is not a pose table: {'; '.join(faults)}", file=path, do=f"export it as {_FORMS}"
        )


def _numbers(table: pd.DataFrame, names: Sequence[str], path: Path, findings: list[str]) -> np.ndarray:
    """Columns as floats (n_rows, n_names); infinite values become NaN, with a warning in `findings`.

    Raises UnreadableFile if a cell contains text that is not a number.
    """
    some = table[list(names)]
    if all(kind.kind in "fiu" for kind in map(np.dtype, _plain_types(some))):
        values = some.to_numpy(dtype=float)
    else:
        try:
            made = some.apply(pd.to_numeric, errors="coerce")
        except OverflowError:  # an integer of hundreds of digits, which text reads as infinite
            made = some.astype(str).apply(pd.to_numeric, errors="coerce")
        bad = (made.isna() & some.notna()).to_numpy()
        if bad.any():
            row, column = np.argwhere(bad)[0]
            first = str(some.iat[row, column])[:40]
            raise UnreadableFile(
                f"{bad.sum()} cell{'s do' if bad.sum() > 1 else ' does'} not contain a number; the first contains "
                f"{first!r}", file=path,
                where=f"row {row + 2}, column {names[column]}", do="write a number, or leave the cell empty if the "
                "value is missing",
            )  # fmt: skip
        values = made.to_numpy(dtype=float, na_value=np.nan)
    infinite = np.isinf(values)
    if infinite.any():
        findings.append(f"{infinite.sum()} infinite values were treated as missing")
    # All NaN are replaced by a quiet NaN, because a signalling NaN from a file would cause a warning when used.
    return np.where(np.isfinite(values), values, np.nan)


def _plain_types(table: pd.DataFrame) -> list[np.dtype]:
    """numpy types of the columns; text and nullable columns count as objects."""
    return [kind if isinstance(kind, np.dtype) else np.dtype(object) for kind in table.dtypes]


# --- wide and long -----------------------------------------------------------------------------------------


def _clock(table: pd.DataFrame) -> str:
    return next(clock for clock in _CLOCKS if clock in table.columns)


def _wide(table: pd.DataFrame, path: Path, findings: list[str]) -> _Pose:
    labels = tuple(
        dict.fromkeys(name[:-2] for name in table.columns if name.endswith("_x") and len(name) > 2)
    )
    clock = _clock(table)
    columns = [f"{label}_{axis}" for label in labels for axis in _AXES]
    values = _numbers(table, [clock, *columns], path, findings)
    sure = [label for label in labels if f"{label}_confidence" in table.columns]
    confidence = None
    if sure:
        given = _numbers(table, [f"{label}_confidence" for label in sure], path, findings)
        confidence = np.full((len(table), len(labels)), np.nan)
        confidence[:, [label in set(sure) for label in labels]] = given
    used = {*columns, *_CLOCKS, *(f"{label}_confidence" for label in labels)}
    unused = [name for name in table.columns if name not in used]
    if unused:
        findings.append(
            f"columns that do not belong to landmarks were not read: {', '.join(map(str, unused[:6]))}"
        )
    return _Pose(clock, values[:, 0], labels, values[:, 1:].reshape(len(table), -1, 3), confidence)


def _long(table: pd.DataFrame, path: Path, findings: list[str]) -> _Pose:
    clock = _clock(table)
    numbers = [clock, *_AXES, *(["confidence"] if "confidence" in table.columns else [])]
    values = _numbers(table, numbers, path, findings)
    lost = ~np.isfinite(values[:, 0]) | table["landmark"].isna().to_numpy()
    if lost.any():
        raise UnreadableFile(
            f"{lost.sum()} row{'s have' if lost.sum() > 1 else ' has'} no value in the column {clock} or landmark",
            file=path, where=f"row {np.argmax(lost) + 2}", do="fill in the value, or remove the row",
        )  # fmt: skip
    # Before conversion to text, so that each name is converted only once.
    written, found = pd.factorize(table["landmark"])
    longest = max(len(str(name)) for name in found)
    if longest > _LONGEST_NAME:
        raise UnreadableFile(
            f"the name of a landmark has {longest} characters",
            file=path,
            do=f"shorten it to {_LONGEST_NAME} characters or fewer",
        )
    alike, stripped = pd.factorize(np.array([str(name).strip() for name in found], dtype=object))
    code, names = alike[written], tuple(map(str, stripped))
    _refuse_unsorted(values[:, 0], code, names, clock, path)
    moments, place = np.unique(values[:, 0], return_inverse=True)
    _refuse_size(path, len(moments), 3 * len(names))
    points = np.full((len(moments), len(names), 3), np.nan)
    points[place, code] = values[:, 1:4]
    confidence = None
    if len(numbers) == 5:
        confidence = np.full((len(moments), len(names)), np.nan)
        confidence[place, code] = values[:, 4]
    return _Pose(clock, moments, names, points, confidence)


def _refuse_unsorted(
    moments: np.ndarray, code: np.ndarray, names: Sequence[str], clock: str, path: Path
) -> None:
    """Raise UnreadableFile if the times of a landmark in a long table do not increase (equal times: duplicates)."""
    order = np.argsort(code, kind="stable")
    steps = np.diff(moments[order])
    bad = np.flatnonzero((steps <= 0) & (np.diff(code[order]) == 0))
    if len(bad):
        row = order[bad[0] + 1]
        what = "appears twice" if steps[bad[0]] == 0 else "is not in order of time"
        raise UnreadableFile(
            f"the landmark {names[code[row]]} {what} at {clock} {moments[row]:g} ({len(bad)} such rows)", file=path,
            where=f"row {row + 2}", do="sort the rows by time and remove repeated rows",
        )  # fmt: skip


# --- an even grid ------------------------------------------------------------------------------------------


def _on_grid(pose: _Pose, grid: Grid) -> tuple[np.ndarray, np.ndarray | None]:
    """Points (frames, n_labels, 3) and confidence (frames, n_labels; None if there is none) at equal time steps.

    Rows are placed at their frames or, if their time steps are unequal, resampled.
    """
    flat = pose.points.reshape(len(pose.points), -1)
    if grid.times_s is None:
        values = np.full((grid.frames, flat.shape[1]), np.nan)
        values[grid.places] = flat
        sure = None
        if pose.confidence is not None:
            sure = np.full((grid.frames, len(pose.labels)), np.nan)
            sure[grid.places] = pose.confidence
        return values.reshape(grid.frames, -1, 3), sure
    values = grid.resample(pose.moments, flat)
    sure = None if pose.confidence is None else grid.resample(pose.moments, pose.confidence, linear=True)
    return values.reshape(grid.frames, -1, 3), sure
