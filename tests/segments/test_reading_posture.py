"""`measure_at` and `measure_swing`: between frames, relative to address, with timing error, missing with a reason."""

from __future__ import annotations

import numpy as np
import pytest
from segments.made_body import STANDING, in_study_frame, make_events, make_trial, moving, standing

from swinglab.columns import QUANTITIES, SWINGS, error_column_name
from swinglab.conventions import EVENTS
from swinglab.records import Posture
from swinglab.segments import measure_at, measure_posture, measure_swing

FIELDS = ["swing", "event", "quantity", "value", "standard_error", "unit", "frame_method", "noise_error"]


def curves(
    functions: dict, *, rate_hz: float = 100.0, n: int = 101, error: float = 0.0, **more: object
) -> Posture:
    """A posture of functions of time."""
    t = np.arange(n) / rate_hz
    values = np.column_stack([f(t) for f in functions.values()])
    return Posture(
        "s1", "G01", "right", "markers", t, tuple(functions), values, np.full(values.shape, error),
        dict.fromkeys(functions, "made"), **more,
    )  # fmt: skip


def at(table, event: str, quantity: str):
    """The row of one event and quantity."""
    rows = table[(table["event"] == event) & (table["quantity"] == quantity)]
    assert len(rows) == 1
    return rows.iloc[0]


def test_a_row_for_every_quantity_at_every_event_it_is_declared_for() -> None:
    """Truth: made. The table's shape depends on columns.py alone, not on what could be measured."""
    trial = moving(120)
    bare = make_trial({name: trial.point(name) for name in ("asis_left", "asis_right")})
    events = make_events({"address": 0.1, "impact": 0.2})
    plain = [name for name in QUANTITIES if "_from_neutral_" not in name]
    wanted = {(event, name) for name in plain for event in QUANTITIES[name].events}
    for posture in (measure_posture(trial), measure_posture(bare)):
        table = measure_at(posture, events)
        assert list(table.columns) == FIELDS
        assert set(zip(table["event"], table["quantity"], strict=True)) == wanted and len(table) == len(
            wanted
        )
        without = table["value"].isna()
        assert (table["frame_method"].str.startswith("missing: ") == without).all()
        assert (table["unit"] == [QUANTITIES[name].unit for name in table["quantity"]]).all()


def test_reading_between_frames_is_a_cubic() -> None:
    """Truth: made. A cubic is read exactly at any instant, a sine as well as four frames allow, ends included."""
    cubic = lambda t: 3 + 20 * t - 50 * t**2 + 40 * t**3  # noqa: E731
    posture = curves(
        {"thorax_flexion_deg": cubic, "pelvis_flexion_deg": lambda t: 30 * np.sin(2 * np.pi * 2 * t)}
    )
    times = dict(zip(EVENTS, np.linspace(0.0003, 0.9997, len(EVENTS)), strict=True))
    table = measure_at(posture, make_events(times))
    for event, t in times.items():
        assert at(table, event, "thorax_flexion_deg")["value"] == pytest.approx(cubic(t), abs=1e-9)
        assert at(table, event, "pelvis_flexion_deg")["value"] == pytest.approx(
            30 * np.sin(2 * np.pi * 2 * t), abs=0.01
        )


def test_timing_error_times_the_rate_is_added_to_the_noise() -> None:
    """Truth: made. 50 deg a second and 4 ms make 0.2 deg, beside 0.15 deg of noise 0.25."""
    posture = curves({"thorax_flexion_deg": lambda t: 50 * t}, error=0.15)
    table = measure_at(posture, make_events({"impact": 0.503}, error_s=0.004))
    assert at(table, "impact", "thorax_flexion_deg")["standard_error"] == pytest.approx(0.25, abs=1e-6)


def test_shifts_are_relative_to_address_and_share_its_error() -> None:
    """Truth: made. Address itself is 0 without error; ahead_of_ball stays absolute."""
    names = ("pelvis_centre_toward_target_cm", "pelvis_centre_ahead_of_ball_cm", "trail_heel_height_cm")
    posture = curves({name: (lambda t: 10 + 20 * t) for name in names}, error=0.3)
    table = measure_at(posture, make_events({"address": 0.1, "impact": 0.6}))
    for name in (names[0], names[2]):
        assert at(table, "impact", name)["value"] == pytest.approx(10.0)
        assert at(table, "impact", name)["standard_error"] == pytest.approx(0.3 * np.sqrt(2))
        assert at(table, "address", name)["value"] == 0.0 == at(table, "address", name)["standard_error"]
    assert at(table, "impact", names[1])["value"] == pytest.approx(22.0)
    without = measure_at(posture, make_events({"impact": 0.6}))
    assert at(without, "impact", names[0])["frame_method"] == (
        "missing: it is relative to address, but the event address was not found: not in this test"
    )


def test_a_value_that_cannot_be_had_says_why() -> None:
    """Truth: made. Event missing, event outside the capture, a gap, a landmark missing."""
    gap = lambda t: np.where(abs(t - 0.5) < 0.02, np.nan, t)  # noqa: E731
    posture = curves({"thorax_flexion_deg": gap}, missing={"pelvis_flexion_deg": "no asis_left"})
    table = measure_at(posture, make_events({"top": 0.5, "impact": 5.0}))
    assert at(table, "top", "thorax_flexion_deg")["frame_method"] == "missing: no marker data at this time"
    assert at(table, "impact", "thorax_flexion_deg")["frame_method"] == (
        "missing: the event impact is outside the capture"
    )
    assert at(table, "finish", "thorax_flexion_deg")["frame_method"] == (
        "missing: the event finish was not found: not in this test"
    )
    assert at(table, "top", "pelvis_flexion_deg")["frame_method"] == "missing: no asis_left"


