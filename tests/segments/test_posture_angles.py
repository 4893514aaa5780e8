"""Angles and positions against constructions written here with numpy and scipy alone."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.spatial.transform import Rotation
from segments.made_body import STANDING, in_study_frame, make_trial, moving, standing

from swinglab.columns import QUANTITIES
from swinglab.errors import BadRequest, MissingInput
from swinglab.segments import hip_centres, measure_posture


def norm(v: np.ndarray) -> np.ndarray:
    """Vectors (n, 3) at length 1."""
    return v / np.linalg.norm(v, axis=1, keepdims=True)


def golfers(frame: np.ndarray) -> Rotation:
    """A frame of the study seen by the golfer: to the ball is +Z, up +Y, to the trail side -X."""
    to_golfer = np.array([[0, 0, 1], [0, 1, 0], [-1, 0, 0]])
    return Rotation.from_matrix(to_golfer @ frame)


def pelvis_by_hand(at: dict[str, np.ndarray]) -> np.ndarray:
    """Wu et al. 2002, step by step."""
    z = norm(at["asis_right"] - at["asis_left"])
    x0 = (at["asis_right"] + at["asis_left"] - at["psis_right"] - at["psis_left"]) / 2
    y = norm(np.cross(z, x0))
    return np.stack([np.cross(y, z), y, z], axis=-1)


def thorax_by_hand(at: dict[str, np.ndarray]) -> np.ndarray:
    """Wu et al. 2005: Z is normal to the plane of jugular notch, C7 and mid-xiphoid-T8, to the right."""
    low = (at["xiphoid"] + at["t8"]) / 2
    y = norm((at["jugular_notch"] + at["c7"]) / 2 - low)
    z = norm(np.cross(at["c7"] - low, at["jugular_notch"] - low))
    z *= np.sign(np.sum(np.cross(at["jugular_notch"] - at["c7"], y) * z, axis=1))[:, None]
    return np.stack([np.cross(y, z), y, z], axis=-1)


def same_angle(found: np.ndarray, expected: np.ndarray) -> None:
    """Equal to 1e-9 deg but for whole turns."""
    off = (found - expected + 180) % 360 - 180
    assert np.abs(off).max() < 1e-9


@pytest.fixture(scope="module")
def swing():
    """A moving body on random paths, and its posture."""
    trial = moving(120, seed=11)
    return {name: trial.point(name) for name in trial.landmarks}, measure_posture(trial)


@pytest.mark.parametrize(("part", "by_hand"), [("pelvis", pelvis_by_hand), ("thorax", thorax_by_hand)])
def test_segment_angles_are_scipys_of_a_frame_built_here(swing, part, by_hand) -> None:
    """Truth: other (scipy's Rotation) on random frames, both orders and the third view."""
    at, posture = swing
    seen = golfers(by_hand(at))
    turn, side, extension = seen.as_euler("YXZ", degrees=True).T
    same_angle(posture.curve(f"{part}_axial_rotation_deg"), turn)
    same_angle(posture.curve(f"{part}_lateral_flexion_deg"), side)
    same_angle(posture.curve(f"{part}_flexion_deg"), -extension)
    extension, side, turn = seen.as_euler("ZXY", degrees=True).T
    same_angle(posture.curve(f"{part}_axial_rotation_isb_deg"), turn)
    same_angle(posture.curve(f"{part}_lateral_flexion_isb_deg"), side)
    same_angle(posture.curve(f"{part}_flexion_isb_deg"), -extension)
    lean, direction, spin = (
        np.radians(posture.curve(f"{part}_{m}_deg")) for m in ("lean", "lean_direction", "spin")
    )
    # Put together again: spin about vertical first, then the tilt about a level axis square to its direction.
    axis = np.column_stack([np.sin(direction), np.zeros_like(lean), -np.cos(direction)])
    again = Rotation.from_rotvec(axis * lean[:, None]) * Rotation.from_rotvec(np.outer(spin, [0, 1, 0]))
    assert (again.inv() * seen).magnitude().max() < 1e-9


def test_trunk_and_separation(swing) -> None:
    """Truth: other (scipy). Thorax in pelvis, Z-X-Y; separation is the difference of the turns."""
    at, posture = swing
    pelvis, thorax = pelvis_by_hand(at), thorax_by_hand(at)
    z, x, y = Rotation.from_matrix(np.swapaxes(pelvis, 1, 2) @ thorax).as_euler("ZXY", degrees=True).T
    same_angle(posture.curve("trunk_flexion_deg"), -z)
    same_angle(posture.curve("trunk_lateral_flexion_deg"), x)
    same_angle(posture.curve("trunk_axial_rotation_deg"), y)
    turns = [golfers(frame).as_euler("YXZ", degrees=True)[:, 0] for frame in (pelvis, thorax)]
    same_angle(posture.curve("pelvis_thorax_separation_deg"), turns[0] - turns[1])


def limb_angles(at: dict[str, np.ndarray], side: str) -> dict[str, np.ndarray]:
    """Knee, hip, elbow, wrist and shoulder of one side by the right side's recipe on mirrored data."""
    if side == "left":
        flip = np.array([-1.0, 1.0, 1.0])  # another mirror than the kit's: joint angles must not care
        swap = {"left": "right", "right": "left"}
        at = {
            (f"{n.rsplit('_', 1)[0]}_{swap[n.rsplit('_', 1)[1]]}" if n.rsplit("_", 1)[-1] in swap else n): p
            * flip
            for n, p in at.items()
        }
    pelvis, thorax = pelvis_by_hand(at), thorax_by_hand(at)
    width = np.median(np.linalg.norm(at["asis_right"] - at["asis_left"], axis=1))
    back = (at["psis_right"] + at["psis_left"]) / 2
    front = (at["asis_right"] + at["asis_left"]) / 2
    depth = np.median(np.linalg.norm(front - back, axis=1))
    lengths = []
    for s in ("left", "right"):
        joint = (at[f"knee_lateral_{s}"] + at[f"knee_medial_{s}"]) / 2
        for end in (at[f"asis_{s}"], at[f"ankle_medial_{s}"]):
            lengths.append(np.percentile(np.linalg.norm(end - joint, axis=1), 95))
    leg = sum(lengths) / 2
    offset = np.array([
        -0.24 * depth - 0.0099, -0.16 * width - 0.04 * leg - 0.0071, 0.28 * depth + 0.16 * width + 0.0079
    ])  # fmt: skip
    hip = front + pelvis @ offset
    acromia = np.percentile(np.linalg.norm(at["acromion_right"] - at["acromion_left"], axis=1), 95)
    shoulder = at["acromion_right"] - 0.17 * acromia * thorax[:, :, 1]
    knee, ankle, elbow, wrist = (
        (at[f"{a}_right"] + at[f"{b}_right"]) / 2
        for a, b in (("knee_lateral", "knee_medial"), ("ankle_lateral", "ankle_medial"),
                     ("elbow_lateral", "elbow_medial"), ("wrist_radial", "wrist_ulnar"))
    )  # fmt: skip

    def frame(y: np.ndarray, right: np.ndarray) -> np.ndarray:
        y = norm(y)
        x = norm(np.cross(y, right))
        return np.stack([x, y, np.cross(x, y)], axis=-1)

    femur = frame(hip - knee, at["knee_lateral_right"] - at["knee_medial_right"])
    tibia = frame(knee - ankle, at["ankle_lateral_right"] - at["ankle_medial_right"])
    humerus = frame(shoulder - elbow, at["elbow_lateral_right"] - at["elbow_medial_right"])
    styloids = at["wrist_radial_right"] - at["wrist_ulnar_right"]
    forearm = frame(elbow - at["wrist_ulnar_right"], styloids)
    hand = frame(wrist - at["hand_right"], styloids)

    def joint(a: np.ndarray, b: np.ndarray, order: str = "ZXY") -> np.ndarray:
        return Rotation.from_matrix(np.swapaxes(a, 1, 2) @ b).as_euler(order, degrees=True).T

    flexion, adduction, rotation = joint(pelvis, femur)
    bend, deviation, _ = joint(forearm, hand)
    down = np.einsum("nij,ni->nj", thorax, shoulder - elbow)
    return {
        "hip_flexion": flexion, "hip_adduction": adduction, "hip_internal_rotation": rotation,
        "knee_flexion": -joint(femur, tibia)[0], "elbow_flexion": joint(humerus, forearm)[0],
        "wrist_flexion": bend, "wrist_ulnar_deviation": deviation,
        "shoulder_elevation": np.degrees(np.arccos(norm(down)[:, 1])),
        "shoulder_plane_of_elevation": np.degrees(np.arctan2(-down[:, 0], -down[:, 2])),
    }  # fmt: skip


@pytest.mark.parametrize(("word", "side"), [("lead", "left"), ("trail", "right")])
def test_limb_angles_are_scipys_of_frames_built_here(swing, word, side) -> None:
    """Truth: other (scipy). Hip, knee, elbow, wrist and shoulder of both sides."""
    at, posture = swing
    for name, expected in limb_angles(at, side).items():
        if f"{word}_{name}_deg" in QUANTITIES:
            same_angle(posture.curve(f"{word}_{name}_deg"), expected)


def test_shoulder_rotation_rebuilds_the_humerus(swing) -> None:
    """Truth: other (scipy). Plane, elevation (negative in ISB's own sign) and rotation, Y-X-Y."""
    _, posture = swing
    angles = np.column_stack([
        posture.curve("trail_shoulder_plane_of_elevation_deg"), -posture.curve("trail_shoulder_elevation_deg"),
        posture.curve("trail_shoulder_internal_rotation_deg"),
    ])  # fmt: skip
    again = Rotation.from_euler("YXY", angles, degrees=True).as_matrix()
    relative = np.swapaxes(posture.rotations["thorax"], 1, 2) @ posture.rotations["humerus_right"]
    assert np.abs(again - relative).max() < 1e-9


def test_positions_are_the_points_in_centimetres(swing) -> None:
    """Truth: made. Head centre and elbow spacing, feet and ball, from the landmarks themselves."""
    at, posture = swing
    head = np.mean([at[f"head_{e}_{s}"] for e in ("front", "back") for s in ("left", "right")], axis=0)
    assert np.allclose(posture.curve("head_centre_toward_target_cm"), 100 * head[:, 0], atol=1e-9)
    assert np.allclose(posture.curve("head_centre_up_cm"), 100 * head[:, 1], atol=1e-9)
    assert np.allclose(posture.curve("head_centre_toward_ball_cm"), 100 * head[:, 2], atol=1e-9)
    assert np.allclose(posture.curve("head_centre_ahead_of_ball_cm"), 100 * head[:, 0], atol=1e-9)
    between = (at["elbow_lateral_left"] + at["elbow_medial_left"]) / 2
    between = between - (at["elbow_lateral_right"] + at["elbow_medial_right"]) / 2
    assert np.allclose(posture.curve("elbow_spacing_cm"), 100 * np.linalg.norm(between, axis=1), atol=1e-9)


def test_feet_ball_and_shaft_of_the_standing_body() -> None:
    """Truth: made. Numbers read off the body's points."""
    posture = measure_posture(standing())
    at = in_study_frame(STANDING)
    first = {name: posture.curve(name)[0] for name in posture.quantities}
    assert first["stance_width_cm"] == pytest.approx(20.0)
    assert first["ball_ahead_of_lead_heel_cm"] == pytest.approx(-10.0)
    assert first["trail_heel_ahead_of_toe_cm"] == pytest.approx(4.0)
    assert first["trail_heel_height_cm"] == pytest.approx(4.0)
    assert first["ball_distance_cm"] == pytest.approx(-100 * at["toe_left"][2])
    along = at["club_butt"] - at["club_hosel"]
    assert first["shaft_forward_lean_deg"] == pytest.approx(
        np.degrees(np.arctan2(along[0], along[1])), abs=0.2
    )


@pytest.mark.parametrize(("first", "last"), [(-170.0, 200.0), (200.0, -170.0)])
def test_turns_go_on_beyond_a_half_turn(first: float, last: float) -> None:
    """Truth: made. A body that turns by 370 deg keeps counting, and is within a half-turn at contact."""
    n = 200
    turn = np.radians(np.linspace(first, last, n))
    c, s = np.cos(turn), np.sin(turn)
    points = {}
    for name, (x, y, z) in STANDING.items():
        golfer = np.column_stack([c * x + s * z, np.full(n, y), -s * x + c * z])
        points[name] = in_study_frame({name: golfer})[name]
    posture = measure_posture(make_trial(points, contact_time_s=100 / 240))
    found = posture.curve("thorax_axial_rotation_deg")
    assert found[0] == pytest.approx(first) and found[-1] == pytest.approx(last)


def test_hip_method_is_named_and_unknown_ones_refused() -> None:
    """Truth: made. Each regression moves the hips and says so; a wrong name gets near names."""
    for method, word in (("bell", "Bell 1990"), ("hara", "Hara 2016"), ("harrington", "Harrington 2007")):
        posture = measure_posture(standing(), hip_method=method)
        assert word in posture.methods["pelvis_centre_up_cm"]
    with pytest.raises(BadRequest, match="harrington"):
        measure_posture(standing(), hip_method="harington")
    with pytest.raises(BadRequest):
        hip_centres(0.24, 0.15, 0.9, method="none")


def test_without_a_malleolus_harringtons_single_form_serves() -> None:
    """Truth: made. The published form without leg length, named; Hara's, which needs it, is missing."""
    points = {n: p for n, p in in_study_frame(STANDING).items() if not n.startswith("ankle_medial")}
    posture = measure_posture(make_trial(points))
    assert "without leg length" in posture.methods["pelvis_centre_up_cm"]
    assert "lateral malleolus" in posture.methods["trail_knee_flexion_deg"]
    missing = measure_posture(make_trial(points), hip_method="hara").missing
    assert "no leg length" in missing["pelvis_centre_up_cm"]
    with pytest.raises(MissingInput, match="no leg length"):
        measure_posture(make_trial(points), hip_method="hara").curve("pelvis_centre_up_cm")
