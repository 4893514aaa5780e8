"""No number without support: what is missing, with the reason; and what is survived."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from strike.arcs import make_arc, make_events, make_trial

from swinglab import columns
from swinglab.records import Events, Strike, Trial
from swinglab.strike import measure_strike


def changed(trial: Trial, points: np.ndarray) -> Trial:
    """The trial with other points."""
    return replace(trial, points_m=points, raw_m=points)


def nothing_measured(strike: Strike, *words: str) -> None:
    """All values missing, each with a reason that holds these words; no contact."""
    assert set(strike.values) == set(columns.STRIKES)
    assert all(np.isnan(v) for v in strike.values.values())
    assert all(np.isnan(v) for v in strike.standard_errors.values())
    assert strike.covariance.shape == (0, 0) and strike.contact == ""
    for name in (*columns.STRIKES, "contact"):
        assert all(word in strike.missing[name] for word in words), strike.missing[name]


@pytest.fixture
def swing() -> tuple[Trial, Events]:
    return make_trial(make_arc("circle"), 240.0, noise=3e-4, kink=2.0, loss=0.2, sole_at_impact=0.003)


def test_no_clubhead(swing) -> None:
    """Truth: made."""
    trial, events = swing
    names = ("club_butt", "ball")
    nothing_measured(measure_strike(replace(trial, landmarks=names), events), "no landmark clubhead")


def test_too_few_frames(swing) -> None:
    """Truth: made. Four frames before impact carry no arc."""
    trial, events = swing
    points = trial.raw_m.copy()
    impact = int(events.time_s("impact") * 240)
    points[: impact - 3, 0] = np.nan
    nothing_measured(measure_strike(changed(trial, points), events), "without outliers", "5 are needed")


def test_the_last_frames_before_impact_are_hidden(swing) -> None:
    """Truth: made. A tenth of a second without the head leaves nothing to measure impact from."""
    trial, events = swing
    points = trial.raw_m.copy()
    near = np.abs(trial.time_s - events.time_s("impact")) < 0.11
    points[near, 0] = np.nan
    nothing_measured(measure_strike(changed(trial, points), events), "too few frames")


def test_impact_outside_the_capture(swing) -> None:
    """Truth: made."""
    trial, _ = swing
    late = make_events(240.0, impact=trial.time_s[-1] + 0.1)
    nothing_measured(measure_strike(trial, late), "outside the capture")


def test_no_impact_says_why_the_event_is_missing(swing) -> None:
    """Truth: made. The event's own note is the reason."""
    trial, _ = swing
    nothing_measured(measure_strike(trial, make_events(240.0, top=0.5)), "not made")


def test_a_ball_far_from_the_path(swing) -> None:
    """Truth: made. A ball 8 cm beside the path was not struck."""
    trial, events = swing
    far = replace(trial, ball_m=trial.ball_m + np.array([0.0, 0.0, 0.08]))
    nothing_measured(measure_strike(far, events), "no strike within 5 cm")


def test_a_putt() -> None:
    """Truth: made. Two metres a second on a long arc."""
    arc = make_arc("circle", attack=-1.0, speed=2.0, gain=0.5)
    trial, events = make_trial(arc, 240.0, before=0.6, after=0.3)
    nothing_measured(measure_strike(trial, events), "putt")


def test_a_low_point_beyond_what_was_seen() -> None:
    """Truth: made. Thirty degrees down: the low point lies far past the ball, where nothing was seen."""
    arc = make_arc("ellipse 1.7 x 1.3", attack=-30.0)
    trial, events = make_trial(arc, 240.0, loss=0.2, kink=2.0, after=0.009, sole_at_impact=0.0)
    strike = measure_strike(trial, events)
    assert strike.values["attack_angle_deg"] == pytest.approx(-30.0, abs=0.5)
    assert np.isnan(strike.values["low_point_ahead_cm"])
    assert "beyond the observed points" in strike.missing["low_point_ahead_cm"]


