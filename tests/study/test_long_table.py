"""Rows of many swings put together with each word kept once."""

from __future__ import annotations

import tracemalloc

import numpy as np
import pandas as pd
import pytest

from swinglab.study.long_table import LongTable, SwingRows
from swinglab.study.results import wide_posture


def rows_of(swing: str, quantities: list[str]) -> pd.DataFrame:
    number = len(quantities)
    values = np.random.default_rng(len(swing + quantities[0])).normal(size=number)
    return pd.DataFrame({
        "swing": swing, "event": ["impact"] * number, "quantity": quantities, "value": values,
        "standard_error": values**2, "unit": ["deg"] * number, "frame_method": [f"{q} by itself" for q in quantities],
        "noise_error": values**2 / 2,
    })  # fmt: skip


PARTS = {
    "b": rows_of("b", ["thorax_flexion_deg", "pelvis_flexion_deg"]),
    "a": rows_of("a", ["pelvis_flexion_deg", "thorax_flexion_deg"]),
}


@pytest.mark.parametrize("arrival", [("a", "b"), ("b", "a")])
def test_the_table_is_that_of_all_swings_whatever_the_order_they_come_in(arrival: tuple[str, ...]) -> None:
    """Truth: other (pandas.concat), the words numbered alike too."""
    together = LongTable()
    for swing in arrival:
        together.add(swing, PARTS[swing])
    assert "a" in together and "c" not in together
    table = together.table(["b", "a"])
    text = [name for name in table.columns if isinstance(table[name].dtype, pd.CategoricalDtype)]
    assert text == ["swing", "event", "quantity", "unit", "frame_method"]
    expected = pd.concat([PARTS["b"], PARTS["a"]], ignore_index=True)
    pd.testing.assert_frame_equal(table.astype(dict.fromkeys(text, str)), expected)
    assert table["quantity"].cat.categories.tolist() == ["thorax_flexion_deg", "pelvis_flexion_deg"]


def test_wide_columns_are_those_of_a_pivot() -> None:
    """Truth: other (pandas). A quantity that stands more than once at one event of a swing is refused."""
    table = pd.concat(PARTS.values(), ignore_index=True)
    wide = wide_posture(table, pd.Series(["a", "b"])).set_axis(["a", "b"])
    expected = table.pivot(index="swing", columns="quantity", values="value")
    for quantity in expected.columns:
        name = quantity.replace("_deg", "_at_impact_deg")
        np.testing.assert_array_equal(wide.loc[expected.index, name], expected[quantity])
    assert wide.columns.tolist()[:2] == ["thorax_flexion_at_impact_deg", "thorax_flexion_at_impact_se_deg"]
    with pytest.raises(ValueError, match="more than once"):
        wide_posture(pd.concat([table, table]), pd.Series(["a", "b"]))


@pytest.mark.parametrize("arrival", [("a", "b", "c"), ("c", "b", "a")])
def test_rows_of_swings_are_those_of_a_list_of_records(arrival: tuple[str, ...]) -> None:
    """Truth: other (pandas). A swing without values has its name alone; columns come as they first appear."""
    records: dict[str, dict | None] = {
        "a": {"swing": "a", "speed": 36.5, "contact": "fat", "frames": 12},
        "b": None,
        "c": {"swing": "c", "speed": float("nan"), "face": 1.5, "contact": "thin", "frames": 9},
    }
    kept = SwingRows()
    for swing in arrival:
        kept.add(swing, records[swing])
    expected = pd.DataFrame([records[swing] or {"swing": swing} for swing in "abc"])
    pd.testing.assert_frame_equal(kept.table(["a", "b", "c"]), expected)


def test_swings_that_are_measured_take_little_more_memory_than_their_numbers() -> None:
    """Truth: made. 300 swings of 800 rows are 24 bytes of numbers and 8 of words a row; tracemalloc counts them."""
    values = np.zeros(800)
    names = [f"quantity_{k % 80}" for k in range(800)]
    part = pd.DataFrame({
        "swing": "", "event": [f"event_{k // 80}" for k in range(800)], "quantity": names, "value": values,
        "standard_error": values, "unit": "deg", "frame_method": "one of a few", "noise_error": values,
    })  # fmt: skip
    rows = LongTable()
    tracemalloc.start()
    try:
        for k in range(300):
            rows.add(f"s{k}", part)
        table = rows.table([f"s{k}" for k in range(300)])
        _, peak = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    assert len(table) == 240_000
    assert peak < 2 * 240_000 * (24 + 8)
