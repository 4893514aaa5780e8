"""Tables of many swings in little memory, each word stored once: 10,000 swings have eight million posture rows."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
import pandas as pd

SWING = "swing"
#: Number of rows that are processed at a time when words are numbered again.
_ROWS = 1_000_000


class LongTable:
    """Collector of the rows of many swings: they are added in any order and returned in the order of the study.

    Text columns become categories; other columns keep their type. All swings must have the same columns. Each column is
    one growing array, because memory of thousands of small arrays is not returned to the system after they are freed.
    """

    def __init__(self) -> None:
        self._words: dict[str, dict[str, int]] = {}
        self._columns: dict[str, np.ndarray] = {}
        self._places: dict[str, tuple[int, int]] = {}
        self._rows = 0

    def __contains__(self, swing: str) -> bool:
        return swing in self._places

    def add(self, swing: str, table: pd.DataFrame) -> None:
        """Add the rows of one swing; a column `swing` of the table is not used."""
        end = self._rows + len(table)
        for name in table.columns:
            if name != SWING:
                values = table[name]
                is_number = pd.api.types.is_numeric_dtype(values)
                self._append(name, values.to_numpy() if is_number else self._codes(name, values), end)
        self._places[swing] = (self._rows, end)
        self._rows = end

    def _append(self, name: str, values: np.ndarray, end: int) -> None:
        column = self._columns.setdefault(name, np.empty(0, values.dtype))
        if not np.can_cast(values.dtype, column.dtype):
            column = self._columns[name] = column.astype(np.result_type(values, column))
        if end > len(column):
            column.resize(end + end // 8, refcheck=False)
        column[self._rows : end] = values

    def _codes(self, name: str, values: pd.Series) -> np.ndarray:
        known = self._words.setdefault(name, {})
        codes, words = pd.factorize(values)
        numbers = [known.setdefault(str(word), len(known)) for word in words]
        return np.array(numbers, dtype=np.int16 if len(known) < 2**15 else np.int32)[codes]

    def table(self, swings: Sequence[str]) -> pd.DataFrame:
        """Return the rows of these swings as one table, in this order, and empty the collector.

        Categories are in order of first appearance in the returned table, whatever the order of adding swings.
        """
        places = np.array([self._places[swing] for swing in swings]).reshape(-1, 2)
        rows = places[:, 1] - places[:, 0]
        start = np.concatenate([[0], np.cumsum(rows)])
        # Indices of the rows to return; needed if swings were added in another order, or some are not returned.
        order = None
        if not np.array_equal(places[:, 0], start[:-1]):
            order = np.repeat(places[:, 0] - start[:-1], rows) + np.arange(start[-1])
        made: dict[str, Any] = {
            SWING: pd.Categorical.from_codes(
                np.repeat(np.arange(len(rows), dtype=np.int16 if len(rows) < 2**15 else np.int32), rows),
                pd.Index(list(swings)),
            )
        }
        for name in list(self._columns):
            values = self._columns.pop(name)
            if order is None:
                values.resize(start[-1], refcheck=False)
            else:
                values = values[order]
            made[name] = self._categories(name, values) if name in self._words else values
        self._places, self._rows = {}, 0
        return pd.DataFrame(made, copy=False)

    def _categories(self, name: str, codes: np.ndarray) -> pd.Categorical[str]:
        found: dict[int, int] = {}
        for first in range(0, len(codes), _ROWS):
            for code in pd.unique(codes[first : first + _ROWS]):
                found.setdefault(int(code), len(found))
        words = list(self._words[name])
        number = np.zeros(len(words), codes.dtype)
        number[list(found)] = list(found.values())
        return pd.Categorical.from_codes(number[codes], pd.Index([words[code] for code in found]))


class SwingRows:
    """Collector of one row for each swing: rows are added in any order and returned in the order of the study."""

    def __init__(self) -> None:
        self._rows: dict[str, tuple[tuple[str, ...], tuple]] = {}
        self._kept: dict[Any, Any] = {}

    def add(self, swing: str, row: Mapping[str, Any] | None) -> None:
        """Add the row of one swing (column -> value); with None the row contains only the name of the swing."""
        names = tuple(row) if row else ()
        values = tuple(self._kept.setdefault(v, v) if isinstance(v, str) else v for v in (row or {}).values())
        self._rows[swing] = self._kept.setdefault(names, names), values

    def table(self, swings: Sequence[str]) -> pd.DataFrame:
        """Return the rows of these swings as a table, in this order; missing values are NaN.

        Columns are in the order in which they first appeared.
        """
        names = dict.fromkeys(
            name for known in dict.fromkeys(self._rows[s][0] for s in swings) for name in known
        )
        columns: dict[str, list] = {name: [] for name in dict.fromkeys([SWING, *names])}
        for swing in swings:
            row = {SWING: swing, **dict(zip(*self._rows[swing], strict=True))}
            for name, values in columns.items():
                values.append(row.get(name, np.nan))
        return pd.DataFrame(columns)
