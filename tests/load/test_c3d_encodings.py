"""Six encodings and every rule by which a contradictory C3D file is read; files made byte by byte."""

from __future__ import annotations

import struct
from pathlib import Path

import c3d
import numpy as np
import pytest
from load.made_c3d import float_bytes, group_record, made_c3d, parameter, text_parameter

from swinglab.errors import UnreadableFile
from swinglab.load import read_capture
from swinglab.load.units import unit_named
from swinglab.records import Capture

SIX = [(processor, is_float) for processor in ("intel", "dec", "mips") for is_float in (True, False)]


@pytest.fixture
def points() -> np.ndarray:
    """(30, 5, 3) a body's size in mm, with two gaps."""
    rng = np.random.default_rng(1)
    made = rng.normal(0, 20, (30, 5, 3)) + np.array(
        [[0, 0, 0], [0, 0, 900], [0, 300, 1400], [0, -300, 1400], [200, 0, 1700]]
    )
    made[4:6, 1] = np.nan
    made[20, 3] = np.nan
    return made


def read(tmp_path: Path, data: bytes, **given: object) -> Capture:
    """Write a file and read it."""
    path = tmp_path / "made.c3d"
    path.write_bytes(data)
    return read_capture(path, **given)


@pytest.mark.parametrize(("processor", "is_float"), SIX)
def test_six_encodings_give_the_points_that_were_written(tmp_path, points, processor, is_float) -> None:
    """Truth: made. Floats to their own 32 bits, integers to half a step; missing and labels exactly."""
    capture = read(tmp_path, made_c3d(points, processor=processor, is_float=is_float, scale=0.1, analog=3))
    assert capture.warnings == ()
    assert capture.labels == ("P0", "P1", "P2", "P3", "P4")
    assert (capture.rate_hz, capture.unit, capture.kind) == (240.0, "mm", "c3d")
    np.testing.assert_array_equal(np.isnan(capture.points_m), np.isnan(points))
    tolerance = 1e-7 if is_float else 0.0500001e-3
    np.testing.assert_allclose(capture.points_m, points / 1000, atol=tolerance, rtol=1e-7)
    residual = np.where(np.isnan(points[..., 0]), np.nan, 0.1 / 1000)
    np.testing.assert_allclose(capture.residual_m, residual, rtol=1e-6)


@pytest.mark.parametrize(("processor", "is_float"), SIX)
def test_three_exact_zeros_are_missing_and_one_is_not(tmp_path, points, processor, is_float) -> None:
    """Truth: made. Real files hold unflagged zeros where a marker was lost."""
    points = np.nan_to_num(points, nan=100.0)
    points[7, 2] = 0.0
    points[8, 2, 0] = 0.0
    capture = read(tmp_path, made_c3d(points, processor=processor, is_float=is_float))
    assert np.argwhere(np.isnan(capture.points_m).any(axis=-1)).tolist() == [[7, 2]]


