"""Signs that a coach expects come out of the made golfer's geometry.

Each sign is common practice, no source: none is put into the model, which only hangs a club from a shoulder.
"""

import numpy as np
import pytest

from swinglab import simulate
from swinglab.simulate.true_slopes import true_sensitivity

BODIES = {
    "tall": {"stature_m": 1.90, "club": "5 iron", "aim": simulate.Aim(clubhead_speed_mps=39.0)},
    "short": {"stature_m": 1.60, "club": "9 iron", "aim": simulate.Aim(clubhead_speed_mps=31.0)},
    "default": {},
}
ANSWERS = {"hands idle": simulate.Compensation(0.0, 0.0), "hands answer": simulate.Compensation()}


@pytest.fixture(scope="module", params=[(b, a) for b in BODIES for a in ANSWERS], ids=" ".join)
def golfer(request):
    body, answer = request.param
    return simulate.make_golfer(compensation=ANSWERS[answer], **BODIES[body])


def test_less_trail_side_tilt_lowers_and_steepens(golfer):
    """made; common practice, no source: the same bend with less tilt strikes lower, steeper, later."""
    per_degree = true_sensitivity(golfer, "thorax_lateral_flexion_deg")
    assert per_degree["attack_angle_deg"] > 0.05  # more tilt, shallower
    assert per_degree["low_point_ahead_cm"] < -0.15
    if golfer.parameters.compensation.up == 0:
        assert per_degree["low_point_height_cm"] > 0.01  # more tilt lifts the arc, less lowers it
        base, level = (
            simulate.make_swing(golfer, posture).true_strike["low_point_height_cm"]
            for posture in ({}, {"thorax_lateral_flexion_deg": -8.0})
        )
        assert level < base - 0.3


def test_a_shift_toward_the_target_takes_the_low_point_along(golfer):
    """made; common practice, no source."""
    per_cm = true_sensitivity(golfer, "pelvis_toward_target_cm")
    assert per_cm["low_point_ahead_cm"] == pytest.approx(1.0, abs=0.1)
    assert per_cm["attack_angle_deg"] < -0.2


def test_a_shorter_lead_arm_raises_the_arc(golfer):
    """made; common practice, no source: bending the lead elbow shortens the arm."""
    per_degree = true_sensitivity(golfer, "lead_elbow_flexion_deg")
    assert per_degree["low_point_height_cm"] > 0.005


def test_standing_up_raises_the_arc_and_bending_lowers_it(golfer):
    """made; common practice, no source: less thorax flexion, thinner."""
    assert true_sensitivity(golfer, "thorax_flexion_deg")["low_point_height_cm"] < -0.02
    assert true_sensitivity(golfer, "pelvis_up_cm")["low_point_height_cm"] > 0.2


def test_later_release_steepens(golfer):
    """made; common practice, no source: hands further ahead, a steeper strike and a later low point."""
    ahead = true_sensitivity(golfer, "wrist_set_deg")  # + is released further
    assert ahead["attack_angle_deg"] > 0.05
    assert ahead["low_point_ahead_cm"] < 0


def test_what_hangs_on_nothing_changes_nothing(golfer):
    """made: the head is not in the chain from shoulder to club."""
    assert max(abs(v) for v in true_sensitivity(golfer, "head_flexion_deg").values() if np.isfinite(v)) < 1e-9


def test_a_level_thorax_answered_by_a_bent_lead_elbow_hides_the_low_arc():
    """made: the compensation lifts what the missing tilt lowered, the steeper strike stays."""
    plain = simulate.make_golfer(compensation=simulate.Compensation(0.0, 0.85))
    bends = simulate.make_golfer(compensation=simulate.Compensation(0.0, 0.85, lead_elbow_per_tilt=2.0))
    level = {"thorax_lateral_flexion_deg": -8.0}
    lower, hidden = (simulate.make_swing(g, level).true_strike for g in (plain, bends))
    base = simulate.make_swing(plain).true_strike
    assert lower["low_point_height_cm"] < base["low_point_height_cm"] - 0.3
    assert hidden["low_point_height_cm"] > lower["low_point_height_cm"] + 0.2
    assert hidden["attack_angle_deg"] < base["attack_angle_deg"] - 0.5
