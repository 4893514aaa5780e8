"""Practice swings, air swings and several passes: the strike is the one at which the ball leaves. Truth: made."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from events.formula_swing import BODY, CLUB, FormulaSwing

from swinglab.events import find_events
from swinglab.load import load_trial
from swinglab.records import Capture, Setup, Trial
from swinglab.signals import find_departure
from swinglab.strike import measure_strike

RATE = 240.0
PRACTICE_S, PAUSE_S = 3.2, 0.0


def session(
    *, ball: str = "struck", over_cm: float = 0.0, divot: float = 0.0, practice: bool = True, seed: int = 0,
    practice_last: bool = False, noise_mm: float = 0.5,
) -> tuple[Capture, float]:  # fmt: skip
    """A practice swing and the strike in one capture, in the study frame, and the true time of impact.

    ball : struck | stays | none (no marker). over_cm : by how much the practice swing passes over the ball's place.
    divot : share of its speed that the club loses in the practice swing's turf.
    """
    swing = FormulaSwing()
    rehearsal = FormulaSwing(speed_loss=divot, kink=0.0)
    length = round(swing.duration_s * RATE)
    time = np.arange(length) / RATE + 0.3 / RATE
    names = (*BODY, *CLUB)
    real = swing.points(time) if ball != "stays" else swing._free(time)
    before = rehearsal.points(time) if divot else swing._free(time)
    first = np.stack([before[n] for n in names], axis=1) + np.array([0.0, over_cm / 100, 0.0])
    second = np.stack([real[n] for n in names], axis=1)
    # The club is carried back from the finish to the address within half a second.
    back = np.linspace(0.0, 1.0, 120)[:, None, None]
    parts = [first, first[-1] + back * (second[0] - first[-1])] if practice else []
    shift = sum(len(p) for p in parts) / RATE
    parts.append(second)
    if practice_last:
        parts = [second, second[-1] + back * (first[0] - second[-1]), first]
        shift = 0.0
    points = np.concatenate(parts)
    clock = np.arange(len(points)) / RATE
    impact = shift + swing.impact_s - time[0]
    labels = names
    if ball != "none":
        flown = np.maximum(clock - impact, 0.0)[:, None] * np.array([45.0, 12.0, 0.0])
        place = swing.ball_m + flown * (ball == "struck")
        place = np.where((np.linalg.norm(place - swing.ball_m, axis=1) > 1.5)[:, None], np.nan, place)
        points = np.concatenate([points, place[:, None]], axis=1)
        labels = (*names, "ball")
    points = points + np.random.default_rng(seed).normal(0.0, noise_mm / 1000, points.shape)
    return Capture("two.c3d", labels, points, RATE), impact


def loaded(capture: Capture, **setup: object) -> Trial:
    """Through the loader: the coarse contact and the ball's place are its own."""
    options = {"up": "+Y", "target": "+X", "reference_behind_face_cm": 0.0, **setup}
    return load_trial(capture, Setup(**options), swing="s", golfer="G")  # type: ignore[arg-type]


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("over_cm", [0.0, 3.0, 6.0])
def test_with_a_ball_marker_the_strike_is_where_the_ball_leaves(over_cm: float, seed: int) -> None:
    """Truth: made. A practice swing through or over the ball's place, taking turf, does not win."""
    capture, impact = session(over_cm=over_cm, divot=0.35, seed=seed)
    trial = loaded(capture)
    found = find_events(trial, None)
    assert found.time_s("impact") == pytest.approx(impact, abs=4e-4)
    assert trial.contact_time_s == pytest.approx(impact, abs=1.5 / RATE)
    assert impact - 0.5 < found.time_s("top") < impact
    assert found.time_s("takeaway") > impact - 1.5
    if over_cm < 5:
        assert "2 times" in found["impact"].note and "the ball moves away" in found["impact"].note


