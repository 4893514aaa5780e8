"""Outcomes of another device: units, signs, sheets as they come, and rows matched by name, clock or order."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from swinglab.begin.axes import Body
from swinglab.begin.device_matching import Known, propose_rows
from swinglab.begin.device_rows import known_swings
from swinglab.begin.motion import FoundSwing
from swinglab.begin.people import Whose
from swinglab.begin.survey import Looked
from swinglab.errors import SwinglabError
from swinglab.study.device_outcomes import Device, DeviceOutcome, factor, join_device, read_device

GOLFERS = pd.DataFrame({"golfer": ["G01", "G02"], "hand": ["right", "left"], "group": ["a", "a"]})
SWINGS = pd.DataFrame(
    {"swing": ["a", "b", "c"], "golfer": ["G01", "G02", "G01"], "capture": ["a.c3d", "b.c3d", ""]}
)
OUTCOMES = (
    DeviceOutcome("measured_clubhead_speed_mps", "Club (mph)", "mph"),
    DeviceOutcome("measured_side_in_to_out_m", "Side (yd)", "yd", positive="right"),
    DeviceOutcome("measured_attack_angle_deg", "Attack", "deg", positive="down"),
    DeviceOutcome("measured_impact_toward_toe_mm", "Toe", "in"),
)
ROWS = "Shot;Club (mph);Side (yd);Attack;Toe\nb;90,0;10,0;4,5;0,5\na;100,0;10,0;-1,0;\nzz;80,0;0,0;0,0;0,0\n"


def joined(folder: Path, **device: object) -> tuple[pd.DataFrame, list[SwinglabError], list[str]]:
    """The table of swings with the device's outcomes, faults and notes."""
    faults: list[SwinglabError] = []
    notes: list[str] = []
    own = Device(**({"file": "device.csv", "outcomes": OUTCOMES, "swing": "Shot"} | device))  # type: ignore[arg-type]
    return join_device(folder, own, SWINGS, GOLFERS, faults, notes), faults, notes


def test_units_and_signs_are_the_kits(tmp_path: Path) -> None:
    """Truth: published. 1 mph = 0.44704 m/s, 1 yd = 0.9144 m, 1 in = 25.4 mm (NIST Special Publication 811, B.8);
    right of the target line is away from a right-hander and toward a left-hander."""
    (tmp_path / "device.csv").write_text("\ufeff" + ROWS, encoding="utf-8")
    table, faults, notes = joined(tmp_path)
    assert not faults
    assert table["measured_clubhead_speed_mps"].tolist()[:2] == pytest.approx([44.704, 40.2336])
    assert table["measured_side_in_to_out_m"].tolist()[:2] == pytest.approx([9.144, -9.144])
    assert table["measured_attack_angle_deg"].tolist()[:2] == pytest.approx([1.0, -4.5])
    assert table["measured_impact_toward_toe_mm"][1] == pytest.approx(12.7)
    assert table.iloc[2].filter(like="measured_").isna().all()
    assert notes == [
        "device.csv: 2 of 3 swings have a row; swings without a row: c; rows that belong to no swing: 4"
    ]


def test_a_spreadsheet_gives_what_its_csv_gives(tmp_path: Path) -> None:
    """Truth: other. The same table written by pandas as .xlsx."""
    (tmp_path / "device.csv").write_text(ROWS, encoding="utf-8")
    pd.read_csv(tmp_path / "device.csv", sep=";", decimal=",").to_excel(tmp_path / "device.xlsx", index=False)
    pd.testing.assert_frame_equal(joined(tmp_path)[0], joined(tmp_path, file="device.xlsx")[0])


def test_rows_by_the_match_file(tmp_path: Path) -> None:
    """Truth: made. measured_rows.csv names a row as a spreadsheet counts it: 2 is the first below the header."""
    (tmp_path / "device.csv").write_text(ROWS, encoding="utf-8")
    assert joined(tmp_path, swing="")[0]["measured_clubhead_speed_mps"].isna().all()
    (tmp_path / "measured_rows.csv").write_text("swing,row\nc,4\n", encoding="utf-8")
    assert joined(tmp_path, swing="")[0]["measured_clubhead_speed_mps"][2] == pytest.approx(80 * 0.44704)
    (tmp_path / "measured_rows.csv").write_text("swing,row\nc,4\na,4\n", encoding="utf-8")
    assert "each swing and each row may appear only once" in str(joined(tmp_path, swing="")[1][0])


def test_every_fault_of_the_section_is_named() -> None:
    """Truth: made. Unknown outcome, unit of another kind, a side without its direction, a missing column."""
    faults: list[SwinglabError] = []
    raw = {"measured": {"file": "d.csv", "colour": "red", "outcomes": {
        "caryr_m": {"column": "C", "unit": "yd"}, "carry_m": {"column": "C", "unit": "mph"},
        "side_in_to_out_m": {"column": "S", "unit": "yd"}, "ball_speed_mps": {"unit": "mph"}}}}  # fmt: skip
    read_device(raw, faults)
    words = "\n".join(map(str, faults))
    for part in (
        "colour",
        "similar names: carry_m",
        "'mph' cannot be converted to m",
        "the positive direction is",
        "this section has no key column",
    ):
        assert part in words


