"""Events of swings whose angles are known functions of time. Truth: made."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from events.formula_swing import BODY, CLUB, FormulaSwing

from swinglab.conventions import EVENTS
from swinglab.errors import BadRequest
from swinglab.events import find_events
from swinglab.events.find import CROSSINGS


@pytest.fixture(scope="module")
def swings() -> list[FormulaSwing]:
    rng = np.random.default_rng(11)
    return [
        FormulaSwing(
            downswing_s=rng.uniform(0.22, 0.32), backswing_s=rng.uniform(0.65, 1.0), kink=rng.uniform(0, 4),
            inclination=rng.uniform(50, 62), arm_top=rng.uniform(-150, -120), cock_top=rng.uniform(-115, -80),
            speed_loss=rng.uniform(0.18, 0.24), reference_cm=rng.choice([0.0, 3.0]), lateral_m=rng.uniform(-0.02, 0.02),
        )
        for _ in range(8)
    ]  # fmt: skip


def off_ms(swing: FormulaSwing, found, name: str) -> float:
    return 1e3 * (found.time_s(name) - swing.truth(name))


@pytest.mark.parametrize("phase", [0.02, 0.35, 0.7, 0.98])
def test_all_events_of_clean_swings_at_240_hz(swings: list[FormulaSwing], phase: float) -> None:
    """Truth: made (exact roots of the formula), within the limits of the events' issue."""
    for swing in swings:
        found = find_events(swing.trial(phase=phase), None)
        for name in CROSSINGS:
            assert abs(off_ms(swing, found, name)) < 1.0, name
        assert abs(off_ms(swing, found, "impact")) < 0.15
        assert abs(off_ms(swing, found, "top")) < 12
        assert abs(off_ms(swing, found, "takeaway")) < 5
        assert abs(off_ms(swing, found, "finish")) < 5
        assert found.time_s("address") < found.time_s("takeaway")
        assert found["pelvis_reversal"].note == "the posture was not measured"


@pytest.mark.parametrize("rate", [120, 500, 1000])
def test_clean_swings_at_other_rates(swings: list[FormulaSwing], rate: float) -> None:
    """Truth: made. No frame lies at the event; the time comes from between frames at every rate."""
    for swing in swings[:4]:
        found = find_events(swing.trial(rate_hz=rate, phase=0.4), None)
        for name in CROSSINGS:
            assert abs(off_ms(swing, found, name)) < 1.0, name
        assert abs(off_ms(swing, found, "impact")) < (0.15 if rate > 120 else 0.3)
        assert abs(off_ms(swing, found, "top")) < 12


def test_every_event_has_a_method_and_an_error_or_a_reason(swings: list[FormulaSwing]) -> None:
    """Truth: made. Nothing is left unsaid about an event, found or missing."""
    for event in find_events(swings[0].trial(noise_mm=1.0), None).events:
        if np.isfinite(event.time_s):
            assert event.method and event.standard_error_s > 0
        else:
            assert event.note and not event.method


def test_noise_moves_events_by_no_more_than_their_errors_say(swings: list[FormulaSwing]) -> None:
    """Truth: made, with 1 mm of noise at 240 Hz."""
    for seed, swing in enumerate(swings):
        found = find_events(swing.trial(noise_mm=1.0, seed=seed, phase=0.5), None)
        for name in (*CROSSINGS, "impact"):
            assert abs(off_ms(swing, found, name)) < min(3.0, 4e3 * found[name].standard_error_s), name
        assert abs(off_ms(swing, found, "top")) < 25


# --- precedence and order -----------------------------------------------------------------------------------


def test_slow_events_are_as_unsure_as_they_say(swings: list[FormulaSwing]) -> None:
    """Truth: made. 500 Hz, 2 mm: noise brings a crossing about where the speed is steep, which must not count."""
    off: dict[str, list[float]] = {"takeaway": [], "finish": []}
    for seed in range(40):
        swing = swings[seed % len(swings)]
        found = find_events(swing.trial(rate_hz=500.0, noise_mm=2.0, seed=seed), None)
        for name, ratios in off.items():
            ratios.append(off_ms(swing, found, name) / (1e3 * found[name].standard_error_s))
    for name, ratios in off.items():
        assert 0.6 < np.sqrt(np.mean(np.square(ratios))) < 1.3, name
        assert np.abs(ratios).max() < 3.5, name


def test_by_hand_wins_over_the_file_which_wins_over_what_is_found(swings: list[FormulaSwing]) -> None:
    """Truth: made."""
    trial = replace(swings[0].trial(), file_events={"impact": 1.5, "takeaway": 0.5})
    found = find_events(trial, None, by_hand={"impact": 1.65})
    assert (found.time_s("impact"), found["impact"].method) == (1.65, "by hand")
    assert (found.time_s("takeaway"), found["takeaway"].method) == (0.5, "file")
    assert found["impact"].standard_error_s == pytest.approx(0.5 / 240)
    assert found.time_s("shaft_horizontal_down") < 1.65


