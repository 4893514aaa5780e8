"""Reading and writing of CSV tables; text in cells is never evaluated, here or as a formula in a spreadsheet."""

from __future__ import annotations

import contextlib
import csv
import gzip
import io
import re
from importlib.util import find_spec
from pathlib import Path
from typing import NamedTuple
from zipfile import BadZipFile

import numpy as np
import pandas as pd

from swinglab.errors import BadRequest, StudyFaults, SwinglabError, UnreadableFile
from swinglab.study.file_hashes import is_file, is_there

#: Largest number of rows below the header that spreadsheets can show.
ROWS_OF_A_SHEET = 1_048_575
_CELLS_AT_A_TIME = 200_000
#: Largest number of columns; a larger table is surely a mistake and would take minutes to check.
MOST_COLUMNS = 5_000
_COMMA = re.compile(r"^(\s*[+-]?\d+),(\d+\s*)$")
#: Text that a spreadsheet reads as a formula: it begins with = + - @ (also full-width), a tab or a carriage return.
#: The first pattern matches it with or without leading apostrophes, the second only with them.
_FORMULA = re.compile("^'*[=+\\-@\t\r\uff1d\uff0b\uff0d\uff20]")
_GUARDED = re.compile("^'+[=+\\-@\t\r\uff1d\uff0b\uff0d\uff20]")


def guard(text: object) -> object:
    """Return a cell's value as it is written to a CSV file: text that begins like a formula gets a leading apostrophe.

    Examples
    --------
    >>> guard("=1+1"), guard("G07"), guard(-3.5)
    ("'=1+1", 'G07', -3.5)
    """
    return f"'{text}" if isinstance(text, str) and _FORMULA.match(text) else text


def unguard(text: str) -> str:
    """Return the text of a cell without the leading apostrophe that `guard` added; the inverse of `guard`."""
    return text[1:] if _GUARDED.match(text) else text


def write_table(table: pd.DataFrame, path: Path) -> Path:
    """Write a table as UTF-8 CSV and return `path`; numbers have nine significant digits.

    Text that begins like a formula gets a leading apostrophe, so that a spreadsheet does not evaluate it.
    """
    guarded = table.copy(deep=False)
    for name in guarded.columns:
        if pd.api.types.is_numeric_dtype(guarded[name]):
            continue
        # Long tables repeat a few words: each different word is checked only once.
        if any(_in_one_row(word) is not word for word in guarded[name].unique()):
            guarded[name] = guarded[name].map(_in_one_row)
    guarded.columns = [_in_one_row(str(name)) for name in guarded.columns]
    _write_rows(guarded, path)
    return path


def table_path(folder: Path, name: str, rows: int = 0) -> Path:
    """Return the path at which a table is written: NAME.csv, or NAME.csv.gz if it is too long for a spreadsheet.

    name : name of the table without an ending. rows : its number of rows.
    """
    return folder / (f"{name}.csv.gz" if rows > ROWS_OF_A_SHEET else f"{name}.csv")


def written_path(folder: Path, name: str) -> Path:
    """Return the path at which a table was written: NAME.csv.gz if this file exists, otherwise NAME.csv."""
    packed = table_path(folder, name, ROWS_OF_A_SHEET + 1)
    return packed if packed.exists() else table_path(folder, name)


