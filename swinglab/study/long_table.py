"""Long tables of many swings, with each word kept once: 10,000 swings have eight million rows of posture."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import pandas as pd

SWING = "swing"


class LongTable:
    """Rows of many swings as they come, put together in the order of the study.

    Text is kept as codes of its words, and becomes categories; all else as it is. All swings have the same columns,
    of which `SWING` holds one value for all rows of a swing.
    """

    def __init__(self) -> None:
        self._words: dict[str, dict[str, int]] = {}
        self._parts: dict[str, dict[str, np.ndarray]] = {}

    def __contains__(self, swing: str) -> bool:
        return swing in self._parts

    def add(self, swing: str, table: pd.DataFrame) -> None:
        """Keep the rows of a swing."""
        part = {}
        for name in table.columns:
            if name != SWING:
                values = table[name]
                is_number = pd.api.types.is_numeric_dtype(values)
                part[name] = values.to_numpy() if is_number else self._codes(name, values)
        self._parts[swing] = part

    def _codes(self, name: str, values: pd.Series) -> np.ndarray:
        known = self._words.setdefault(name, {})
        codes, words = pd.factorize(values)
        numbers = [known.setdefault(str(word), len(known)) for word in words]
        return np.array(numbers, dtype=np.int16 if len(known) < 2**15 else np.int32)[codes]

    def table(self, swings: Sequence[str]) -> pd.DataFrame:
        """The rows of these swings, in this order; the table then holds them no longer.

        Words are numbered by their first appearance in this order, whatever the order in which swings came.
        """
        parts = [self._parts.pop(swing) for swing in swings]
        rows = [len(next(iter(part.values()))) for part in parts]
        made: dict[str, Any] = {
            SWING: pd.Categorical.from_codes(
                np.repeat(np.arange(len(parts), dtype=np.int32), rows), pd.Index(list(swings))
            )
        }
        for name in list(parts[0]):
            values: Any = np.concatenate([part.pop(name) for part in parts])
            if name in self._words:
                codes, found = pd.factorize(values)
                words = list(self._words[name])
                values = pd.Categorical.from_codes(codes, pd.Index([words[code] for code in found]))
            made[name] = values
        return pd.DataFrame(made, copy=False)
