"""Pose tables: wide and long, CSV and Parquet, clocks even, holed and uneven, and what is refused."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from swinglab.errors import UnreadableFile
from swinglab.load import load_trial, pose_tables, read_capture
from swinglab.records import Capture, Setup

NAMES = ("nose", "shoulder_left", "hip_left", "ankle_left")


def motion(moments: np.ndarray) -> np.ndarray:
    """(n, 4, 3) a body's points in metres, moving smoothly."""
    heights = np.array([1.65, 1.4, 0.95, 0.1])
    swing = np.sin(3 * moments)[:, None] * np.array([0.2, 0.1, 0.05, 0.0])
    return np.stack([swing, heights + 0.1 * swing, swing**2 + 0.1], axis=-1)


def wide_table(moments: np.ndarray) -> pd.DataFrame:
    """The motion as a wide table."""
    points = motion(moments)
    columns = {f"{n}_{a}": points[:, k, i] for k, n in enumerate(NAMES) for i, a in enumerate("xyz")}
    return pd.DataFrame({"time_s": moments, **columns})


def long_table(moments: np.ndarray) -> pd.DataFrame:
    """The motion as a long table, time by time."""
    points = motion(moments)
    rows = [(t, n, *points[i, k]) for i, t in enumerate(moments) for k, n in enumerate(NAMES)]
    return pd.DataFrame(rows, columns=["time_s", "landmark", "x", "y", "z"])


def read(folder: Path, table: pd.DataFrame, name: str = "pose.csv", **given: object) -> Capture:
    """Write a table and read it."""
    path = folder / name
    table.to_parquet(path) if path.suffix == ".parquet" else table.to_csv(path, index=False)
    return read_capture(path, **given)


@pytest.mark.parametrize("name", ["pose.csv", "pose.parquet"])
@pytest.mark.parametrize("form", [wide_table, long_table])
def test_wide_and_long_csv_and_parquet_give_the_same(tmp_path, form, name) -> None:
    """Truth: made."""
    moments = np.arange(120) / 60
    capture = read(tmp_path, form(moments), name)
    assert capture.labels == NAMES
    assert (capture.rate_hz, capture.kind, capture.unit) == (60.0, "table", "m")
    np.testing.assert_allclose(capture.points_m, motion(moments), atol=1e-12)
    assert capture.warnings == (
        f"{name}: a pose table does not state its unit; m was assumed from the size of the body. If this is wrong, "
        "set unit under [lab] in study.toml",
    )


@pytest.mark.parametrize(("unit", "metres"), [("m", 1.0), ("cm", 0.01), ("mm", 0.001)])
def test_units_are_judged_or_given(tmp_path, unit, metres) -> None:
    """Truth: made."""
    table = wide_table(np.arange(60) / 60)
    table.iloc[:, 1:] /= metres
    for given in (None, unit):
        capture = read(tmp_path, table, unit=given)
        assert capture.unit == unit
        np.testing.assert_allclose(capture.points_m, motion(np.arange(60) / 60), atol=1e-9)


@pytest.mark.parametrize("decimals", [3, 4, 6])
def test_rounded_time_stamps(tmp_path, decimals) -> None:
    """Truth: made. 240 Hz to the tenth of a millisecond is even; to whole ones it looks uneven and is resampled."""
    moments = np.arange(480) / 240
    table = wide_table(moments).assign(time_s=np.round(moments, decimals))
    capture = read(tmp_path, table)
    assert capture.rate_hz == 240.0
    np.testing.assert_allclose(
        capture.points_m[:478], motion(moments)[:478], atol=1e-12 if decimals > 3 else 4e-4
    )


def test_frames_left_out_are_missing(tmp_path) -> None:
    """Truth: made. By time and by frame number."""
    moments = np.arange(120) / 60
    holed = wide_table(moments).drop(index=[10, 11, 50])
    capture = read(tmp_path, holed)
    assert len(capture.points_m) == 120
    assert np.flatnonzero(np.isnan(capture.points_m).all(axis=(1, 2))).tolist() == [10, 11, 50]
    assert "pose.csv: frames without a row in the table: 3; their points are missing" in capture.warnings
    by_frame = holed.assign(frame=holed.index + 200).drop(columns="time_s")
    counted = read(tmp_path, by_frame, rate_hz=60.0)
    np.testing.assert_array_equal(counted.points_m, capture.points_m)
    assert counted.first_frame == 200


