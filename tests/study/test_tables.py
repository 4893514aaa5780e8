"""CSV tables: what begins like a formula stays text, and comes back as it was."""

from __future__ import annotations

from pathlib import Path

import pandas as pd
from hypothesis import given
from hypothesis import strategies as st

from swinglab.study.csv_tables import guard, numbers_where_all, read_table, unguard, write_table


@given(st.text(min_size=1))
def test_guard_and_back(text: str) -> None:
    """made: any text survives; none that is written begins like a formula."""
    kept = guard(text)
    assert unguard(kept) == text
    assert kept[0] not in "=+-@\t\r"


def test_table_round_trip(tmp_path: Path) -> None:
    """made: hostile names, commas, quotes, umlauts, negative numbers, a formula in the header."""
    table = pd.DataFrame(
        {
            "swing": ["=cmd|x", "+1", "@a", "-b", 'a "b", c', "Ümläut", "<script>"],
            "=x": [-1.5, 2, 3, 4, 5, 6, 7],
        }
    )
    path = write_table(table, tmp_path / "t.csv")
    text = path.read_text(encoding="utf-8")
    assert not any(line.startswith(("=", "+", "@", "-")) for line in text.splitlines())
    back = numbers_where_all(read_table(path, shown="t.csv"), ["=x"])
    pd.testing.assert_frame_equal(back, table, check_dtype=False)
