"""Selection of swings by the setting `where` of a question, such as one club or a range of sessions."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import pandas as pd

from swinglab import columns
from swinglab.errors import BadTable
from swinglab.records import Comparison, Hunch, Lesson
from swinglab.statistics.design import check_columns, is_number

#: Keys of a question that name a column or a quantity.
_NAMING = ("posture", "outcome", "of", "between", "phase")


def columns_asked(table: pd.DataFrame, question: Hunch | Comparison | Lesson) -> pd.DataFrame:
    """Return the swing table without the posture columns that a question does not use.

    This saves memory: with 10,000 swings each copy of the whole table takes 0.14 GB. If the question names a column
    that the table does not have, all columns are kept, so that the error message can suggest similar names.
    """
    named = {str(value) for key in _NAMING if isinstance(value := getattr(question, key, None), str)}
    named |= {*getattr(question, "adjust", ()), *getattr(question, "where", {})}
    if not all(name in table.columns or name in columns.QUANTITIES for name in named):
        return table
    return table[[name for name in table.columns if _is_asked(str(name), named)]]


def _is_asked(name: str, named: set[str]) -> bool:
    if not columns.is_column(name):
        return True
    column = columns.column(columns.column(name).error_of or name)
    return column.kind != "posture" or column.name in named or column.quantity in named


def rows_where(table: pd.DataFrame, where: Mapping[str, Any]) -> pd.DataFrame:
    """Return the rows of a table that meet all conditions.

    Parameters
    ----------
    table : pandas.DataFrame
    where : mapping
        Column -> list of values to keep, or, for a numeric column, ``{"from": low, "to": high}`` with both limits
        included; either limit can be omitted.

    Raises
    ------
    BadTable
        An unknown column, a range for a column that is not numeric, or no matching row.

    Examples
    --------
    >>> swings = pd.DataFrame({"club": ["driver", "7 iron", "7 iron"], "order": [1, 2, 3]})
    >>> rows_where(swings, {"club": ["7 iron"], "order": {"to": 2}}).index.tolist()
    [1]
    """
    check_columns(table, where)
    kept = pd.Series(True, index=table.index)
    for name, wanted in where.items():
        if not isinstance(wanted, Mapping):
            kept &= table[name].isin(list(wanted)) | table[name].astype(str).isin([str(v) for v in wanted])
            continue
        if not is_number(table[name]):
            raise BadTable(
                f"the column {name} is not numeric, so it cannot be selected by a range (`from` and `to` in `where`)",
                do="list the values to keep instead",
            )
        kept &= table[name].between(wanted.get("from", float("-inf")), wanted.get("to", float("inf")))
    if not kept.any():
        raise BadTable(
            f"no swing is selected by the conditions in `where` (on {', '.join(where)})",
            do="change the conditions, or correct the values in swings.csv and golfers.csv",
        )
    return table.loc[kept]
