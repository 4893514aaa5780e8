"""CSV tables: what begins like a formula stays text, and comes back as it was."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from swinglab.errors import UnreadableFile
from swinglab.study import csv_tables
from swinglab.study.csv_tables import (
    guard,
    read_numbers,
    read_table,
    table_path,
    unguard,
    write_table,
    written_path,
)


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
    back = read_table(path, shown="t.csv")
    back["=x"] = read_numbers(back["=x"]).numbers
    pd.testing.assert_frame_equal(back, table, check_dtype=False)


@pytest.mark.parametrize(
    ("cells", "numbers", "commas", "ambiguous"),
    [
        (["12,4", "", "3"], [12.4, float("nan"), 3.0], True, ()),
        (["0,830", "0,765"], [0.83, 0.765], True, ()),
        (["1,830", "1,76"], [1.83, 1.76], True, ()),
        (["1,830", "1,765"], None, False, (0, 1)),
        (["1.5", "-2"], [1.5, -2.0], False, ()),
        (["a,b", "c"], None, False, ()),
        (["", ""], None, False, ()),
    ],
)
def test_decimals_with_a_comma(
    cells: list[str], numbers: list[float] | None, commas: bool, ambiguous: tuple[int, ...]
) -> None:
    """Truth: made. A comma is a decimal mark; where every cell could also be thousands, the column is refused."""
    found = read_numbers(pd.Series(cells))
    assert (found.commas, found.ambiguous) == (commas, ambiguous)
    if numbers is None:
        assert found.numbers is None
    else:
        np.testing.assert_array_equal(found.numbers, numbers)


def test_semicolons_settle_the_decimal_mark(tmp_path: Path) -> None:
    """Truth: made. In a file with semicolons between columns a comma is a decimal mark, also before three digits."""
    (tmp_path / "t.csv").write_text("golfer;stature_m\nG01;1,830\nG02;1,765\n", encoding="utf-8")
    notes: list[str] = []
    table = read_table(tmp_path / "t.csv", shown="t.csv", notes=notes)
    assert read_numbers(table["stature_m"]).numbers.tolist() == [1.83, 1.765]  # type: ignore[union-attr]
    assert notes == ["t.csv: the file was read with semicolons between columns and decimal commas"]


@pytest.mark.parametrize("mark", [",", ";"])
@pytest.mark.parametrize("surplus", [1, 2])
def test_a_separator_at_the_end_of_each_row_shifts_nothing(tmp_path: Path, mark: str, surplus: int) -> None:
    """Truth: made. The first column became the index, and every value stood under the name left of its own."""
    lines = ["swing,speed,attack"] + [f"0{i},4{i}.5,{'' if i else -4}" + "," * surplus for i in range(2)]
    (tmp_path / "t.csv").write_text("\n".join(lines).replace(",", mark), encoding="utf-8")
    table = read_table(tmp_path / "t.csv", shown="t.csv")
    assert table.to_dict("list") == {"swing": ["00", "01"], "speed": ["40.5", "41.5"], "attack": ["-4", ""]}
    assert list(table.index) == [0, 1]


def test_decimal_commas_between_semicolons_are_no_surplus_cells(tmp_path: Path) -> None:
    """Truth: made. A header without commas, and the same number of decimal commas in each row."""
    (tmp_path / "t.csv").write_text("a;b\n1,5;2,5;\n3,5;4,5;\n", encoding="utf-8")
    assert read_table(tmp_path / "t.csv", shown="t.csv").to_dict("list") == {
        "a": ["1.5", "3.5"],
        "b": ["2.5", "4.5"],
    }


def test_cells_beyond_the_header_are_refused(tmp_path: Path) -> None:
    """Truth: made. Rows with more filled cells than the header were read with the first cell dropped."""
    (tmp_path / "t.csv").write_text("swing,speed\ns1,40,\ns2,41,-4\n", encoding="utf-8")
    with pytest.raises(UnreadableFile, match="row 3: this row has more cells than the header"):
        read_table(tmp_path / "t.csv", shown="t.csv")


def test_cells_are_written_as_pandas_writes_them(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Truth: other (pandas.to_csv), in parts of a few rows: every type of column, missing cells, quotes, line ends."""
    monkeypatch.setattr(csv_tables, "_CELLS_AT_A_TIME", 20)
    random = np.random.default_rng(1)
    table = pd.DataFrame({
        "number": [1.5, np.nan, -np.inf, 1e-7, 123456789.123], "whole": [1, 2, 3, 4, 5], "yes": [True] * 5,
        "text": ["x,y", None, 'q"r', "a\nb", ""], "word": pd.Categorical(["u", None, "w", "u", "u"]),
        "mixed": [1, "x", 2.5, None, ""], **{f"n{k}": random.normal(size=5) for k in range(9)},
    })  # fmt: skip
    table.to_csv(
        tmp_path / "other.csv", index=False, float_format="%.9g", lineterminator="\n", encoding="utf-8"
    )
    assert write_table(table, tmp_path / "own.csv").read_bytes() == (tmp_path / "other.csv").read_bytes()


def test_a_table_longer_than_a_sheet_is_compressed(tmp_path: Path) -> None:
    """Truth: other (pandas reads it), the limit of spreadsheets from memory: 1,048,576 rows with the header."""
    assert table_path(tmp_path, "posture", 1_048_575).name == "posture.csv"
    path = table_path(tmp_path, "posture", 1_048_576)
    assert path.name == "posture.csv.gz"
    table = pd.DataFrame({"swing": ["a"] * 50_000, "value": np.arange(50_000) / 8})
    first = write_table(table, path).read_bytes()
    assert write_table(table, path).read_bytes() == first  # no time of writing in it
    assert path.stat().st_size < write_table(table, tmp_path / "plain.csv").stat().st_size / 2
    assert written_path(tmp_path, "posture") == path and written_path(tmp_path, "plain").suffix == ".csv"
    pd.testing.assert_frame_equal(pd.read_csv(path, dtype={"swing": str}), table)