def test_a_device_table_outside_the_study_or_without_its_columns_is_refused(tmp_path: Path) -> None:
    """Truth: made."""
    (tmp_path / "device.csv").write_text("Shot,Attack\na,1\n", encoding="utf-8")
    assert "has no column Club (mph)" in str(joined(tmp_path)[1][0])
    assert "outside the study folder" in str(joined(tmp_path, file="../device.csv")[1][0])


@pytest.mark.parametrize(
    ("unit", "into", "value"), [("yd", "m", 0.9144), ("in", "cm", 2.54), ("km/h", "mps", 1 / 3.6)]
)
def test_factors(unit: str, into: str, value: float) -> None:
    """Truth: published. NIST Special Publication 811, appendix B.8."""
    assert factor(unit, into) == pytest.approx(value)
    assert factor("deg", "m") is None


def known(times: np.ndarray, speeds: np.ndarray, golfer: str = "") -> list[Known]:
    """Swings or rows named 0, 1, ..."""
    return [Known(str(k), golfer, t, s) for k, (t, s) in enumerate(zip(times, speeds, strict=True))]


def test_rows_by_clock_with_an_offset_and_missing_rows() -> None:
    """Truth: made. The device's clock is 3,725 s ahead; it missed one swing and saw a ball too many."""
    rng = np.random.default_rng(4)
    times = np.cumsum(rng.uniform(20, 90, 12))
    seen = np.delete(times, 5) + 3725 + rng.normal(0, 0.3, 11)
    seen = np.insert(seen, 3, seen[2] + 11)
    found, how = propose_rows(known(times, times * np.nan), known(seen, seen * np.nan))
    truth = {str(k): (k if k < 3 else k + 1 if k < 5 else k) for k in range(12) if k != 5}
    assert found == truth
    assert "clock" in how


def test_equal_intervals_of_two_clocks_stay_open() -> None:
    """Truth: made. A swing every 30 s fits at several offsets where a row is missing at either end."""
    times = np.arange(8) * 30.0
    assert propose_rows(known(times, times), known(times[1:] + 500, times[1:]))[0] == {}
    longer = np.arange(9) * 30.0
    assert propose_rows(known(times, times), known(longer, longer))[0] == {}


@pytest.mark.parametrize("lost", [None, "first", "last"])
def test_rows_by_order_where_speeds_agree(lost: str | None) -> None:
    """Truth: made. Counts agree or differ by one; the shift is found from the speeds."""
    rng = np.random.default_rng(7)
    speed = rng.normal(38, 1.5, 15)
    device = speed * 1.02 + rng.normal(0, 0.2, 15)
    device = {None: device, "first": device[1:], "last": device[:-1]}[lost]
    nowhere = np.full(15, np.nan)
    found, how = propose_rows(known(nowhere, speed), known(nowhere[: len(device)], device))
    shift = 1 if lost == "first" else 0
    assert found == {str(k + shift): k for k in range(len(device))}
    assert "order" in how


@pytest.mark.parametrize("case", ["unrelated", "steady", "two lost", "few"])
def test_an_unclear_order_stays_open(case: str) -> None:
    """Truth: made. Speeds that do not agree, speeds that hardly differ, counts that differ by two, too few swings."""
    rng = np.random.default_rng(11)
    speed = rng.normal(38, 1.5, 15)
    device = {
        "unrelated": rng.normal(38, 1.5, 15),
        "steady": np.full(15, 38.0),
        "two lost": speed[2:],
        "few": speed[:3],
    }[case]
    own = speed[:3] if case == "few" else speed
    assert propose_rows(known(own * np.nan, own), known(device * np.nan, device))[0] == {}


def test_a_row_of_swings_csv_is_the_swing_in_its_part_of_the_file() -> None:
    """Truth: made. Before, the n-th row of a file was taken as its n-th swing: after a row was removed, every swing
    got the device's values of another one. A row that fits no swing, or could be any of several, has no time."""
    swings = [FoundSwing(peak, peak - 4, peak + 1.5, speed_mps=30 + peak) for peak in (5.0, 15.0, 25.0)]
    captures = [
        Looked("long.c3d", Whose("G01"), Body({}, 240.0, tuple(swings))),
        Looked("one.c3d", Whose("G01"), Body({}, 240.0, (FoundSwing(2.0, speed_mps=20.0),))),
    ]
    parts = {
        "B": ("11", "16,5"),
        "C": ("21", ""),
        "before": ("0", "0,5"),
        "all": ("0", "30"),
        "whole": ("", ""),
    }
    rows = [
        {"swing": name, "capture": "long.c3d", "from_s": from_s, "to_s": to_s}
        for name, (from_s, to_s) in parts.items()
    ]
    rows.append({"swing": "alone", "capture": "one.c3d", "from_s": "", "to_s": ""})
    found = {one.name: one.speed for one in known_swings(rows, captures)}
    assert found == pytest.approx(
        {"B": 45.0, "C": 55.0, "before": np.nan, "all": np.nan, "whole": np.nan, "alone": 20.0}, nan_ok=True
    )
    twice = [{"swing": name, "capture": "one.c3d"} for name in "ab"]
    assert [one.speed for one in known_swings(twice, captures)] == pytest.approx([np.nan] * 2, nan_ok=True)