def test_a_swing_at_air_has_a_low_point_and_no_strike() -> None:
    """Truth: made. Twelve centimetres over the ball: the arc stands, a strike is not claimed."""
    arc = make_arc("circle")
    trial, events = make_trial(arc, 240.0, sole_at_impact=0.003)
    points = trial.raw_m.copy()
    points[trial.time_s > events.time_s("top"), 0, 1] += 0.12
    gone = make_events(
        240.0, address=0.25, top=events.time_s("top"), shaft_horizontal_down=events.time_s("top")
    )
    strike = measure_strike(changed(trial, points), gone)
    assert strike.values["low_point_ahead_cm"] == pytest.approx(arc.truth["low_point_ahead_cm"], abs=0.1)
    assert strike.values["low_point_height_cm"] == pytest.approx(12.0 + 0.3 - 0.42, abs=0.1)
    assert strike.contact == "" and np.isnan(strike.values["attack_angle_deg"])
    assert strike.missing["contact"] == "not made" and strike.missing["clubhead_speed_mps"] == "not made"


def test_without_an_address_or_its_word_there_is_no_height(swing) -> None:
    """Truth: made. Heights need a sole on the turf at address."""
    trial, events = swing
    times = {e.name: e.time_s for e in events.events if np.isfinite(e.time_s)}
    unsaid = replace(trial, setup=replace(trial.setup, soled_at_address=False))
    strike = measure_strike(unsaid, events)
    assert "soled_at_address" in strike.missing["low_point_height_cm"]
    assert "soled_at_address" in strike.missing["contact"]
    times.pop("address")
    strike = measure_strike(trial, make_events(240.0, **times))
    assert "no address" in strike.missing["turf_entry_ahead_cm"] and "no address" in strike.missing["contact"]
    assert np.isfinite(strike.values["low_point_ahead_cm"])


def test_a_teed_ball_has_no_contact_class(swing) -> None:
    """Truth: made."""
    trial, events = swing
    strike = measure_strike(replace(trial, setup=replace(trial.setup, teed=True)), events)
    assert strike.missing["contact"] == "the ball is on a tee" and strike.contact == ""


@pytest.mark.parametrize("hidden", [(1,), (2, 3), (5, 6, 7)])
def test_hidden_frames_are_survived(hidden: tuple[int, ...]) -> None:
    """Truth: made. Frames before impact, counted back from it, in which the head is not seen."""
    arc = make_arc("ellipse 1.6 x 1.4")
    trial, events = make_trial(arc, 240.0, noise=3e-4, kink=2.0, loss=0.2)
    points = trial.raw_m.copy()
    points[int(events.time_s("impact") * 240) - np.array(hidden), 0] = np.nan
    strike = measure_strike(changed(trial, points), events)
    error = abs(strike.values["low_point_ahead_cm"] - arc.truth["low_point_ahead_cm"])
    assert error < 3 * strike.standard_errors["low_point_ahead_cm"] < 6.0


@pytest.mark.parametrize("size", [0.01, 0.05, 0.3, 2.0])
@pytest.mark.parametrize("back", [0, 3, 8])
def test_a_bad_frame_is_left_out(size: float, back: int) -> None:
    """Truth: made. A ghost one centimetre to two metres off, in a frame before impact."""
    arc = make_arc("ellipse 1.6 x 1.4")
    trial, events = make_trial(arc, 240.0, noise=3e-4, kink=2.0, loss=0.2)
    clean = measure_strike(trial, events)
    points = trial.raw_m.copy()
    frame = int(events.time_s("impact") * 240) - back
    points[frame, 0] += size * np.array([0.3, 0.8, -0.52])
    strike = measure_strike(changed(trial, points), events)
    place = int(np.argmin(np.abs(strike.arc["time_s"] - trial.time_s[frame])))
    if back > 0:
        assert strike.arc["used"][place] == 0
    if back == 3:
        assert any("marker is not on the path: 1" in warning for warning in strike.warnings)
    error = abs(strike.values["low_point_ahead_cm"] - clean.values["low_point_ahead_cm"])
    assert error < 2.0 * clean.standard_errors["low_point_ahead_cm"]


