"""The complete rows of a table, the levels of a column, and the note on rows that were left out."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd

from swinglab.errors import BadTable
from swinglab.finding_words import Note
from swinglab.statistics.design import UNBOUNDED, check_columns, holds, is_number


def complete_rows(
    table: pd.DataFrame, *, numeric: Sequence[str], other: Sequence[str] = ()
) -> tuple[pd.DataFrame, int]:
    """Rows with a value in every one of these columns, and the number of rows left out.

    Raises BadTable for an unknown column, a column of `numeric` that is not numeric, an infinite value, or no
    complete row.
    """
    wanted = list(dict.fromkeys([*numeric, *other]))
    check_columns(table, wanted)
    words = [name for name in numeric if not is_number(table[name])]
    if words:
        raise BadTable(f"{', '.join(words)} must be numeric")
    kept = table[wanted].notna().all(axis=1)
    # An index with the name of a column would make that name ambiguous.
    rows = table.loc[kept.to_numpy(), wanted].rename_axis(index=[None] * table.index.nlevels)  # type: ignore[list-item]
    if rows.empty:
        raise BadTable(f"no row has a value in every one of {', '.join(wanted)}")
    held = {name: float for name in numeric if rows[name].dtype == object}
    rows = rows.astype(held) if held else rows
    infinite = [name for name in numeric if not holds(rows[name].to_numpy(float))]
    if infinite:
        raise BadTable(f"{', '.join(infinite)} holds {UNBOUNDED}")
    return rows, int((~kept).sum())


def numbers_of(values: Sequence[float] | np.ndarray | pd.Series, name: str) -> np.ndarray:
    """Convert a sequence to floats (n,), missing values to NaN. Raises BadTable for anything but real numbers."""
    column = pd.Series(values if isinstance(values, pd.Series) else np.ravel(np.asarray(values))).reset_index(
        drop=True
    )
    known = column.dropna()
    if len(known) and not is_number(known):
        raise BadTable(f"{name} must be numeric")
    numbers = np.full(len(column), np.nan)
    numbers[column.notna().to_numpy()] = known.to_numpy(float)
    if not holds(known.to_numpy(float)):
        raise BadTable(f"{name} holds {UNBOUNDED}")
    return numbers


def levels_of(values: pd.Series) -> tuple:
    """Levels present, in declared (Categorical) or sorted order; the first is the base."""
    present = set(values)
    if isinstance(values.dtype, pd.CategoricalDtype):
        return tuple(level for level in values.cat.categories if level in present)
    return tuple(sorted(present) if is_number(values) else sorted(present, key=str))


def dropped_words(dropped: int) -> list[Note]:
    """List with the note on the number of rows left out; empty if there are none."""
    return [Note("rows_dropped", rows=dropped)] if dropped else []


def listed(names: Sequence) -> str:
    """Names separated by commas, for a message."""
    return ", ".join(str(name) for name in names)
