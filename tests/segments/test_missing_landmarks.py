"""What a marker set or a pose table does not show is missing with its reason, what stands in is named."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from segments.made_body import CENTRES, STANDING, in_study_frame, make_events, make_trial, moving, standing

from swinglab.columns import QUANTITIES
from swinglab.errors import MissingInput
from swinglab.records import Setup
from swinglab.segments import measure_at, measure_posture, measure_swing


def without(*stems: str):
    """The standing body without the landmarks that begin so."""
    return {n: p for n, p in in_study_frame(STANDING).items() if not n.startswith(stems)}


def test_everything_declared_is_measured_or_missing_with_a_reason() -> None:
    """Truth: made. Full markers, a bare pelvis, pose tables: no quantity falls between."""
    plain = {name for name in QUANTITIES if "_from_neutral_" not in name}
    for points in (in_study_frame(STANDING), without("head", "toe", "xiphoid"), in_study_frame(CENTRES)):
        posture = measure_posture(make_trial(points))
        assert set(posture.quantities) | set(posture.missing) == plain
        assert not set(posture.quantities) & set(posture.missing)
        assert all(posture.missing.values()) and set(posture.methods) == set(posture.quantities)
    assert not measure_posture(standing()).missing


def test_a_thorax_without_xiphoid_is_missing_and_takes_the_arms_with_it() -> None:
    """Truth: made. No published fallback: the thorax, what depends on it and the shoulder centres give the reason."""
    posture = measure_posture(make_trial(without("xiphoid")))
    for name in ("thorax_flexion_deg", "trunk_flexion_deg", "lead_elbow_flexion_deg", "thorax_centre_up_cm"):
        assert posture.missing[name] == "no landmark xiphoid"
    assert "pelvis_flexion_deg" in posture.quantities and "elbow_spacing_cm" in posture.quantities
    with pytest.raises(
        MissingInput, match="thorax_flexion_deg was not measured in this swing: no landmark xiphoid"
    ):
        posture.curve("thorax_flexion_deg")


def test_a_missing_landmark_is_named_by_its_own_side() -> None:
    """Truth: made. The left side is measured on a mirrored body, its reasons name the left."""
    missing = measure_posture(make_trial(without("elbow_lateral_left", "knee_lateral_right"))).missing
    assert missing["lead_elbow_flexion_deg"] == "no landmark elbow_lateral_left"
    assert missing["trail_knee_flexion_deg"] == "no landmark knee_lateral_right"
    assert "trail_elbow_flexion_deg" not in missing and "lead_knee_flexion_deg" not in missing


def test_a_landmark_that_is_never_seen_is_not_there() -> None:
    """Truth: made. A column of NaN counts as missing."""
    points = in_study_frame(STANDING) | {"c7": np.full(3, np.nan)}
    assert measure_posture(make_trial(points)).missing["thorax_flexion_deg"] == "no landmark c7"


@pytest.mark.parametrize("n", [1, 2, 3])
def test_very_short_captures_are_measured_too(n: int) -> None:
    """Truth: made. One to three frames: values, errors and a reading at their middle."""
    points = {name: np.tile(xyz, (n, 1)) for name, xyz in in_study_frame(STANDING).items()}
    posture = measure_posture(make_trial(points, noise_m=0.001))
    assert posture.values.shape[0] == n and np.isfinite(posture.standard_errors).all()
    table = measure_at(posture, make_events({"address": 0.0, "impact": (n - 1) / 480}))
    row = table[(table["event"] == "impact") & (table["quantity"] == "pelvis_flexion_deg")].iloc[0]
    assert row["value"] == pytest.approx(posture.curve("pelvis_flexion_deg")[0])
    assert np.isnan(measure_swing(posture, make_events({}))["downswing_time_s"])


def test_a_capture_of_strange_points_alone_measures_nothing_and_says_why() -> None:
    """Truth: made. No landmark of the kit: every quantity missing with its reason."""
    posture = measure_posture(make_trial({"ball": np.zeros(3)}))
    assert (
        posture.quantities == ()
        and posture.missing["pelvis_flexion_deg"] == "no landmark asis_left or asis_right"
    )


def test_stand_ins_are_named() -> None:
    """Truth: made. T10 for T8, the sacrum for the PSIS."""
    setup = Setup(landmarks={"t8": ("Dancer:T10",), "c7": ("C7",), "sacrum": ("SACR",)})
    methods = measure_posture(make_trial(without("psis"), setup=setup)).methods
    assert methods["thorax_flexion_deg"] == "thorax by Wu 2005, t10 for t8"
    assert methods["thorax_centre_up_cm"].endswith("t10 for t8")
    assert methods["pelvis_flexion_deg"] == "pelvis by Wu 2002, sacrum for psis"
    both = Setup(landmarks={"t8": ("T7", "T9"), "c7": ("T1",)})
    methods = measure_posture(make_trial(without("psis"), setup=both)).methods
    assert methods["thorax_flexion_deg"] == "thorax by Wu 2005, t1 for c7, t7 and t9 for t8"
    plain = measure_posture(make_trial(without("sacrum"), setup=Setup(landmarks={"t8": ("T8",)}))).methods
    assert plain["thorax_flexion_deg"] == "thorax by Wu 2005"
    assert plain["pelvis_flexion_deg"] == "pelvis by Wu 2002"


def test_pose_tables_do_not_show_the_tilt_of_the_pelvis() -> None:
    """Truth: made. Turn and side bend of the pelvis, whole trunk, three-point joints; tilt and twists missing."""
    posture = measure_posture(make_trial(in_study_frame(CENTRES), kind="joint_centres"))
    for name in ("pelvis_flexion_deg", "pelvis_flexion_isb_deg", "pelvis_axial_rotation_isb_deg",
                 "pelvis_lean_deg", "trunk_flexion_deg", "lead_hip_flexion_deg"):  # fmt: skip
        assert "tilt of the pelvis" in posture.missing[name], name
    assert "long axis" in posture.missing["lead_hip_internal_rotation_deg"]
    assert "long axis" in posture.missing["trail_shoulder_internal_rotation_deg"]
    assert posture.methods["thorax_flexion_deg"] == "trunk (joint centres)"
    assert posture.methods["pelvis_axial_rotation_deg"] == "pelvis (joint centres)"
    for name in ("pelvis_axial_rotation_deg", "pelvis_lateral_flexion_deg", "trunk_axial_rotation_deg",
                 "pelvis_thorax_separation_deg", "lead_hip_adduction_deg", "body_centre_of_mass_up_cm",
                 "neck_flexion_deg", "trail_knee_flexion_deg", "lead_elbow_flexion_deg"):  # fmt: skip
        assert name in posture.quantities, posture.missing.get(name)
    assert "shoulder" in posture.methods["body_centre_of_mass_up_cm"]


def test_what_pose_tables_show_does_not_hang_on_the_hidden_tilt() -> None:
    """Truth: made. Same bony pelvis turned and side-bent: both kinds of file give the same turn and side bend."""
    from scipy.spatial.transform import Rotation

    turn = Rotation.from_euler("YXZ", [-40.0, 12.0, -25.0], degrees=True)
    markers = measure_posture(make_trial(in_study_frame({n: turn.apply(p) for n, p in STANDING.items()})))
    centres = measure_posture(make_trial(in_study_frame({n: turn.apply(p) for n, p in CENTRES.items()})))
    for name, expected in (("pelvis_axial_rotation_deg", -40.0), ("pelvis_lateral_flexion_deg", 12.0)):
        assert markers.curve(name)[0] == pytest.approx(expected, abs=1e-9)
        assert centres.curve(name)[0] == pytest.approx(expected, abs=1e-9)


def test_shaft_falls_back_and_says_so_with_a_wider_error() -> None:
    """Truth: made. Butt to clubhead, then mid-hands to clubhead: named, 3 deg of error added."""
    butt = measure_posture(make_trial(without("club_shaft", "club_hosel"), noise_m=0.001))
    assert butt.methods["shaft_forward_lean_deg"] == "club butt to clubhead"
    hands = measure_posture(make_trial(without("club_"), noise_m=0.001))
    assert hands.methods["shaft_forward_lean_deg"] == "mid-hands to clubhead"
    for posture in (butt, hands):
        assert posture.standard_errors[0, posture.quantities.index("shaft_forward_lean_deg")] >= 3.0
    assert (
        "no landmark clubhead"
        in measure_posture(make_trial(without("club"))).missing["shaft_forward_lean_deg"]
    )


def test_no_ball_no_distance_from_it() -> None:
    """Truth: made. Without the ball's place its quantities are missing, shifts stay."""
    posture = measure_posture(standing(ball_m=None, ball_method="none"))
    for name in ("hands_ahead_of_ball_cm", "ball_ahead_of_lead_heel_cm", "ball_distance_cm"):
        assert posture.missing[name] == "the position of the ball is not known"
    assert "hands_toward_target_cm" in posture.quantities