def _write_rows(table: pd.DataFrame, path: Path) -> None:
    """Write rows in chunks, which takes half the time of pandas' number formatting."""
    # Compression level 1 takes a sixth of the time of the default level, and the file is a fifth larger.
    packed = gzip.GzipFile(path, "wb", compresslevel=1, mtime=0) if path.suffix == ".gz" else path.open("wb")
    with packed as stream, io.TextIOWrapper(stream, encoding="utf-8", newline="") as text:
        writer = csv.writer(text, lineterminator="\n")
        writer.writerow(table.columns)
        step = max(1, _CELLS_AT_A_TIME // max(1, table.shape[1]))
        for first in range(0, len(table), step):
            part = table.iloc[first : first + step]
            writer.writerows(zip(*(_cells(part.iloc[:, k]) for k in range(part.shape[1])), strict=True))


def _cells(values: pd.Series) -> list:
    """Return a column's cells as written: numbers with nine significant digits, missing values empty."""
    if pd.api.types.is_float_dtype(values):
        numbers = values.tolist()
        return [cell if cell != "nan" else "" for cell in ("%.9g " * len(numbers) % tuple(numbers)).split()]
    return values.astype(object).where(values.notna(), "").tolist()


def _in_one_row(text: object) -> object:
    """Return guarded text without carriage returns, which would start a new row."""
    return guard(text.replace("\r", " ") if isinstance(text, str) else text)


def store_table(table: pd.DataFrame, path: Path) -> pd.DataFrame:
    """Write a small table of a study folder atomically and return it; if the table is empty, its file is removed.

    Raises
    ------
    BadRequest
        The file cannot be written (a full disk, a folder without write access); an existing file is unchanged.
    """
    beside = path.with_name(f"{path.name}.new")
    try:
        if table.empty:
            path.unlink(missing_ok=True)
        else:
            write_table(table, beside)
            beside.replace(path)
    except OSError as error:
        with contextlib.suppress(OSError):
            beside.unlink(missing_ok=True)
        raise BadRequest(
            f"the file cannot be written ({error.strerror or error}), so it is unchanged",
            file=path.name,
            do="free space on the disk, close other programs that use the file, or make its folder writable; then try "
            "again",
        ) from error  # fmt: skip
    return table


def read_rows_by_hand(folder: Path | None, file: str, columns: list[str], needed: int) -> pd.DataFrame:
    """Read a table that records decisions by hand, such as events_by_hand.csv; all cells are text.

    Without the file, the result is an empty table.

    Parameters
    ----------
    folder : Path or None
        The study folder; None gives an empty table.
    file : str
        Name of the file, such as events_by_hand.csv.
    columns : list of str
        All columns of the table. A missing column is added with empty cells if it is not needed.
    needed : int
        The first `needed` columns must be in the file.

    Raises
    ------
    StudyFaults
        The file cannot be read, or a needed column is missing.
    """
    if folder is None or not (folder / file).exists():
        return pd.DataFrame({name: pd.Series(dtype=str) for name in columns})
    try:
        table = read_table(folder / file, shown=file)
    except UnreadableFile as error:
        raise StudyFaults([error]) from error
    lacking = [name for name in columns[:needed] if name not in table.columns]
    if lacking:
        raise StudyFaults(
            [
                SwinglabError(
                    f"missing columns: {', '.join(lacking)}",
                    file=file,
                    do="add what is missing, or remove the file",
                )
            ]
        )
    return table.reindex(columns=columns, fill_value="")


def read_table(path: Path, *, shown: str, notes: list[str] | None = None) -> pd.DataFrame:
    """Read a CSV file and return a table with all cells as text; missing cells are empty.

    If the header has semicolons between columns, the file is read with semicolons, and a note is added.

    Parameters
    ----------
    path : Path
    shown : str
        Name of the file in error messages.
    notes : list of str, optional
        Notes for the user are appended to this list.

    Raises
    ------
    UnreadableFile
        The file is missing, empty, not UTF-8 text, or has too many columns, rows of unequal length, or cells beyond the
        header that are not empty.
    """
    if not is_file(path) and is_there(path):  # reading a link to a device would never end
        raise UnreadableFile(
            "this is a folder or a device, not a file", file=shown, do="replace it by a CSV table"
        )
    try:
        table = _read_cells(path, ",", shown)
        semicolons = len(table.columns) == 1 and ";" in table.columns[0]
        if semicolons:
            table = _read_cells(path, ";", shown)
            if notes is not None:
                notes.append(f"{shown}: the file was read with semicolons between columns and decimal commas")
    except FileNotFoundError as error:
        raise UnreadableFile("the file is missing", file=shown, do="add it to the study folder") from error
    except pd.errors.EmptyDataError as error:
        raise UnreadableFile(
            "the file is empty", file=shown, do="write a header line and rows into the file"
        ) from error
    except UnicodeDecodeError as error:
        raise UnreadableFile(
            "the file is not UTF-8 text", file=shown, do="save the file as CSV with the encoding UTF-8"
        ) from error
    except (pd.errors.ParserError, OSError) as error:
        raise UnreadableFile(
            f"the file cannot be read as a CSV table ({error})", file=shown, do="save the table again as CSV"
        ) from error
    if not isinstance(table.index, pd.RangeIndex):
        table = _with_first_columns(table, shown)
    if semicolons:
        # With semicolons as separators the comma is the decimal mark, never a thousands separator.
        table = table.map(lambda cell: _COMMA.sub(r"\1.\2", cell))
    table.columns = [unguard(str(name)).strip() for name in table.columns]
    return table.map(lambda cell: unguard(cell).strip() if isinstance(cell, str) else "")


def _with_first_columns(table: pd.DataFrame, shown: str) -> pd.DataFrame:
    """Return a table whose rows have more cells than the header, with each cell under its own name.

    pandas uses the first columns of such a table as the index. Empty cells beyond the header, from a separator at the
    end of each row, are dropped.

    Raises
    ------
    UnreadableFile
        A cell beyond the header is not empty.
    """
    first = table.index.to_frame(index=False)
    whole = pd.concat([first, table.reset_index(drop=True)], axis=1)
    number = len(table.columns)
    beyond = np.flatnonzero((whole.iloc[:, number:].fillna("").map(str.strip) != "").any(axis=1))
    if len(beyond):
        raise UnreadableFile(
            "this row has more cells than the header has columns",
            file=shown,
            where=f"row {beyond[0] + 2}",
            do="add the missing column names to the header, or remove the cells that belong to no column",
        )
    return whole.iloc[:, :number].set_axis(table.columns, axis=1)


def read_own_table(folder: Path, file: str, notes: list[str] | None = None) -> pd.DataFrame:
    """Read golfers.csv or swings.csv of a study folder, or the .xlsx file of the same name if there is no CSV file.

    All cells are returned as text. Notes for the user are appended to `notes`.

    Raises
    ------
    UnreadableFile
        As for `read_table` and `read_sheet`.
    """
    sheet = folder / file.replace(".csv", ".xlsx")
    if not (folder / file).exists() and sheet.exists():
        return read_sheet(sheet, shown=sheet.name)
    return read_table(folder / file, shown=file, notes=notes)


def read_sheet(path: Path, *, shown: str) -> pd.DataFrame:
    """Read a CSV file, or the first sheet of an .xlsx file, with all cells as text; formulas are not evaluated.

    shown : name of the file in error messages.

    Raises
    ------
    UnreadableFile
        As for `read_table`; also if an .xlsx file cannot be read, or the package openpyxl is not installed.
    """
    if path.suffix.lower() != ".xlsx":
        return read_table(path, shown=shown)
    if find_spec("openpyxl") is None:
        raise UnreadableFile(
            "reading .xlsx files needs the Python package openpyxl, which is not installed",
            file=shown,
            do="save the table as CSV, or run pip install 'swinglab[xlsx]'",
        )  # fmt: skip
    try:
        table = pd.read_excel(path, dtype=str, keep_default_na=False, engine="openpyxl")
    except FileNotFoundError as error:
        raise UnreadableFile("the file is missing", file=shown, do="add it to the study folder") from error
    except (ValueError, OSError, KeyError, BadZipFile, SyntaxError) as error:
        raise UnreadableFile(
            f"the file cannot be read as an .xlsx table ({error})", file=shown, do="save the table as CSV"
        ) from error
    table.columns = [unguard(str(name)).strip() for name in table.columns]
    return table.map(lambda cell: unguard(str(cell)).strip())


def _read_cells(path: Path, separator: str, shown: str) -> pd.DataFrame:
    with path.open("rb") as stream:
        number = stream.readline().count(separator.encode()) + 1
    if number > MOST_COLUMNS:
        raise UnreadableFile(
            f"the table has {number} columns, but at most {MOST_COLUMNS} can be read",
            file=shown,
            do="remove the columns that the study does not use",
        )
    return pd.read_csv(
        path, sep=separator, dtype=str, keep_default_na=False, encoding="utf-8-sig", skipinitialspace=True
    )


class Numbers(NamedTuple):
    """Result of reading the cells of a column as numbers.

    numbers : the numbers, NaN for an empty cell; None if a cell is neither empty nor a number, if all cells are empty,
    or if commas are ambiguous. commas : whether decimal commas were read. ambiguous : indices of cells such as 1,830,
    in which the comma may be a decimal comma or a thousands separator. words : indices of cells that are not numbers,
    in a column in which at least 80 % of the filled cells are numbers.
    """

    numbers: pd.Series | None
    commas: bool = False
    ambiguous: tuple[int, ...] = ()
    words: tuple[int, ...] = ()


def read_numbers(cells: pd.Series) -> Numbers:
    """Read text cells as numbers, with a decimal point or a decimal comma.

    Examples
    --------
    >>> read_numbers(pd.Series(["12,4", "", "3"])).numbers.tolist()
    [12.4, nan, 3.0]
    >>> read_numbers(pd.Series(["1,830", "1,765"])).ambiguous
    (0, 1)
    """
    filled = cells != ""
    with_comma = cells.str.fullmatch(_COMMA)
    numbers = pd.to_numeric(
        cells.where(~with_comma, cells.str.replace(",", ".")).where(filled), errors="coerce"
    )
    bad = filled & numbers.isna()
    if bad.any():
        few = bad.sum() <= 0.2 * filled.sum()
        return Numbers(None, words=tuple(np.flatnonzero(bad)) if few else ())
    if not filled.any():
        return Numbers(None)
    thousand = cells.str.fullmatch(r"[+-]?[1-9]\d{0,2},\d{3}")
    if with_comma.any() and (thousand | ~with_comma)[filled].all():
        return Numbers(None, ambiguous=tuple(np.flatnonzero(thousand).tolist()))
    return Numbers(numbers.astype(float), commas=bool(with_comma.any()))