def test_a_table_that_counts_frames_needs_a_rate(tmp_path) -> None:
    """Truth: made."""
    table = wide_table(np.arange(30) / 60).rename(columns={"time_s": "frame"}).assign(frame=range(30))
    with pytest.raises(
        UnreadableFile, match=r"pose.csv, column frame: the table has frame numbers but no times"
    ):
        read(tmp_path, table)


def test_uneven_time_stamps_are_resampled_and_said(tmp_path) -> None:
    """Truth: made. A smooth motion sampled at random times comes back to 0.1 mm; gaps stay gaps."""
    rng = np.random.default_rng(4)
    moments = np.sort(np.arange(200) / 100 + rng.uniform(-0.003, 0.003, 200))
    moments -= moments[0]
    table = wide_table(moments)
    table.loc[80:85, ["nose_x", "nose_y", "nose_z"]] = np.nan
    capture = read(tmp_path, table)
    assert [w for w in capture.warnings if "unequal steps" in w and "resampled at" in w]
    truth = motion(capture.time_s)
    assert np.nanmax(np.abs(capture.points_m - truth)) < 1e-4
    lost = np.isnan(capture.points_m[:, 0, 0])
    assert 6 <= lost.sum() <= 8
    assert np.all((capture.time_s[lost] > moments[79]) & (capture.time_s[lost] < moments[86]))
    assert not np.isnan(capture.points_m[:, 1:]).any()


def test_low_confidence_counts_as_missing(tmp_path) -> None:
    """Truth: made. Below the study's threshold; a landmark without a confidence is believed."""
    table = wide_table(np.arange(60) / 60)
    table["nose_confidence"] = np.where(np.arange(60) == 20, 0.3, 0.9)
    capture = read(tmp_path, table)
    assert capture.confidence is not None
    assert not np.isnan(capture.points_m).any()
    setup = Setup(up="+Y", target="+X", confidence_below=0.5)
    trial = load_trial(capture, setup, swing="s", golfer="g")
    lost = np.isnan(trial.raw_m[:, trial.landmarks.index("nose"), 0])
    assert np.flatnonzero(lost).tolist() == [20]
    assert trial.filled[20, trial.landmarks.index("nose")]
    assert trial.kind == "joint_centres"
    long = long_table(np.arange(60) / 60).assign(confidence=0.8)
    assert read(tmp_path, long).confidence.min() == 0.8


def test_empty_cells_and_infinite_values_are_missing(tmp_path) -> None:
    """Truth: made."""
    table = wide_table(np.arange(60) / 60)
    table.loc[5, "nose_x"] = np.nan
    table.loc[6, "nose_y"] = np.inf
    capture = read(tmp_path, table)
    assert np.isnan(capture.points_m[5, 0, 0])
    assert np.isnan(capture.points_m[6, 0, 1])
    assert "pose.csv: 1 infinite values were treated as missing" in capture.warnings


def test_decimal_commas_of_a_continental_spreadsheet(tmp_path) -> None:
    """Truth: made. Semicolons between columns, commas in numbers, a byte-order mark."""
    moments = np.arange(60) / 60
    path = tmp_path / "pose.csv"
    wide_table(moments).to_csv(path, index=False, sep=";", decimal=",", encoding="utf-8-sig")
    np.testing.assert_allclose(read_capture(path).points_m, motion(moments), atol=1e-12)


def test_a_study_rate_against_time_stamps_is_said(tmp_path) -> None:
    """Truth: made."""
    capture = read(tmp_path, wide_table(np.arange(60) / 60), rate_hz=120.0)
    assert capture.rate_hz == 120.0
    assert (
        "pose.csv: the frame rate from time_s is 60 Hz, but 120 Hz was used, as set in study.toml"
        in capture.warnings
    )


