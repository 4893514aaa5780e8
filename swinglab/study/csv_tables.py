"""CSV tables in and out: text stays text, spreadsheets cannot be made to calculate, nothing is evaluated."""

from __future__ import annotations

import re
from pathlib import Path

import pandas as pd

from swinglab.errors import UnreadableFile

#: Text that a spreadsheet would take for a formula (design: = + - @, tab, carriage return), guarded or not.
_FORMULA = re.compile(r"^'*[=+\-@\t\r]")
_GUARDED = re.compile(r"^'+[=+\-@\t\r]")


def guard(text: object) -> object:
    """Text as it is written to a CSV: what begins like a formula gets a leading apostrophe.

    Examples
    --------
    >>> guard("=1+1"), guard("G07"), guard(-3.5)
    ("'=1+1", 'G07', -3.5)
    """
    return f"'{text}" if isinstance(text, str) and _FORMULA.match(text) else text


def unguard(text: str) -> str:
    """Text as it was before `guard`."""
    return text[1:] if _GUARDED.match(text) else text


def write_table(table: pd.DataFrame, path: Path) -> Path:
    """Write a table as UTF-8 CSV with guarded text and nine significant digits."""
    guarded = table.copy()
    for name in guarded.columns:
        if not pd.api.types.is_numeric_dtype(guarded[name]):
            guarded[name] = guarded[name].map(guard)
    guarded.columns = [guard(str(name)) for name in guarded.columns]
    guarded.to_csv(path, index=False, float_format="%.9g", lineterminator="\n", encoding="utf-8")
    return path


def read_table(path: Path, *, shown: str) -> pd.DataFrame:
    """Read a CSV whose cells are all text (empty where nothing stands); `shown` names it in errors.

    Raises
    ------
    UnreadableFile
        The file is missing, empty, not UTF-8 text, ragged, or separated by semicolons.
    """
    try:
        table = pd.read_csv(
            path, dtype=str, keep_default_na=False, encoding="utf-8-sig", skipinitialspace=True
        )
    except FileNotFoundError as error:
        raise UnreadableFile("the file is missing", file=shown, do="add it to the study folder") from error
    except pd.errors.EmptyDataError as error:
        raise UnreadableFile("the file is empty", file=shown, do="give it a header line and rows") from error
    except UnicodeDecodeError as error:
        raise UnreadableFile("this is not UTF-8 text", file=shown, do="save it as CSV, UTF-8") from error
    except (pd.errors.ParserError, OSError) as error:
        raise UnreadableFile(f"this cannot be read as a CSV table ({error})", file=shown) from error
    if len(table.columns) == 1 and ";" in table.columns[0]:
        raise UnreadableFile("the columns are separated by semicolons", file=shown, do="save it with commas")
    table.columns = [unguard(str(name).strip()) for name in table.columns]
    return table.map(lambda cell: unguard(cell.strip()) if isinstance(cell, str) else "")


def numbers_where_all(table: pd.DataFrame, names: list[str]) -> pd.DataFrame:
    """The table with those columns turned into numbers in which every filled cell is one."""
    made = table.copy()
    for name in names:
        filled = table[name] != ""
        numbers = pd.to_numeric(table[name].where(filled), errors="coerce")
        if filled.any() and numbers[filled].notna().all():
            made[name] = numbers.astype(float)
    return made