def test_at_impact_the_club_is_read_from_before_it_alone() -> None:
    """Truth: made. A jolt after impact does not reach the shaft's lean at impact; a body angle is read through."""
    t0 = 0.5031
    shaft = lambda t: np.where(t <= t0, -900 * (t - t0) + 2e3 * (t - t0) ** 2, -300 * (t - t0) + 4)  # noqa: E731
    posture = curves({"shaft_forward_lean_deg": shaft}, rate_hz=240.0, n=240)
    table = measure_at(posture, make_events({"address": 0.1, "impact": t0}))
    assert at(table, "impact", "shaft_forward_lean_deg")["value"] == pytest.approx(0.0, abs=1e-6)


def test_a_stand_in_for_the_shaft_is_off_by_the_same_in_every_frame() -> None:
    """Truth: made. Three degrees stay three degrees at impact, however far the curve is carried on."""
    points = {n: moving(200).point(n) for n in moving(200).landmarks if "shaft" not in n and "hosel" not in n}
    posture = measure_posture(make_trial(points, noise_m=0.0002))
    row = at(measure_at(posture, make_events({"impact": 0.4021})), "impact", "shaft_forward_lean_deg")
    assert row["frame_method"] == "club butt to clubhead" and 3.0 <= row["standard_error"] < 3.05


def test_headings_are_given_within_a_half_turn() -> None:
    """Truth: made. A lean that goes round and round is given as a heading, an axial rotation is not."""
    round_about = lambda t: 300 * t  # noqa: E731
    posture = curves({"thorax_lean_direction_deg": round_about, "thorax_axial_rotation_deg": round_about})
    table = measure_at(posture, make_events({"finish": 0.9}))
    assert at(table, "finish", "thorax_lean_direction_deg")["value"] == pytest.approx(-90.0)
    assert at(table, "finish", "thorax_axial_rotation_deg")["value"] == pytest.approx(270.0)


def turning_body(rate_hz: float = 240.0):
    """Standing body and club that turn together about vertical, backward and then through, with known speed."""
    n = round(1.2 * rate_hz) + 1
    t = np.arange(n) / rate_hz
    turn = np.radians(-40 * (1 - np.cos(2 * np.pi * t / 1.0)))  # back to -80 at 0.5 s, square again at 1.0 s
    points = {}
    for name, (x, y, z) in STANDING.items():
        spun = np.column_stack(
            [np.cos(turn) * x + np.sin(turn) * z, np.full(n, y), -np.sin(turn) * x + np.cos(turn) * z]
        )
        points[name] = in_study_frame({name: spun})[name]
    return make_trial(points, rate_hz=rate_hz)


def test_peaks_and_times_of_a_body_that_turns_as_one() -> None:
    """Truth: made. Turn -40 (1 - cos 2 pi t): fastest forward at 0.75 s with 80 pi deg/s.

    Pelvis and thorax lean, so that their own long axes see the cosine of it.
    """
    times = {"takeaway": 0.1, "top": 0.5, "shaft_horizontal_down": 0.62, "impact": 0.9, "finish": 1.15}
    events = make_events(times, error_s=0.003)
    posture = measure_posture(turning_body())
    found = measure_swing(posture, events)
    assert set(SWINGS) <= set(found)
    assert found["backswing_time_s"] == pytest.approx(0.4) and found["downswing_time_s"] == pytest.approx(0.4)
    assert found[error_column_name("downswing_time_s")] == pytest.approx(0.003 * np.sqrt(2))
    for part in ("pelvis", "thorax", "lead_arm", "club"):
        lean = posture.curve(f"{part}_lean_deg")[0] if part in ("pelvis", "thorax") else 0.0
        expected = 80 * np.pi * np.cos(np.radians(lean))
        assert found[f"{part}_peak_axial_speed_dps"] == pytest.approx(expected, rel=2e-3)
        assert found[f"{part}_peak_axial_speed_time_s"] == pytest.approx(0.75 - 0.9, abs=2e-3)
    assert found["pelvis_thorax_peak_separation_deg"] == pytest.approx(0.0, abs=1e-6)


def test_swing_numbers_are_nan_where_events_or_landmarks_are_missing() -> None:
    """Truth: made. No top: no times and no peaks; no club: no plane."""
    posture = measure_posture(standing())
    found = measure_swing(posture, make_events({"impact": 0.05}))
    assert all(np.isnan(found[name]) for name in SWINGS)


def test_peak_separation_is_read_between_frames() -> None:
    """Truth: made. The top of a parabola at 0.4537 s, with the angle's own error."""
    posture = curves({"pelvis_thorax_separation_deg": lambda t: 50 - 400 * (t - 0.4537) ** 2}, error=0.7)
    found = measure_swing(posture, make_events({"takeaway": 0.1, "top": 0.45, "impact": 0.7}))
    assert found["pelvis_thorax_peak_separation_deg"] == pytest.approx(50.0)
    assert found["pelvis_thorax_peak_separation_time_s"] == pytest.approx(0.4537 - 0.7)
    assert found[error_column_name("pelvis_thorax_peak_separation_deg")] == pytest.approx(0.7)
