"""Whole and half-written capture files are distinguished."""

from __future__ import annotations

from pathlib import Path

import pytest

from swinglab import shipped_folder
from swinglab.load import is_whole

CAPTURES = shipped_folder("data_demo") / "captures"


@pytest.mark.parametrize("ending", [".c3d", ".csv"])
def test_a_file_is_whole_only_with_its_last_byte(ending: str, tmp_path: Path) -> None:
    """Truth: made. A capture of the demo, copied in growing pieces as a slow disk would show it."""
    whole = sorted(CAPTURES.glob(f"*{ending}"))[0].read_bytes()
    path = tmp_path / f"capture{ending}"
    for part in (0.0, 0.01, 0.3, 0.9):
        path.write_bytes(whole[: int(part * len(whole))])
        assert not is_whole(path), part
    path.write_bytes(whole)
    assert is_whole(path)


def test_a_table_with_decimal_commas_is_whole_with_its_last_row(tmp_path: Path) -> None:
    """Truth: made. Before, the decimal commas were counted as columns, and the table was never whole."""
    pandas = pytest.importorskip("pandas")
    path = tmp_path / "pose.csv"
    table = pandas.DataFrame(
        {"time_s": [0.01, 0.02], "c7_x": [0.5, 0.6], "c7_y": [1.5, 1.6], "c7_z": [0.1, 0.2]}
    )
    table.to_csv(path, index=False, sep=";", decimal=",")
    assert is_whole(path)
    path.write_bytes(path.read_bytes().rstrip()[:-5])
    assert not is_whole(path)


def test_a_parquet_table_is_whole_with_its_closing_mark(tmp_path: Path) -> None:
    """Truth: other. A table written by pandas, and the same without its last bytes."""
    pandas = pytest.importorskip("pandas")
    pytest.importorskip("pyarrow")
    path = tmp_path / "pose.parquet"
    pandas.DataFrame({"time_s": [0.0, 0.1], "hip_left_x": [0.0, 1.0]}).to_parquet(path)
    assert is_whole(path)
    path.write_bytes(path.read_bytes()[:-3])
    assert not is_whole(path)
