"""Which swings a question is about: those that `where` keeps."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import pandas as pd

from swinglab.errors import BadTable
from swinglab.statistics.design import check_columns, is_number


def rows_where(table: pd.DataFrame, where: Mapping[str, Any]) -> pd.DataFrame:
    """Rows of a table that meet every condition.

    Parameters
    ----------
    table : pandas.DataFrame
    where : mapping
        Column -> a list of the values kept, or ``{"from": low, "to": high}`` (both ends kept) of a number.

    Raises
    ------
    BadTable
        An unknown column, ends for a column that is not numeric, or no row left.

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
            raise BadTable(f"{name} is not numeric, so it has no values from and to", do="list its values")
        kept &= table[name].between(wanted.get("from", float("-inf")), wanted.get("to", float("inf")))
    if not kept.any():
        raise BadTable(f"no swing meets the condition on {', '.join(where)}")
    return table.loc[kept]
