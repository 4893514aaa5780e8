"""One made swing: timing and speed of the trade, joints within human range, the ball, the seed."""

import numpy as np
import pytest

from swinglab import simulate
from swinglab.conventions import BALL_RADIUS_M, EVENTS
from swinglab.errors import BadRequest
from swinglab.simulate.impact import head_path
from swinglab.simulate.linkage import move


@pytest.fixture(scope="module")
def golfer():
    return simulate.make_golfer()


@pytest.fixture(scope="module")
def swing(golfer):
    return simulate.make_swing(golfer, seed=3)


def test_timing_and_speed_are_of_the_trade(swing):
    """made; ranges: common practice, no source."""
    events = swing.true_events
    assert all(np.isfinite(events[name]) for name in EVENTS)
    at = {name: time - events["impact"] for name, time in events.items()}
    assert events["takeaway"] - 0 >= 0.3  # a still address before it
    assert 0.7 <= at["top"] - at["takeaway"] <= 0.95
    assert 0.2 <= -at["top"] <= 0.32
    assert 0.03 <= -at["shaft_horizontal_down"] <= 0.07
    assert 0.05 <= at["trail_arm_horizontal_through"] <= 0.2
    order = ["address", "takeaway", "shaft_horizontal_back", "lead_arm_horizontal_back", "pelvis_reversal", "top",
             "lead_arm_horizontal_down", "shaft_45_down", "shaft_horizontal_down", "impact",
             "shaft_horizontal_through", "trail_arm_horizontal_through", "finish"]  # fmt: skip
    assert sorted(order, key=events.get) == order
    strike = swing.true_strike
    assert 30 <= strike["clubhead_speed_mps"] <= 40
    assert 55 <= strike["arc_plane_inclination_deg"] <= 66


def test_posture_is_that_of_a_golfer(swing):
    """made; ranges: common practice, no source."""
    at = swing.true_posture()
    assert -100 <= at["top"]["thorax_axial_rotation_deg"] <= -85
    assert -50 <= at["top"]["pelvis_axial_rotation_deg"] <= -32
    assert at["top"]["pelvis_thorax_separation_deg"] > 40
    assert at["impact"]["pelvis_axial_rotation_deg"] > at["impact"]["thorax_axial_rotation_deg"] > 10
    assert at["shaft_horizontal_down"]["thorax_lateral_flexion_deg"] > 5
    assert at["impact"]["shaft_forward_lean_deg"] > 3
    assert 60 <= at["top"]["trail_elbow_flexion_deg"] <= 110
    curves = swing.true_curves
    for name, low, high in (("lead_knee_flexion_deg", 2, 60), ("trail_knee_flexion_deg", 2, 60),
                            ("trunk_axial_rotation_deg", -65, 45), ("trunk_lateral_flexion_deg", -45, 45),
                            ("trunk_flexion_deg", -35, 45)):  # fmt: skip
        assert curves[name].min() > low and curves[name].max() < high, name


def test_shoulders_move_on_the_chest_no_further_than_a_girdle_lets_them(swing):
    """made: forward and after the hands by at most 9 cm (judgement: what a shoulder girdle gives)."""
    pose = move(swing.mover, swing.start_s + swing.time_s)
    for side in ("left", "right"):
        rest = pose.pivot + pose.thorax @ swing.golfer.body.thorax_points()[f"shoulder_{side}"]
        assert np.linalg.norm(swing.exact[f"shoulder_{side}"] - rest, axis=1).max() < 0.09


def test_club_sets_and_releases(swing):
    """made: about a right angle between lead arm and shaft at the top, nearly a line at impact."""
    p, events = swing.exact, swing.true_events
    arm = p["wrist_left"] - p["shoulder_left"]
    shaft = p["club_hosel"] - p["club_butt"]
    cosine = np.sum(arm * shaft, axis=1) / np.linalg.norm(arm, axis=1) / np.linalg.norm(shaft, axis=1)
    angle = np.degrees(np.arccos(cosine))
    assert 80 <= np.interp(events["top"], swing.time_s, angle) <= 115
    assert np.interp(events["impact"], swing.time_s, angle) < 35


def test_sole_rests_behind_the_ball_and_the_face_meets_it(swing):
    """made: at address the face centre is its height above the sole over the turf, 1 cm behind the ball."""
    club = swing.mover.club
    still = swing.exact["clubhead"][: int(0.2 * swing.rate_hz)]
    assert np.ptp(still, axis=0).max() < 1e-6
    assert still[0] == pytest.approx([-BALL_RADIUS_M - 0.01, club.face_up_m, 0.0], abs=1e-5)
    path = head_path(swing.mover)
    place, velocity = path(swing.impact_s), path(swing.impact_s, 1)
    short = (np.array([0, BALL_RADIUS_M, 0]) - place) @ velocity / np.linalg.norm(velocity)
    assert short == pytest.approx(BALL_RADIUS_M, abs=1e-9)


