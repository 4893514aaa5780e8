"""How near the strike comes to the truth of made arcs, and to what other ways of reading make of them."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from strike.arcs import SHAPES, make_arc, make_trial
from strike.trials import OUTCOMES, TARGET_SHAPES, measure_batch, random_arcs

from swinglab.strike import measure_strike

LIMITS = dict(zip(OUTCOMES, (0.5, 0.2, 0.2, 0.4), strict=True))


@pytest.mark.parametrize("sole_at_impact", [None, 0.0])
@pytest.mark.parametrize("rate", [120.0, 240.0, 500.0])
@pytest.mark.parametrize("shape", TARGET_SHAPES)
def test_without_noise_the_arc_is_found(shape: str, rate: float, sole_at_impact: float | None) -> None:
    """Truth: made. Kinks of 0 to 4 degrees and a fifth of the speed lost leave the undisturbed arc alone.

    With the sole on the turf at impact, points before it are all there is.
    """
    arc = make_arc(shape)
    for kink, seed in ((0.0, 0), (2.0, 1), (4.0, 2)):
        trial, events = make_trial(arc, rate, kink=kink, loss=0.2, seed=seed, sole_at_impact=sole_at_impact)
        strike = measure_strike(trial, events)
        assert (strike.arc["used"] < 0).any() == (sole_at_impact is None)
        for name, limit in LIMITS.items():
            assert strike.values[name] == pytest.approx(arc.truth[name], abs=limit), (kink, name)
        assert strike.values["arc_radius_m"] == pytest.approx(arc.truth["arc_radius_m"], abs=0.08)


@pytest.mark.parametrize("shape", tuple(SHAPES))
def test_points_before_impact_are_enough_at_240_hz(shape: str) -> None:
    """Truth: made. Where the sole meets the turf at impact, nothing after it is used."""
    arc = make_arc(shape)
    strike = measure_strike(*make_trial(arc, 240.0, kink=3.0, loss=0.2, sole_at_impact=0.0, seed=4))
    assert not (strike.arc["used"] < 0).any()
    assert strike.values["low_point_ahead_cm"] == pytest.approx(arc.truth["low_point_ahead_cm"], abs=0.7)
    assert strike.values["attack_angle_deg"] == pytest.approx(arc.truth["attack_angle_deg"], abs=0.15)


@pytest.mark.parametrize("attack", [-9.0, -2.0, 0.0, 5.0])
@pytest.mark.parametrize(("inclination", "direction"), [(45.0, 6.0), (66.0, -6.0)])
def test_steep_and_shallow_up_and_down(attack: float, inclination: float, direction: float) -> None:
    """Truth: made. From a driver's rising blow to a wedge's steep one."""
    arc = make_arc("hub rising", inclination=inclination, direction=direction, attack=attack, speed=45.0)
    values = measure_strike(*make_trial(arc, 240.0, kink=2.0, loss=0.25)).values
    for name, limit in LIMITS.items():
        assert values[name] == pytest.approx(arc.truth[name], abs=limit), name


@pytest.mark.parametrize(("rate", "low_cm", "attack_deg"), [(240.0, 0.8, 0.3), (120.0, 1.3, 0.45)])
def test_with_noise_the_targets_hold_and_no_rival_is_better(
    rate: float, low_cm: float, attack_deg: float
) -> None:
    """Truth: made. Half a millimetre of noise; the rivals read the same frames in the same run."""
    batch = measure_batch(random_arcs(TARGET_SHAPES), 48, rate, 5e-4)
    low, attack = batch.rms()[:2]
    assert low < low_cm and attack < attack_deg
    for name, (rival_low, rival_attack) in batch.rival_rms().items():
        assert low < rival_low and attack < rival_attack, name
    assert batch.missing() == 0.0


@pytest.mark.parametrize("error_s", [-0.004, -0.001, 0.001, 0.004])
def test_a_wrong_time_of_impact_does_not_let_the_other_side_in(error_s: float) -> None:
    """Truth: made. The ball's place sets impact; an event up to a frame off changes nothing."""
    arc = make_arc("ellipse 1.6 x 1.4")
    values = measure_strike(*make_trial(arc, 240.0, kink=4.0, loss=0.2, impact_error=error_s, seed=7)).values
    for name, limit in LIMITS.items():
        assert values[name] == pytest.approx(arc.truth[name], abs=limit), name


def test_without_a_ball_the_event_tells_impact() -> None:
    """Truth: made. The low point then has no ball to be ahead of; the rest stands."""
    arc = make_arc("circle")
    strike = measure_strike(*make_trial(arc, 240.0, kink=2.0, loss=0.2, ball=False))
    assert strike.values["attack_angle_deg"] == pytest.approx(-4.0, abs=0.1)
    assert np.isnan(strike.values["low_point_ahead_cm"])
    assert "ball" in strike.missing["low_point_ahead_cm"]
    assert strike.method.endswith("impact from the event's time")


def test_a_reference_behind_the_face_moves_impact() -> None:
    """Truth: made. Three centimetres behind the face: impact lies as much earlier on the path."""
    arc = make_arc("circle", reference_behind_face=0.03)
    known, events = make_trial(arc, 240.0, reference_behind_face_cm=3.0)
    assert measure_strike(known, events).values["attack_angle_deg"] == pytest.approx(-4.0, abs=0.02)
    unknown, events = make_trial(arc, 240.0, reference_behind_face_cm=None, impact_se=5e-4)
    strike = measure_strike(unknown, events)
    assert strike.values["attack_angle_deg"] == pytest.approx(-3.0, abs=0.1)  # 3 cm are one degree here
    assert strike.standard_errors["attack_angle_deg"] > 0.4
    assert any("reference_behind_face_cm" in warning for warning in strike.warnings)


def test_turf_bends_the_path_after_impact_and_is_left_out() -> None:
    """Truth: made. With a sole of unknown height, points that do not go on as the path before are not used."""
    arc = make_arc("circle")
    trial, events = make_trial(arc, 240.0, noise=3e-4, kink=2.0, loss=0.2, seed=5)
    late = trial.time_s - events.time_s("impact")
    points = trial.raw_m.copy()
    points[:, 0, 1] += np.where(late > 0.006, 0.06 * np.sin(np.maximum(late - 0.006, 0) / 0.012), 0.0)
    strike = measure_strike(replace(trial, raw_m=points, points_m=points), events)
    assert not (strike.arc["used"] < 0).any()
    assert strike.values["low_point_ahead_cm"] == pytest.approx(arc.truth["low_point_ahead_cm"], abs=1.5)
    assert not any("divot" in words for words in strike.warnings)


def test_points_after_impact_on_unknown_turf_are_told() -> None:
    """Truth: made. A bend too small to be noticed is not ruled out, unless the ball was teed or the sole is known."""
    for setup, warned in (({}, True), ({"teed": True}, False), ({"soled_at_address": True}, False)):
        trial, events = make_trial(make_arc("circle"), 240.0, noise=3e-4, kink=2.0, loss=0.2, **setup)
        strike = measure_strike(trial, events)
        assert any("divot" in words for words in strike.warnings) is warned, setup