@pytest.mark.parametrize("seed", range(8))
def test_without_a_ball_marker_the_last_swing_counts(seed: int) -> None:
    """Truth: made. A practice swing that takes a divot, in 8 of 8; both passes are reported."""
    capture, impact = session(ball="none", divot=0.35, seed=seed)
    found = find_events(loaded(capture, ball_position=(0.0, 0.021335, 0.0)), None)
    assert found.time_s("impact") == pytest.approx(impact, abs=4e-4)
    assert "2 times" in found["impact"].note and "check that it is the strike" in found["impact"].note


def test_a_practice_swing_after_the_strike_is_passed_over_with_a_ball_marker() -> None:
    """Truth: made. The ball left at the first pass."""
    capture, impact = session(practice_last=True)
    found = find_events(loaded(capture), None)
    assert found.time_s("impact") == pytest.approx(impact, abs=4e-4)
    assert "2 times" in found["impact"].note


@pytest.mark.parametrize("practice", [True, False])
def test_an_air_swing_is_no_strike(practice: bool) -> None:
    """Truth: made. The ball lies where it lay, although the path goes through its place: no strike, with the reason."""
    capture, _ = session(ball="stays", practice=practice)
    trial = loaded(capture)
    found = find_events(trial, None)
    assert not found.found("impact")
    assert "the ball does not move" in found["impact"].note
    strike = measure_strike(trial, found)
    assert not np.isfinite(strike.values["attack_angle_deg"]) and strike.contact == ""
    assert "does not move" in strike.missing["attack_angle_deg"]


def test_a_single_strike_needs_no_word() -> None:
    """Truth: made. One pass, one ball that leaves: nothing is noted."""
    capture, impact = session(practice=False)
    found = find_events(loaded(capture), None)
    assert found.time_s("impact") == pytest.approx(impact, abs=4e-4)
    assert found["impact"].note == ""


def test_a_ball_marker_that_is_lost_before_the_strike() -> None:
    """Truth: made. Hidden from a tenth of a second before impact on and never seen again: the strike is still found."""
    capture, impact = session(divot=0.35)
    points = capture.points_m.copy()
    points[round((impact - 0.1) * RATE) :, -1] = np.nan
    found = find_events(loaded(replace(capture, points_m=points)), None)
    assert found.time_s("impact") == pytest.approx(impact, abs=4e-4)


def test_a_ball_that_leaves_without_the_club_is_reported() -> None:
    """Truth: made. The ball flies off a second before the club comes: no strike, both times are given."""
    capture, _ = session(practice=False)
    points = capture.points_m.copy()
    early = round(1.0 * RATE)
    ball = capture.points_m[:, -1]
    points[:-early, -1] = ball[early:]
    points[-early:, -1] = np.nan
    found = find_events(loaded(replace(capture, points_m=points)), None)
    assert not found.found("impact")
    assert "moves away at" in found["impact"].note and "moved by hand" in found["impact"].note


def test_departure_of_a_point_from_rest() -> None:
    """Truth: made. Struck, struck in a gap, carried, vanished, staying, frozen, never at rest."""
    random = np.random.default_rng(0)
    still = random.normal(0.0, 3e-4, (300, 3))
    flying = np.arange(1, 6)[:, None] * np.array([0.3, 0.1, 0.0])
    hidden = np.full((20, 3), np.nan)

    def departure(*parts: np.ndarray) -> tuple:
        found = find_departure(np.vstack(parts), 240.0)
        assert found is not None
        return found.last_rest, found.first_away, found.stays

    assert departure(still, flying) == (299, 300, False)
    assert departure(still, hidden, flying + np.array([1.5, 0.0, 0.0])) == (299, 320, False)
    carried = np.linspace([1.0, 0.0, 0.0], [0.0, 0.0, 0.0], 240)
    assert departure(still + np.array([1.0, 0.0, 0.0]), carried, still, flying) == (839, 840, False)
    assert departure(still, np.full((100, 3), np.nan)) == (299, None, False)
    assert departure(still, hidden, still) == (619, None, True)
    assert find_departure(np.zeros((300, 3)), 240.0) is None
    assert find_departure(np.cumsum(np.full((300, 3), 0.01), axis=0), 240.0) is None
