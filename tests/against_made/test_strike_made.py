"""Strikes of simulated golfers by the whole line, against the truth that made them; truth: made, here throughout."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from swinglab.events import find_events
from swinglab.load import load_trial, read_capture
from swinglab.records import Setup, Strike, Trial
from swinglab.segments import measure_posture
from swinglab.simulate import Lab, Swing, make_golfer, make_swing
from swinglab.simulate.capture import write_c3d
from swinglab.strike import measure_strike

LIMITS = {
    "clubhead_speed_mps": 0.3, "attack_angle_deg": 0.2, "club_path_in_to_out_deg": 0.2, "low_point_ahead_cm": 0.5,
    "low_point_height_cm": 0.1, "low_point_ahead_of_lead_heel_cm": 0.6, "arc_plane_inclination_deg": 0.3,
    "arc_plane_direction_in_to_out_deg": 0.3, "arc_radius_m": 0.05,
}  # fmt: skip
GOLFERS = {
    "right-handed": {},
    "left-handed, 8 iron": {"hand": "left", "club": "8 iron", "stature_m": 1.68},
    "tall": {"stature_m": 1.9},
}


@pytest.fixture(scope="module", params=list(GOLFERS))
def golfer(request):
    return make_golfer(name="G01", **GOLFERS[request.param])


def strike_of(trial: Trial) -> Strike:
    return measure_strike(trial, find_events(trial, measure_posture(trial)))


def near_the_truth(strike: Strike, swing: Swing) -> None:
    for name, limit in LIMITS.items():
        assert strike.values[name] == pytest.approx(swing.true_strike[name], abs=limit), name


@pytest.mark.parametrize("rate", [240.0, 500.0])
def test_without_noise_the_strike_is_found(golfer, rate: float) -> None:
    """Event, ball and arc together; the made ball takes a fifth of the speed and turns the path."""
    swing = make_swing(golfer, seed=3, rate_hz=rate)
    near_the_truth(strike_of(swing.trial()), swing)


@pytest.mark.parametrize("lab", [Lab(), Lab(up="+Y", target="-Z", ground_mm=120.0, ball_mm=(400.0, -250.0))])
def test_by_way_of_an_integer_file(golfer, lab: Lab, tmp_path) -> None:
    """Written as an integer C3D in the laboratory's axes, read again: both hands, two laboratories."""
    swing = make_swing(golfer, seed=2, rate_hz=240.0)
    setup = Setup(
        up=lab.up, target=lab.target, ground=lab.ground_mm, hand=swing.hand, soled_at_address=True,
        reference_behind_face_cm=0.0,
    )  # fmt: skip
    path = write_c3d(swing, tmp_path / "swing.c3d", lab)
    near_the_truth(strike_of(load_trial(read_capture(path), setup, swing="s", golfer="G01")), swing)


def test_with_noise_the_errors_are_as_told(golfer) -> None:
    """Half a millimetre of noise at 240 Hz: the low point within a centimetre or so, in the intervals."""
    errors, spread = [], []
    for seed in range(12):
        swing = make_swing(golfer, seed=seed, rate_hz=240.0, noise_m=5e-4)
        strike = strike_of(swing.trial())
        names = ("low_point_ahead_cm", "attack_angle_deg", "club_path_in_to_out_deg")
        errors.append([strike.values[n] - swing.true_strike[n] for n in names])
        spread.append([strike.standard_errors[n] for n in names])
    low, attack, path = np.sqrt(np.mean(np.square(errors), axis=0))
    assert low < 1.3 and attack < 0.35 and path < 0.4
    assert (np.abs(errors) < 2.6 * np.array(spread)).mean() > 0.95


def test_fat_clean_and_thin_come_out(golfer) -> None:
    """The arc lowered and raised by the pelvis: the contact follows, where the sole is known to a millimetre."""
    seen = {}
    for lift in (-1.5, 0.6, 2.5):
        swing = make_swing(golfer, {"pelvis_up_cm": lift}, seed=1, rate_hz=240.0, noise_m=3e-4)
        setup = Setup(
            soled_at_address=True, reference_behind_face_cm=0.0, hand=swing.hand, sole_height_se_mm=1.0
        )
        strike = strike_of(swing.trial(setup))
        if strike.contact != "uncertain":
            assert strike.contact == swing.true_contact()
        seen[lift] = strike.contact
    assert seen[-1.5] == "fat" and seen[2.5] == "thin"


def test_a_clubhead_marker_off_the_face_is_told_by_the_study(golfer) -> None:
    """The marker sits 8 cm up the shaft: no strike until the study says so, and then a strike that is near."""
    swing = make_swing(golfer, seed=3, rate_hz=240.0)
    trial = swing.trial()
    head, hosel = (trial.landmarks.index(name) for name in ("clubhead", "club_hosel"))
    points = trial.raw_m.copy()
    up_the_shaft = points[:, hosel] - points[:, head]
    points[:, head] += 0.08 * up_the_shaft / np.linalg.norm(up_the_shaft, axis=1)[:, None]
    moved = replace(trial, raw_m=points, points_m=points)
    assert "reference_beside_face_cm" in strike_of(moved).missing["attack_angle_deg"]
    far = replace(
        trial, ball_m=trial.ball_m + np.array([0.0, 0.0, 0.5])
    )  # no marker sits half a metre off the face
    said = strike_of(far).missing["attack_angle_deg"]
    assert "no strike" in said and "reference_beside_face_cm" not in said
    reported = strike_of(replace(moved, setup=replace(trial.setup, reference_beside_face_cm=8.0)))
    for name, limit in (
        ("low_point_ahead_cm", 0.5),
        ("attack_angle_deg", 0.3),
        ("club_path_in_to_out_deg", 0.4),
    ):
        assert reported.values[name] == pytest.approx(swing.true_strike[name], abs=limit), name
    assert any("8 cm beside" in said for said in reported.warnings)
