"""Rows of many swings put together with each word kept once."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from swinglab.study.long_table import LongTable
from swinglab.study.results import _wide_posture


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
    """Truth: other (pandas). A quantity that stands twice at one event of a swing is refused."""
    table = pd.concat(PARTS.values(), ignore_index=True)
    wide = _wide_posture(table).set_index("swing")
    expected = table.pivot(index="swing", columns="quantity", values="value")
    for quantity in expected.columns:
        name = quantity.replace("_deg", "_at_impact_deg")
        np.testing.assert_array_equal(wide.loc[expected.index, name], expected[quantity])
    assert wide.columns.tolist()[:2] == ["thorax_flexion_at_impact_deg", "thorax_flexion_at_impact_se_deg"]
    with pytest.raises(ValueError, match="twice"):
        _wide_posture(pd.concat([table, table]))
