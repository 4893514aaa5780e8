"""Changes of single rows and cells of a study's swings.csv; the file is replaced atomically."""

from __future__ import annotations

from pathlib import Path

import pandas as pd

from swinglab.errors import BadRequest
from swinglab.study import read_table, store_table

FILE = "swings.csv"


def append_row(folder: Path, cells: dict[str, str]) -> None:
    """Append the row of a swing to swings.csv; a column that the file lacks is added and is empty in earlier rows.

    Parameters
    ----------
    folder : Path
        The study folder.
    cells : dict
        Column -> text.
    """
    table = read_table(folder / FILE, shown=FILE)
    for name in cells:
        if name not in table.columns:
            table[name] = ""
    row = pd.DataFrame([{name: cells.get(name, "") for name in table.columns}])
    store_table(pd.concat([table, row], ignore_index=True), folder / FILE)


def set_cell(folder: Path, swing: str, column: str, value: str) -> str:
    """Set one cell of a swing's row in swings.csv and return its old text.

    A column that the file lacks is added.

    Raises
    ------
    BadRequest
        The swing is unknown, or the file cannot be written.
    """
    table = read_table(folder / FILE, shown=FILE)
    own = _own(table, swing)
    before = str(table.loc[own, column].iloc[0]) if column in table.columns else ""
    if column not in table.columns:
        table[column] = ""
    table.loc[own, column] = value
    store_table(table, folder / FILE)
    return before


def _own(table: pd.DataFrame, swing: str) -> pd.Series:
    own = table["swing"] == swing
    if not own.any():
        raise BadRequest(
            f"there is no swing {swing} in this table", file=FILE, do="check the name in the column swing"
        )
    return own