def test_close_to_singular_postures_are_told() -> None:
    """Truth: made. A thorax bent 80 deg to the side, an arm hanging along the trunk."""
    from scipy.spatial.transform import Rotation

    bent = Rotation.from_euler("X", 80, degrees=True)
    posture = measure_posture(make_trial(in_study_frame({n: bent.apply(p) for n, p in STANDING.items()})))
    assert any("thorax_axial_rotation_deg and thorax_flexion_deg are close to undefined in 24 of 24" in w
               for w in posture.warnings)  # fmt: skip
    calm = measure_posture(standing()).warnings
    assert not any(w.startswith("thorax_axial_rotation_deg") for w in calm)
    assert any(w.startswith("lead_shoulder_plane_of_elevation_deg") for w in calm)


def test_angles_from_neutral_stand_beside_the_others() -> None:
    """Truth: made. The standing body bent 20 deg more than its neutral capture; other columns do not change."""
    from scipy.spatial.transform import Rotation

    bent = Rotation.from_euler("Z", -20, degrees=True)
    trial = make_trial(in_study_frame({n: bent.apply(p) for n, p in STANDING.items()}))
    plain, beside = measure_posture(trial), measure_posture(trial, neutral=standing())
    assert beside.curve("thorax_flexion_from_neutral_deg")[0] == pytest.approx(20.0)
    assert beside.curve("pelvis_flexion_from_neutral_deg")[0] == pytest.approx(20.0)
    assert beside.curve("trunk_flexion_from_neutral_deg")[0] == pytest.approx(0.0, abs=1e-9)
    assert beside.quantities[: len(plain.quantities)] == plain.quantities
    assert np.array_equal(beside.values[:, : len(plain.quantities)], plain.values)
    assert beside.warnings == plain.warnings
    again = measure_posture(trial, neutral=measure_posture(standing()))
    assert np.array_equal(again.values, beside.values)
    other = measure_posture(trial, neutral=make_trial(without("psis")))
    assert "another method" in other.missing["pelvis_flexion_from_neutral_deg"]
    assert (
        "no landmark xiphoid"
        in measure_posture(trial, neutral=make_trial(without("xiphoid"))).missing[
            "thorax_flexion_from_neutral_deg"
        ]
    )


