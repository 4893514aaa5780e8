"""Units and signs at the borders between levels: the ball's error in centimetres, adduction from joint centres."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.spatial.transform import Rotation
from segments.made_body import CENTRES, STANDING, in_study_frame, make_trial

from swinglab.segments import measure_posture


def test_the_balls_error_reaches_every_position_relative_to_the_ball() -> None:
    """Truth: made. A ball known to 15 mm along the target line, markers without noise: 1.5 cm, and only there."""
    posture = measure_posture(make_trial(in_study_frame(STANDING), ball_se_m=0.015))
    for k, name in enumerate(posture.quantities):
        relative = name.endswith("_ahead_of_ball_cm") or name == "ball_ahead_of_lead_heel_cm"
        assert posture.standard_errors[0, k] == pytest.approx(1.5 if relative else 0.0, abs=1e-9), name


def test_a_ball_moved_by_its_error_moves_these_positions_by_their_error() -> None:
    """Truth: made. The same body measured twice, the ball 15 mm nearer the target the second time."""
    points = in_study_frame(STANDING)
    ball = np.array([0.0, 0.021335, 0.0])
    here = measure_posture(make_trial(points, ball_m=ball, ball_se_m=0.015))
    there = measure_posture(make_trial(points, ball_m=ball + np.array([0.015, 0.0, 0.0])))
    np.testing.assert_allclose(np.abs(there.values - here.values)[0], here.standard_errors[0], atol=1e-9)


@pytest.mark.parametrize(("side", "word"), [("right", "trail"), ("left", "lead")])
@pytest.mark.parametrize("toward_midline_deg", [15.0, -15.0])
def test_a_thigh_swung_toward_the_midline_is_adducted(
    side: str, word: str, toward_midline_deg: float
) -> None:
    """Truth: published sign (Wu et al. 2002: adduction positive), on leg points turned about the hip (scipy)."""
    points = dict(CENTRES)
    # About the forward axis: the right leg, at +z to the trail side, swings toward -z, the left one toward +z.
    sign = 1.0 if side == "right" else -1.0
    turn = Rotation.from_euler("X", sign * toward_midline_deg, degrees=True)
    for name in (f"knee_{side}", f"ankle_{side}", f"heel_{side}", f"toe_{side}"):
        points[name] = points[f"hip_{side}"] + turn.apply(CENTRES[name] - CENTRES[f"hip_{side}"])
    assert (points[f"knee_{side}"] - CENTRES[f"knee_{side}"])[2] * sign * toward_midline_deg < 0
    before, after = (
        measure_posture(make_trial(in_study_frame(p), kind="joint_centres")).curve(
            f"{word}_hip_adduction_deg"
        )[0]
        for p in (CENTRES, points)
    )
    assert after - before == pytest.approx(toward_midline_deg, abs=0.5)
