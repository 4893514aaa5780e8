"""Checks of measured values against the plausible ranges of their columns."""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache

import numpy as np
import pandas as pd

from swinglab import columns
from swinglab.study.gate.doubts import DOUBTFUL, Doubt

#: What to check where a value of this kind is out of range.
_KEYS = {
    "posture": "[landmarks], [lab] up and target",
    "swing": "[lab] rate_hz",
    "strike": "[lab] target and ground, [club]",
}


def check_ranges(
    at: pd.DataFrame | None, quantities: Mapping[str, float] | None, strike: Mapping[str, object] | None
) -> list[Doubt]:
    """Return the doubts about values of one swing: one for each column with a value outside its plausible range.

    Parameters
    ----------
    at : DataFrame or None
        Posture at events, from `segments.measure_at`: columns quantity and value.
    quantities : mapping or None
        Column -> value, for quantities with one value for each swing.
    strike : mapping or None
        The swing's row of strike.csv.
    """
    doubts = []
    if at is not None:
        values = at["value"].to_numpy(float)
        place, names = pd.factorize(at["quantity"].to_numpy(object))
        low, high = np.array([_range(name) for name in names]).T
        wrong = (values < low[place]) | (values > high[place])
        for k in np.flatnonzero(np.bincount(place[wrong], minlength=len(names))):
            doubts += _outside(names[k], values[place == k])
    for name, value in (quantities or {}).items():
        doubts += _outside(name, np.array([value], dtype=float))
    for name in columns.STRIKES:
        if strike and name in strike:
            doubts += _outside(name, np.array([strike[name]], dtype=float))
    return doubts


@lru_cache(maxsize=1024)
def _range(name: str) -> tuple[float, float]:
    """Return the plausible range of a column; infinite for a column that swinglab does not know."""
    if not columns.is_column(name):
        return -np.inf, np.inf
    return columns.column(name).low, columns.column(name).high


def _outside(name: str, values: np.ndarray) -> list[Doubt]:
    if not columns.is_column(name):
        return []
    one = columns.column(name)
    wrong = values[np.isfinite(values) & ((values < one.low) | (values > one.high))]
    if not len(wrong):
        return []
    unit = columns.UNIT_WORDS.get(one.unit, one.unit)
    worst = wrong[np.argmax(np.abs(wrong - (one.low + one.high) / 2))]
    what = f"{name} is outside its plausible range, {one.low:g} to {one.high:g} {unit}"
    return [Doubt("range", DOUBTFUL, _KEYS.get(one.kind, ""), what, f"{worst:.3g} {unit}",
                  f"check {_KEYS.get(one.kind, 'this value')}")]  # fmt: skip