def test_times_by_hand_that_make_no_sense_are_refused(swings: list[FormulaSwing]) -> None:
    """Truth: made. The words name the file, the event and what to do."""
    trial = swings[0].trial()
    with pytest.raises(BadRequest, match="no event impakt") as caught:
        find_events(trial, None, by_hand={"impakt": 1.0})
    assert "impact" in str(caught.value) and "made.c3d" in str(caught.value)
    with pytest.raises(BadRequest, match="outside the capture"):
        find_events(trial, None, by_hand={"impact": 99.0})
    with pytest.raises(
        BadRequest, match=r"top was set by hand at 1\.8 s, which is not before impact \(1\.6 s"
    ):
        find_events(trial, None, by_hand={"top": 1.8, "impact": 1.6})


def test_a_found_event_gives_way_to_one_set_by_hand(swings: list[FormulaSwing]) -> None:
    """Truth: made. Only address < takeaway < top < impact < finish is enforced."""
    trial = swings[0].trial()
    free = find_events(trial, None)
    late = find_events(trial, None, by_hand={"address": free.time_s("takeaway") + 0.05})
    assert not late.found("takeaway") and "address" in late["takeaway"].note
    assert any("takeaway" in warning for warning in late.warnings)
    odd = find_events(trial, None, by_hand={"shaft_horizontal_down": free.time_s("top") - 0.1})
    assert odd.time_s("top") == free.time_s("top")


# --- what is not there --------------------------------------------------------------------------------------


def test_a_capture_that_starts_after_address(swings: list[FormulaSwing]) -> None:
    """Truth: made. Address and takeaway are missing with the reason; the rest stands."""
    swing = swings[0]
    found = find_events(swing.trial(start_s=swing.address_s + 0.25), None)
    assert not found.found("address") and not found.found("takeaway")
    assert "already moving" in found["takeaway"].note
    for name in CROSSINGS:
        assert abs(off_ms(swing, found, name)) < 1.0, name


def test_a_capture_that_ends_before_finish(swings: list[FormulaSwing]) -> None:
    """Truth: made."""
    swing = swings[0]
    found = find_events(swing.trial(stop_s=swing.impact_s + 0.06), None)
    assert "at the end of the capture the clubhead still moves at" in found["finish"].note
    assert "trail arm stays below horizontal" in found["trail_arm_horizontal_through"].note
    assert abs(off_ms(swing, found, "impact")) < 0.15


def test_without_a_club_the_arms_are_still_found(swings: list[FormulaSwing]) -> None:
    """Truth: made. The hands' fastest instant stands for impact, and the notes say so."""
    swing = swings[0]
    found = find_events(swing.trial(landmarks=BODY), None)
    for name in ("lead_arm_horizontal_back", "lead_arm_horizontal_down", "trail_arm_horizontal_through"):
        assert abs(off_ms(swing, found, name)) < 1.0, name
        assert "fastest motion" in found[name].note
    assert (
        "no landmark clubhead" in found["impact"].note
        and "direction of the shaft is not known" in found["top"].note
    )


def test_without_a_ball_the_clubhead_s_fastest_instant_stands_for_impact(swings: list[FormulaSwing]) -> None:
    """Truth: made."""
    swing = swings[0]
    found = find_events(swing.trial(ball=False), None)
    assert not found.found("impact") and "ball" in found["impact"].note
    assert abs(off_ms(swing, found, "shaft_horizontal_down")) < 1.0
    assert abs(off_ms(swing, found, "top")) < 12


def test_a_path_wide_of_the_ball_is_no_strike() -> None:
    """Truth: made: 4 cm beside the ball is a strike, 7 cm is none."""
    near, far = FormulaSwing(lateral_m=0.04), FormulaSwing(lateral_m=0.07)
    assert find_events(near.trial(), None).found("impact")
    missed = find_events(far.trial(), None)["impact"]
    assert np.isnan(missed.time_s) and "passes 6.9 cm" in missed.note


@pytest.mark.parametrize(
    ("club", "words"),
    [
        (("club_butt", "club_hosel", "clubhead"), "line through 2 shaft points"),
        (("club_shaft_1", "club_hosel", "clubhead"), "line through 2 shaft points"),
        (("club_butt", "clubhead"), "butt to clubhead"),
        (("clubhead",), "mid-hands to clubhead"),
    ],
)
def test_the_shaft_s_line_and_its_fallbacks(
    swings: list[FormulaSwing], club: tuple[str, ...], words: str
) -> None:
    """Truth: made. A fallback is named and carries 3 degrees, turned into seconds by the shaft's rate."""
    swing = swings[0]
    found = find_events(swing.trial(landmarks=(*BODY, *club)), None)
    event = found["shaft_horizontal_down"]
    assert words in event.method
    limit = 1.0 if "line" in words else 4e3 * event.standard_error_s
    assert abs(off_ms(swing, found, "shaft_horizontal_down")) < limit
    if "line" not in words:
        rate = np.gradient(
            swing.elevation("shaft", swing.events["shaft_horizontal_down"] + np.array([-1e-3, 1e-3])), 2e-3
        )
        assert event.standard_error_s == pytest.approx(3 / abs(rate[0]), rel=0.2)


def test_all_events_stand_in_their_order(swings: list[FormulaSwing]) -> None:
    """Truth: made."""
    found = find_events(swings[0].trial(landmarks=(*BODY, *CLUB)), None)
    assert tuple(event.name for event in found.events) == EVENTS