def with_shaft(trial: Trial, *, on_head: bool) -> Trial:
    """The trial with grip and hosel, or three points of the head, moving rigidly with the clubhead."""
    head = trial.point("clubhead", raw=True)
    hub = np.array([0.1, 1.35, -0.75])
    shaft = hub - head
    shaft /= np.linalg.norm(shaft, axis=1, keepdims=True)
    side = np.cross(shaft, np.gradient(head, axis=0) + np.array([1e-6, 0.0, 0.0]))
    side /= np.linalg.norm(side, axis=1, keepdims=True)
    third = np.cross(shaft, side)
    if on_head:
        names = ("clubhead_1", "clubhead_2", "clubhead_3")
        more = [head + 0.02 * shaft + 0.01 * side, head + 0.03 * third, head - 0.03 * third + 0.02 * side]
    else:
        names = ("club_butt", "club_hosel")
        more = [head + 0.9 * shaft + 0.02 * side, head + 0.05 * shaft + 0.02 * side]
    noise = np.random.default_rng(0).normal(scale=3e-4, size=(len(head), len(more), 3))
    points = np.concatenate([trial.raw_m, np.stack(more, axis=1) + noise], axis=1)
    extra = len(names)
    return replace(
        trial, landmarks=(*trial.landmarks, *names), points_m=points, raw_m=points,
        filled=np.zeros(points.shape[:2], dtype=bool), noise_m=np.append(trial.noise_m, [np.nan] * extra),
    )  # fmt: skip


@pytest.mark.parametrize("on_head", [False, True])
def test_the_rest_of_the_club_stands_in_for_a_hidden_head(on_head: bool) -> None:
    """Truth: made. Five frames without the head: rebuilt within 2 mm, and the arc is surer for it."""
    arc = make_arc("ellipse 1.6 x 1.4")
    trial, events = make_trial(arc, 240.0, noise=3e-4, kink=2.0, loss=0.2, seed=3)
    trial = with_shaft(trial, on_head=on_head)
    frames = int(events.time_s("impact") * 240) - np.arange(1, 6)
    truth = trial.raw_m[frames, 0].copy()
    points = trial.raw_m.copy()
    points[frames, 0] = np.nan
    rebuilt = measure_strike(changed(trial, points), events)
    places = [int(np.argmin(np.abs(rebuilt.arc["time_s"] - trial.time_s[f]))) for f in frames]
    assert rebuilt.arc["rebuilt"][places].all()
    assert np.linalg.norm(rebuilt.arc["points_m"][places] - truth, axis=1).max() < 0.004
    alone = measure_strike(
        replace(trial, landmarks=("clubhead", "ball", *(f"x{i}" for i in range(len(trial.landmarks) - 2))),
                raw_m=points, points_m=points), events,
    )  # fmt: skip
    se = "low_point_ahead_cm"
    assert rebuilt.standard_errors[se] < alone.standard_errors[se]
    assert abs(rebuilt.values[se] - arc.truth[se]) < 3 * rebuilt.standard_errors[se]


@pytest.mark.parametrize("validated", [False, True])
def test_from_one_camera_path_and_low_point_are_missing_until_validated(swing, validated: bool) -> None:
    """Truth: made. The same points; speed stays, what needs depth has the reason, and the method names the source."""
    trial, events = swing
    source = "one camera, validated" if validated else "one camera"
    strike = measure_strike(replace(trial, setup=replace(trial.setup, source=source)), events)
    assert strike.method.endswith(source) and np.isfinite(strike.values["clubhead_speed_mps"])
    for name in ("attack_angle_deg", "club_path_in_to_out_deg", "low_point_ahead_cm", "turf_entry_ahead_cm"):
        assert np.isfinite(strike.values[name]) == validated
        assert validated or "depth" in strike.missing[name]
    assert bool(strike.contact) == validated


def test_on_a_mat_the_words_are_would_have_met_turf(swing) -> None:
    """Truth: made. The same numbers; a warning says what they mean there."""
    trial, events = swing
    on_mat = measure_strike(replace(trial, setup=replace(trial.setup, surface="mat")), events)
    on_turf = measure_strike(trial, events)
    assert any("would have resulted on turf" in words for words in on_mat.warnings)
    assert not any("would have resulted on turf" in words for words in on_turf.warnings)
    assert on_mat.values["turf_entry_ahead_cm"] == on_turf.values["turf_entry_ahead_cm"]