def test_the_ball_takes_speed_and_turns_the_path(golfer):
    """made; published: 0.0459 kg x 1.33 / 0.27 kg = 0.23 of an iron's speed from momentum [computed]."""
    free = simulate.make_swing(golfer, speed_loss=0.0)
    hit = simulate.make_swing(golfer, speed_loss=0.21, turn_deg=3.0)
    dt = 1e-6
    heads = move(hit.mover, hit.impact_s + np.array([0.0, dt])).clubhead
    after = (heads[1] - heads[0]) / dt
    before = head_path(free.mover)(free.impact_s, 1)
    assert np.linalg.norm(after) / np.linalg.norm(before) == pytest.approx(0.79, abs=0.004)
    turned = np.degrees(np.arccos(after @ before / np.linalg.norm(after) / np.linalg.norm(before)))
    assert turned == pytest.approx(3.0, abs=0.3)
    # The truth is that of the path without a ball.
    for name, value in free.true_strike.items():
        assert hit.true_strike[name] == (
            value if isinstance(value, str) else pytest.approx(value, nan_ok=True)
        )


def test_the_ball_lies_still_and_is_gone_after_impact(swing):
    """made: the ball marker rests until impact, then leaves and is seen no more."""
    ball, impact = swing.exact["ball"], swing.true_events["impact"]
    assert np.ptp(ball[swing.time_s < impact], axis=0).max() == 0
    assert np.isnan(ball[swing.time_s > impact + 0.1]).all()
    flying = ball[(swing.time_s > impact) & np.isfinite(ball[:, 0])]
    assert (np.diff(flying[:, 0]) > 0).all() and flying[-1, 1] > 0.1


def test_low_point_agrees_with_the_closed_form(swing):
    """published: d = R sin(-a) / sin(phi) from the strike, on a plane of inclination phi (derived) [computed]."""
    strike = swing.true_strike
    a, phi = np.radians([strike["attack_angle_deg"], strike["arc_plane_inclination_deg"]])
    ahead = 100 * strike["arc_radius_m"] * np.sin(-a) / np.sin(phi) - 100 * BALL_RADIUS_M
    assert strike["low_point_ahead_cm"] == pytest.approx(ahead, abs=0.3)


def test_one_seed_one_swing(golfer):
    """made: the same seed gives the same numbers, another seed others."""
    first, again, other = (simulate.make_swing(golfer, seed=s, noise_m=0.001) for s in (5, 5, 6))
    assert np.array_equal(first.points["c7"], again.points["c7"])
    assert not np.allclose(first.points["c7"][:50], other.points["c7"][:50], atol=1e-5)
    assert first.true_strike == again.true_strike


def test_noise_is_of_the_size_asked_for(golfer):
    """made."""
    swing = simulate.make_swing(golfer, seed=1, noise_m=0.002)
    found = np.std(swing.points["t8"] - swing.exact["t8"])
    assert found == pytest.approx(0.002, rel=0.08)


@pytest.mark.parametrize(
    ("posture", "options", "words"),
    [
        ({"thorax_flex_deg": 1.0}, {}, "similar names: thorax_flexion_deg"),
        ({"thorax_flexion_deg": {"impcat": 1.0}}, {}, "choose one of address"),
        ({"pelvis_toward_ball_cm": 200.0}, {}, "change the posture by less"),
        ({}, {"rate_hz": 0.0}, "a number above 0"),
    ],
)
def test_bad_swings_are_refused_in_words(golfer, posture, options, words):
    """made: an unknown curve or knot, a posture that misses the ball, a rate of 0."""
    with pytest.raises(BadRequest) as error:
        simulate.make_swing(golfer, posture, **options)
    assert words in str(error.value)


def test_a_trial_without_files(swing):
    """made: exact points as the loader would hand them on, markers or joint centres."""
    trial = swing.trial()
    assert trial.has("c7", "clubhead", "ball", "club_shaft_1") and not trial.filled.any()
    assert np.array_equal(trial.point("c7"), swing.exact["c7"])
    assert trial.ball_m == pytest.approx([0, BALL_RADIUS_M, 0])
    centres = swing.trial(kind="joint_centres")
    assert centres.has("hip_left", "shoulder_right", "nose", "heel_left") and not centres.has("c7")