def test_a_neutral_capture_in_which_the_golfer_moves_is_told() -> None:
    """Truth: made. The standing body sways by 5 deg forward and back: by 3.5 deg, standard deviation."""
    from scipy.spatial.transform import Rotation

    lean = Rotation.from_euler("Z", 5 * np.sin(2 * np.pi * np.arange(240) / 60)[:, None], degrees=True)
    swaying = make_trial(in_study_frame({n: lean.apply(p) for n, p in STANDING.items()}))
    warned = measure_posture(standing(), neutral=swaying).warnings
    assert any(
        "flexion is 3.5 deg" in words and "relative to the mean of this motion" in words for words in warned
    )


def test_from_one_camera_turns_are_missing_until_validated() -> None:
    """Truth: made. Axial rotations and separation have the reason; bends stay, and every method names the source."""
    trial = moving(60)
    seen = measure_posture(replace(trial, setup=replace(trial.setup, source="one camera")))
    assert "depth" in seen.missing["thorax_axial_rotation_deg"]
    assert "depth" in seen.missing["pelvis_thorax_separation_deg"]
    assert "thorax_flexion_deg" in seen.quantities
    assert all(method.endswith("one camera") for method in seen.methods.values())
    checked = measure_posture(replace(trial, setup=replace(trial.setup, source="one camera, validated")))
    assert "thorax_axial_rotation_deg" in checked.quantities