@pytest.mark.parametrize(
    ("change", "what"),
    [
        (lambda t: t.iloc[::-1], r"row 3: time_s 0.95 is smaller than in the row before"),
        (lambda t: t.iloc[[0, 1, 1, 2]], r"row 4: time_s 0.0166667 occurs twice \(1 such rows\)"),
        (lambda t: t.drop(columns=["nose_z", "time_s"]), r"no column time_s or frame; columns are missing: nose_z"),
        (lambda t: t.rename(columns={"time_s": "time"}), r"no column time_s or frame \(similar names: time\)"),
        (lambda t: t.assign(nose_x=["3"] * 20 + ["n/v"] + ["3"] * 38), r"row 22, column nose_x: 1 cell does not"),
        (lambda t: t[["time_s"]], r"no columns of landmarks; the columns are time_s"),
        (lambda t: t.iloc[:0], r"there are no rows"),
        (lambda t: t.iloc[:1], r"the table has only one row"),
        (lambda t: t.assign(time_s=[np.nan, *t["time_s"][1:]]), r"row 2: 1 row has no value in the column time_s"),
        (lambda t: t.assign(time_s=[*t["time_s"][:-1], 1e9]), r"the times have large gaps"),
        (lambda t: t.assign(**dict.fromkeys(t.columns[1:], np.nan)), r"all positions in the table are missing"),
    ],
)  # fmt: skip
def test_bad_wide_tables_are_refused_with_the_place(tmp_path, change, what) -> None:
    """Truth: made. Which file, which row or column, what to do."""
    table = wide_table(np.arange(59) / 60)
    with pytest.raises(UnreadableFile, match=what) as caught:
        read(tmp_path, change(table))
    assert "pose.csv" in str(caught.value)
    assert caught.value.do


def test_bad_long_tables_are_refused_with_the_place(tmp_path) -> None:
    """Truth: made."""
    table = long_table(np.arange(20) / 60)
    with pytest.raises(
        UnreadableFile,
        match=r"row 7: the landmark shoulder_left appears twice at time_s 0.0166667 \(1 such rows\)",
    ):
        read(tmp_path, table.iloc[[0, 1, 2, 3, 5, 5, 6]])
    with pytest.raises(UnreadableFile, match="is not in order of time"):
        read(tmp_path, table.iloc[::-1])
    with pytest.raises(UnreadableFile, match="1 row has no value in the column time_s or landmark"):
        read(tmp_path, table.assign(landmark=[None, *table["landmark"][1:]]))


@pytest.mark.parametrize(
    ("data", "what"),
    [
        (b"", "the file is empty"),
        (b"\0\1\2\3", "not a text file"),
        (b"\xff\xfe\xfd\n1,2\n", "not a CSV table"),
        (b'a,b\n"1,2\n', "not a CSV table"),
        (b"a,b\n1,2\n", "no columns of landmarks; the columns are a, b"),
    ],
)
def test_what_is_no_table_is_refused(tmp_path, data, what) -> None:
    """Truth: made."""
    path = tmp_path / "pose.csv"
    path.write_bytes(data)
    with pytest.raises(UnreadableFile, match=what):
        read_capture(path)


def test_a_column_that_stands_twice_is_refused(tmp_path) -> None:
    """Truth: made."""
    path = tmp_path / "pose.csv"
    path.write_text("time_s,nose_x,nose_y,nose_z,nose_x\n0,1,2,3,4\n1,1,2,3,4\n", encoding="utf-8")
    with pytest.raises(UnreadableFile, match="columns occur twice: nose_x"):
        read_capture(path)


def test_damaged_parquet_is_refused_and_a_missing_extra_named(tmp_path, monkeypatch) -> None:
    """Truth: made. Without pyarrow the error names what to install."""
    path = tmp_path / "pose.parquet"
    wide_table(np.arange(20) / 60).to_parquet(path)
    path.write_bytes(path.read_bytes()[:-20])
    with pytest.raises(UnreadableFile, match="not a Parquet table"):
        read_capture(path)
    monkeypatch.setattr(pose_tables, "find_spec", lambda _: None)
    with pytest.raises(UnreadableFile, match=r"package pyarrow.*Do: run pip install 'swinglab\[parquet\]'"):
        read_capture(path)
