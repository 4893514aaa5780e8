"""Truth to files to results and back, through every stage; a hundred swings by calibration/made_recovery.py."""

import numpy as np
import pytest

from swinglab import simulate
from swinglab.events import find_events
from swinglab.load import load_trial, read_capture
from swinglab.records import Setup
from swinglab.segments import measure_at, measure_posture
from swinglab.simulate.capture import write_c3d, write_pose_table
from swinglab.simulate.swing import as_kind
from swinglab.strike import measure_strike

LABS = {"right": simulate.Lab(), "left": simulate.Lab("+Y", "-Z", -400.0, (150.0, -90.0))}
CROSSINGS = ("shaft_horizontal_back", "shaft_45_down", "shaft_horizontal_down", "shaft_horizontal_through",
             "lead_arm_horizontal_back", "lead_arm_horizontal_down", "trail_arm_horizontal_through")  # fmt: skip
STRIKE_WITHIN = {"clubhead_speed_mps": 0.3, "attack_angle_deg": 0.15, "club_path_in_to_out_deg": 0.15,
                 "low_point_ahead_cm": 0.4, "low_point_height_cm": 0.1}  # fmt: skip


@pytest.fixture(scope="module", params=["right", "left"])
def swing(request):
    golfer = simulate.make_golfer(name="G01", hand=request.param, stature_m=1.72)
    posture = {"thorax_lateral_flexion_deg": -3.0, "pelvis_toward_target_cm": 1.0}
    return simulate.make_swing(golfer, posture, seed=4, rate_hz=240)


def measured(swing, kind, folder):
    lab = LABS[swing.hand]
    path = folder / f"{swing.name}.{'c3d' if kind == 'markers' else 'csv'}"
    (write_c3d if kind == "markers" else write_pose_table)(swing, path, lab)
    setup = Setup(lab.up, lab.target, lab.ground_mm, "mm", hand=swing.hand, soled_at_address=True,
                  reference_behind_face_cm=0.0)  # fmt: skip
    trial = load_trial(read_capture(path, unit="mm"), setup, swing=swing.name, golfer="G01")
    posture = measure_posture(trial)
    events = find_events(trial, posture)
    return posture, events, measure_strike(trial, events)


@pytest.mark.parametrize("kind", ["markers", "joint_centres"])
def test_a_made_swing_comes_back_from_its_file(swing, kind, tmp_path):
    """made: 240 Hz, no noise, both hands, two lab axis conventions, integer C3D and pose tables."""
    posture, events, strike = measured(swing, kind, tmp_path)
    truth = as_kind(swing, kind).true_events  # in pose tables the arm starts at the shoulder: another instant
    for name in CROSSINGS:
        assert events.time_s(name) == pytest.approx(truth[name], abs=0.002), name
    assert events.time_s("impact") == pytest.approx(truth["impact"], abs=0.0003)
    coarse = 1.0 if kind == "markers" else 2.0  # tables hold tenths of a millimetre
    for name, within in STRIKE_WITHIN.items():
        assert strike.values[name] == pytest.approx(swing.true_strike[name], abs=coarse * within), name
    if kind == "joint_centres":
        return
    at = measure_at(posture, events).set_index(["event", "quantity"])["value"]
    for event, values in swing.true_posture().items():
        for part in ("pelvis", "thorax"):
            for motion in ("axial_rotation", "lateral_flexion", "flexion"):
                name = f"{part}_{motion}_deg"
                assert at[event, name] == pytest.approx(values[name], abs=0.7), (event, name)
        for name in ("pelvis_centre_toward_target_cm", "thorax_centre_toward_target_cm"):
            if event != "address":
                assert at[event, name] == pytest.approx(values[name], abs=0.3), (event, name)
    assert np.isfinite(at["impact", "lead_elbow_flexion_deg"])
