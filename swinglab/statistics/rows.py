"""Rows of a table without missing values, the levels of a column, and a note on rows that are not used."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd

from swinglab.errors import BadTable
from swinglab.finding_words import Note
from swinglab.statistics.design import check_columns, holds, is_number


def complete_rows(
    table: pd.DataFrame, *, numeric: Sequence[str], other: Sequence[str] = ()
) -> tuple[pd.DataFrame, int]:
    """Return the rows that have values in all of these columns, and the number of the other rows.

    Raises
    ------
    BadTable
        An unknown column, a column of `numeric` that is not numeric, an infinite value, or no row with all values.
    """
    wanted = list(dict.fromkeys([*numeric, *other]))
    check_columns(table, wanted)
    words = [name for name in numeric if not is_number(table[name])]
    if words:
        raise BadTable(
            f"{', '.join(words)} must be numeric, but the column{'s' * (len(words) > 1)} contain"
            f"{'s' * (len(words) == 1)} text",
            do="correct the column, or choose another one",
        )
    kept = table[wanted].notna().all(axis=1)
    # An index with the name of a column would make that name ambiguous.
    rows = table.loc[kept.to_numpy(), wanted].rename_axis(index=[None] * table.index.nlevels)  # type: ignore[list-item]
    if rows.empty:
        raise BadTable(
            f"no row has values in all of these columns: {', '.join(wanted)}",
            do="fill in missing values, or leave out columns",
        )
    held = {name: float for name in numeric if rows[name].dtype == object}
    rows = rows.astype(held) if held else rows
    infinite = [name for name in numeric if not holds(rows[name].to_numpy(float))]
    if infinite:
        raise BadTable(
            f"the column {', '.join(infinite)} contains an infinite value",
            do="correct the infinite values, or leave them empty",
        )
    return rows, int((~kept).sum())


def numbers_of(values: Sequence[float] | np.ndarray | pd.Series, name: str) -> np.ndarray:
    """Return a sequence as an array of floats (n,), with NaN for missing values.

    `name` is used in the message of the BadTable that is raised if a value is not a finite real number.
    """
    column = pd.Series(values if isinstance(values, pd.Series) else np.ravel(np.asarray(values))).reset_index(
        drop=True
    )
    known = column.dropna()
    if len(known) and not is_number(known):
        raise BadTable(f"{name} must be numeric, but other values were given", do="give numbers only")
    numbers = np.full(len(column), np.nan)
    numbers[column.notna().to_numpy()] = known.to_numpy(float)
    if not holds(known.to_numpy(float)):
        raise BadTable(
            f"{name} contains an infinite value", do="correct the infinite values, or leave them out"
        )
    return numbers


def levels_of(values: pd.Series) -> tuple:
    """Return the different values of a column, in the order of a Categorical, otherwise sorted.

    The first is the reference level of a regression.
    """
    present = set(values)
    if isinstance(values.dtype, pd.CategoricalDtype):
        return tuple(level for level in values.cat.categories if level in present)
    return tuple(sorted(present) if is_number(values) else sorted(present, key=str))


def dropped_words(dropped: int) -> list[Note]:
    """Return a list with one note on the number of rows that are not used; an empty list if there are none."""
    return [Note("rows_dropped", rows=dropped)] if dropped else []


def listed(names: Sequence) -> str:
    """Return names separated by commas, for a message."""
    return ", ".join(str(name) for name in names)
