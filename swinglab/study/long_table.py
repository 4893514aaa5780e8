"""Tables of many swings, with each word kept once: 10,000 swings have eight million rows of posture."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
import pandas as pd

SWING = "swing"
#: Rows whose words are numbered at a time.
_ROWS = 1_000_000


class LongTable:
    """Rows of many swings as they come, put together in the order of the study.

    Text is kept as codes of its words, and becomes categories; all else as it is. All swings have the same columns,
    of which `SWING` holds one value for all rows of a swing. Each column is one array that grows in place: small
    arrays by the thousand would stay in the process's memory after they are freed.
    """

    def __init__(self) -> None:
        self._words: dict[str, dict[str, int]] = {}
        self._columns: dict[str, np.ndarray] = {}
        self._places: dict[str, tuple[int, int]] = {}
        self._rows = 0

    def __contains__(self, swing: str) -> bool:
        return swing in self._places

    def add(self, swing: str, table: pd.DataFrame) -> None:
        """Keep the rows of a swing."""
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
        """The rows of these swings, in this order; this object then holds no rows any longer.

        Words are numbered by their first appearance in this order, whatever the order in which swings came.
        """
        places = np.array([self._places[swing] for swing in swings]).reshape(-1, 2)
        rows = places[:, 1] - places[:, 0]
        start = np.concatenate([[0], np.cumsum(rows)])
        # The place of every row, where swings came in another order or some are left out.
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
    """One row a swing as they come, put together in the order of the study; equal words are kept once."""

    def __init__(self) -> None:
        self._rows: dict[str, tuple[tuple[str, ...], tuple]] = {}
        self._kept: dict[Any, Any] = {}

    def add(self, swing: str, row: Mapping[str, Any] | None) -> None:
        """Keep the row of a swing, None for one that has its name alone."""
        names = tuple(row) if row else ()
        values = tuple(self._kept.setdefault(v, v) if isinstance(v, str) else v for v in (row or {}).values())
        self._rows[swing] = self._kept.setdefault(names, names), values

    def table(self, swings: Sequence[str]) -> pd.DataFrame:
        """The rows of these swings, in this order, columns as they first appear; NaN where a row has no value."""
        names = dict.fromkeys(
            name for known in dict.fromkeys(self._rows[s][0] for s in swings) for name in known
        )
        columns: dict[str, list] = {name: [] for name in dict.fromkeys([SWING, *names])}
        for swing in swings:
            row = {SWING: swing, **dict(zip(*self._rows[swing], strict=True))}
            for name, values in columns.items():
                values.append(row.get(name, np.nan))
        return pd.DataFrame(columns)