def test_nan_coordinates_are_missing_and_a_huge_fourth_word_is_not(tmp_path, points) -> None:
    """Truth: made. The fourth word counts as a float: 1.7e38 is above zero."""
    points = np.nan_to_num(points, nan=100.0)
    points[2, 0, 1] = np.nan
    data = bytearray(made_c3d(points, missing=np.zeros((30, 5), bool)))
    start = len(data) - -(-30 * 5 * 16 // 512) * 512
    at = start + (9 * 5 + 4) * 16 + 12
    data[at : at + 4] = struct.pack("<f", 1.7e38)
    capture = read(tmp_path, bytes(data))
    assert np.argwhere(np.isnan(capture.points_m).any(axis=-1)).tolist() == [[2, 0]]


# --- frames ------------------------------------------------------------------------------------------------


def test_more_frames_than_a_16_bit_word_counts(tmp_path) -> None:
    """Truth: other (c3d.Writer). 66,000 frames, written by the c3d package."""
    writer = c3d.Writer(point_rate=200.0, point_scale=-1.0)
    writer.set_point_labels(["A", "B"])
    frames = np.zeros((66_000, 2, 5))
    frames[..., 0] = np.arange(66_000)[:, None] + 1
    frames[..., 1] = [500, 1500]
    writer.add_frames([(frame, np.zeros((0, 0))) for frame in frames])
    path = tmp_path / "long.c3d"
    with path.open("wb") as stream, pytest.warns(UserWarning, match="No analog"):
        writer.write(stream)
    capture = read_capture(path)
    assert capture.points_m.shape == (66_000, 2, 3)
    assert capture.points_m[-1, 0, 0] == pytest.approx(66.0)
    assert not [w for w in capture.warnings if "frames" in w]


@pytest.mark.parametrize("how", ["trial", "long_frames", "float_frames"])
def test_the_true_count_stands_in_another_place_where_the_header_is_full(tmp_path, how) -> None:
    """Truth: made. TRIAL:ACTUAL_END_FIELD (low word first), POINT:LONG_FRAMES, POINT:FRAMES as a float."""
    points = np.ones((70_000, 1, 3)) * [10, 20, 1700]
    number = float_bytes(np.array([70_000.0]), "intel")
    point, extra = {}, b""
    if how == "float_frames":
        point["FRAMES"] = (4, [], number)
    if how == "long_frames":
        point["LONG_FRAMES"] = (4, [], number)
    if how == "trial":
        extra = group_record(2, "TRIAL", "intel")
        for name, value in (("ACTUAL_START_FIELD", 1), ("ACTUAL_END_FIELD", 70_000)):
            extra += parameter(2, name, 2, [2], struct.pack("<HH", value % 65536, value // 65536), "intel")
    capture = read(tmp_path, made_c3d(points, point=point, extra=extra))
    assert len(capture.points_m) == 70_000


def test_first_frame_is_kept_and_frames_off_by_one_needs_no_doubt(tmp_path, points) -> None:
    """Truth: made. 49 of 163 real files do not begin with frame 1; POINT:FRAMES can be off by one."""
    wrong = {"FRAMES": (2, [], struct.pack("<H", 31))}
    capture = read(tmp_path, made_c3d(points, first_frame=120, point=wrong))
    assert (capture.first_frame, len(capture.points_m), capture.warnings) == (120, 30, ())


def test_a_truncated_file_keeps_what_is_there_and_says_so(tmp_path, points) -> None:
    """Truth: made."""
    data = made_c3d(points)
    start = len(data) - -(-30 * 5 * 16 // 512) * 512
    capture = read(tmp_path, data[: start + 12 * 5 * 16 + 7])
    assert len(capture.points_m) == 12
    assert capture.warnings == (
        "made.c3d: the file is truncated: it declares 30 frames but contains only 12, which were read",
    )


def test_bytes_behind_the_last_frame_are_told_and_left(tmp_path, points) -> None:
    """Truth: made."""
    capture = read(tmp_path, made_c3d(points, tail=b"\1" * 2048))
    assert len(capture.points_m) == 30
    assert [w for w in capture.warnings if "after the last frame" in w]


def test_a_wrong_analog_count_in_the_header_is_found_by_the_size(tmp_path, points) -> None:
    """Truth: made. ANALOG:USED x samples per frame gives the stride that fills the file."""
    many = np.tile(points, (10, 1, 1))
    analog = group_record(3, "ANALOG", "intel") + parameter(3, "USED", 2, [], struct.pack("<h", 8), "intel")
    capture = read(tmp_path, made_c3d(many, analog=8, header={3: 80}, extra=analog))
    np.testing.assert_allclose(capture.points_m, many / 1000, atol=1e-7)
    assert [w for w in capture.warnings if "analog values" in w]


@pytest.mark.parametrize("block", [0, 1, 900])
def test_a_wrong_data_start_yields_to_the_header(tmp_path, points, block) -> None:
    """Truth: made. In five real files the parameter was 0 or wrong and the header right."""
    capture = read(tmp_path, made_c3d(points, point={"DATA_START": (2, [], struct.pack("<H", block))}))
    np.testing.assert_allclose(capture.points_m, points / 1000, atol=1e-7)
    assert [w for w in capture.warnings if "DATA_START" in w]


def test_a_wrong_data_block_in_the_header_yields_to_the_parameter(tmp_path, points) -> None:
    """Truth: made."""
    capture = read(tmp_path, made_c3d(np.tile(points, (10, 1, 1)), header={9: 0}))
    np.testing.assert_allclose(capture.points_m[:30], points / 1000, atol=1e-7)
    assert [w for w in capture.warnings if "data block" in w]


def test_points_used_and_the_header_disagree(tmp_path, points) -> None:
    """Truth: made. The number that fills the file holds."""
    capture = read(tmp_path, made_c3d(np.tile(points, (10, 1, 1)), used=9))
    assert capture.points_m.shape == (300, 5, 3)
    assert [w for w in capture.warnings if "number of points" in w]


# --- scale and unit ----------------------------------------------------------------------------------------


def test_float_coordinates_are_never_multiplied_by_the_scale(tmp_path, points) -> None:
    """Truth: made. 77 of 163 real files have a scale whose size is not 1."""
    capture = read(tmp_path, made_c3d(points, scale=0.0625))
    np.testing.assert_allclose(capture.points_m, points / 1000, atol=1e-7)


@pytest.mark.parametrize(
    ("written", "metres"),
    [("m", 1.0), ("mm", 0.001), ("cm", 0.01), ("mm\0\0", 0.001), (" MM ", 0.001), ("metres", 1.0)],
)
def test_units_as_written(tmp_path, points, written, metres) -> None:
    """Truth: made."""
    capture = read(tmp_path, made_c3d(points / 1000 / metres, units=written))
    np.testing.assert_allclose(capture.points_m, points / 1000, atol=1e-6)
    assert capture.warnings == ()


@pytest.mark.parametrize("unit", ["m", "cm", "mm"])
def test_an_absent_unit_is_judged_from_the_body_and_said(tmp_path, points, unit) -> None:
    """Truth: made. A standing body of 1.7 m, in each unit; the study's word wins."""
    metres = {"m": 1.0, "cm": 0.01, "mm": 0.001}[unit]
    data = made_c3d(points / 1000 / metres, units=None)
    capture = read(tmp_path, data)
    assert capture.unit == unit
    assert capture.warnings == (
        f"made.c3d: the file gives no unit; {unit} was assumed from the size of the body. If this is wrong, set unit "
        "under [lab] in study.toml",
    )
    assert read(tmp_path, data, unit="cm").unit == "cm"


def test_a_unit_that_makes_no_body_is_doubted(tmp_path, points) -> None:
    """Truth: made. Millimetres called metres."""
    capture = read(tmp_path, made_c3d(points, units="m"))
    assert [w for w in capture.warnings if "not the size of a body" in w]
    assert unit_named("inch") is None


def test_a_missing_rate_needs_one_from_the_study(tmp_path, points) -> None:
    """Truth: made."""
    data = made_c3d(points, rate=0.0)
    with pytest.raises(
        UnreadableFile,
        match=r"made.c3d, POINT:RATE: the file has no usable frame rate \(it is 0\). Do: set rate_hz under \[lab\]",
    ) as caught:
        read(tmp_path, data)
    assert caught.value.where == "POINT:RATE"
    assert read(tmp_path, data, rate_hz=120.0).rate_hz == 120.0
    said = read(tmp_path, made_c3d(points, rate=59.94), rate_hz=60.0)
    assert said.rate_hz == 60.0
    assert read(tmp_path, made_c3d(points, rate=59.94)).rate_hz == 59.94


# --- labels ------------------------------------------------------------------------------------------------


def test_labels_beyond_255_go_on_in_a_second_list(tmp_path) -> None:
    """Truth: made. LABELS2 follows LABELS."""
    points = np.random.default_rng(0).normal(0, 500, (3, 300, 3))
    capture = read(tmp_path, made_c3d(points))
    assert capture.labels[254:257] == ("P254", "P255", "P256")
    assert len(capture.labels) == 300


def test_fewer_more_empty_and_repeated_labels(tmp_path, points) -> None:
    """Truth: made. Each is named and reported once."""
    few = read(tmp_path, made_c3d(points, labels=["A", "B"]))
    assert few.labels == ("A", "B", "point_3", "point_4", "point_5")
    assert [w for w in few.warnings if "points without a label: 3 of 5" in w]
    more = read(tmp_path, made_c3d(points, labels=list("ABCDEFG")))
    assert more.labels == tuple("ABCDE")
    assert [
        w for w in more.warnings if "more labels than points; labels at the end that were not used: 2" in w
    ]
    twice = read(tmp_path, made_c3d(points, labels=["A", "A", "A_2", "", "A"]))
    assert twice.labels == ("A", "A_3", "A_2", "point_4", "A_4")
    assert "made.c3d: labels that occur at several points: 1 (the second A is called A_3)" in twice.warnings
    assert len(set(twice.labels)) == 5


def test_labels_in_other_scripts(tmp_path, points) -> None:
    """Truth: made. UTF-8, as written."""
    capture = read(tmp_path, made_c3d(points, labels=["Hüfte", "肘", "S:LASI", "a b", "e"]))
    assert capture.labels == ("Hüfte", "肘", "S:LASI", "a b", "e")


# --- events ------------------------------------------------------------------------------------------------


def event_group(labels: list[str], values: list[float], dims: list[int]) -> bytes:
    """An EVENT group with its times in the order given."""
    times = parameter(2, "TIMES", 4, dims, float_bytes(np.array(values), "intel"), "intel")
    return group_record(2, "EVENT", "intel") + text_parameter(2, "LABELS", labels, "intel") + times


@pytest.mark.parametrize(
    ("values", "dims"), [([0, 0.02, 1, 0.5, 0, 0.1], [2, 3]), ([0, 1, 0, 0.02, 0.5, 0.1], [3, 2])]
)
def test_event_times_are_minutes_and_seconds_either_way_round(tmp_path, points, values, dims) -> None:
    """Truth: made. (2, n) as the format says, and (n, 2)."""
    capture = read(tmp_path, made_c3d(points, extra=event_group(["a", "b", "c"], values, dims)))
    assert [e.label for e in capture.events] == ["a", "c", "b"]
    np.testing.assert_allclose([e.time_s for e in capture.events], [0.02, 0.1, 60.5], atol=1e-6)
    assert [w for w in capture.warnings if "outside" in w]


def test_header_events_join_those_of_the_group(tmp_path, points) -> None:
    """Truth: made. Two lists; the same event in both counts once."""
    extra = event_group(["impact"], [0, 0.1], [2, 1])
    data = made_c3d(points, extra=extra, header_events=[("impa", 0.1), ("TOP", 0.05)])
    assert [(e.label, round(e.time_s, 3)) for e in read(tmp_path, data).events] == [
        ("TOP", 0.05),
        ("impact", 0.1),
    ]


def test_event_times_count_from_frame_one_of_the_recording(tmp_path, points) -> None:
    """Truth: made. In a file that begins with frame 25 the first 24 frames are taken off; not where none fits."""
    late = read(tmp_path, made_c3d(points, first_frame=25, extra=event_group(["a"], [0, 0.15], [2, 1])))
    assert late.events[0].time_s == pytest.approx(0.15 - 24 / 240)
    early = read(tmp_path, made_c3d(points, first_frame=25, extra=event_group(["a"], [0, 0.05], [2, 1])))
    assert early.events[0].time_s == pytest.approx(0.05)
    assert [w for w in early.warnings if "from the file's first frame" in w]


# --- refusals ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("data", "what"),
    [
        (b"", "the file is empty"),
        (b"time_s,a_x\n" * 100, "the file does not begin as a C3D file does"),
        (b"\x02\x50" + b"\0" * 510, "the file has no usable frame rate"),
        (b"\x02\x50", "the file does not begin"),
    ],
)
def test_what_is_no_capture_is_refused_in_plain_words(tmp_path, data, what) -> None:
    """Truth: made."""
    with pytest.raises(UnreadableFile) as caught:
        read(tmp_path, data)
    assert what in str(caught.value)
    assert "made.c3d" in str(caught.value)
    assert caught.value.do


def test_no_points_and_analog_only(tmp_path) -> None:
    """Truth: made."""
    none = np.zeros((20, 0, 3))
    with pytest.raises(UnreadableFile, match="contains no points, only analog channels"):
        read(tmp_path, made_c3d(none, analog=6, labels=[]))
    with pytest.raises(UnreadableFile, match="contains no points, and no analog"):
        read(tmp_path, made_c3d(none, labels=[]))


def test_declared_sizes_are_never_allocated(tmp_path, points) -> None:
    """Truth: made. 65,535 points and frames in a file of 20 kB: refused, or what is there is kept."""
    absurd = made_c3d(points, header={2: 65535, 3: 65535, 5: 65534}, point={"USED": (2, [], b"\xff\xff")})
    with pytest.raises(UnreadableFile, match="not contain one complete frame"):
        read(tmp_path, absurd)
    long = read(tmp_path, made_c3d(points, header={5: 60000}, point={"FRAMES": None}))
    assert len(long.points_m) <= 40


def test_missing_files_folders_and_strange_endings(tmp_path) -> None:
    """Truth: made. Near names are offered."""
    (tmp_path / "g07_03.c3d").write_bytes(b"x")
    with pytest.raises(
        UnreadableFile, match=r"there is no such file. Do: check the spelling; similar names: g07_03.c3d"
    ):
        read_capture(tmp_path / "g07_3.c3d")
    with pytest.raises(UnreadableFile, match="this is a folder"):
        read_capture(tmp_path)
    (tmp_path / "a.docx").write_bytes(b"x")
    with pytest.raises(UnreadableFile, match="must end in"):
        read_capture(tmp_path / "a.docx")
