"""True values of the posture quantities of a simulated swing at any time."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from scipy.spatial.transform import Rotation

from swinglab.conventions import GOLFER_AXES
from swinglab.signals import unit
from swinglab.simulate.limbs import place_landmarks
from swinglab.simulate.linkage import Mover, Pose, move

#: Directions of positions, in the order of the axes of the study frame.
ROUND = ("toward_target", "up", "toward_ball")


def measure_true_posture(mover: Mover, time_s: np.ndarray) -> dict[str, np.ndarray]:
    """Return posture quantity -> its true values (n,), in its unit, at times (n,) in s from nominal impact.

    Positions are in cm from the origin under the ball. Angles of pelvis and thorax are those from which the swing is
    simulated; the other quantities are computed from exact joint centres. Nominal impact is the time of impact of the
    golfer's habitual swing.
    """
    time_s = np.atleast_1d(np.asarray(time_s, dtype=float))
    pose = move(mover, time_s)
    points = place_landmarks(mover, pose, time_s)
    values: dict[str, np.ndarray] = {}
    for part in ("pelvis", "thorax"):
        for motion in ("axial_rotation", "lateral_flexion", "flexion"):
            values[f"{part}_{motion}_deg"] = mover.value(f"{part}_{motion}_deg", time_s)
        values |= _isb(part, getattr(pose, part))
    values |= _trunk(pose)
    turn = values["pelvis_axial_rotation_deg"] - values["thorax_axial_rotation_deg"]
    values["pelvis_thorax_separation_deg"] = turn
    centres = {
        "pelvis_centre": pose.mid_hips,
        "thorax_centre": np.mean([points[n] for n in ("jugular_notch", "c7", "xiphoid", "t8")], axis=0),
        "head_centre": np.mean(
            [points[f"head_{a}_{b}"] for a in ("front", "back") for b in ("left", "right")], axis=0
        ),
    }
    for name, place in centres.items():
        for axis, motion in enumerate(ROUND):
            values[f"{name}_{motion}_cm"] = 100 * place[:, axis]
        values[f"{name}_ahead_of_ball_cm"] = 100 * place[:, 0]
    values["pelvis_ahead_of_thorax_cm"] = 100 * (centres["pelvis_centre"] - centres["thorax_centre"])[:, 0]
    values |= _limb_quantities(points)
    lean = np.degrees(np.arctan2(-pose.shaft[:, 0], -pose.shaft[:, 1]))
    values["shaft_forward_lean_deg"] = lean
    return values


def _isb(part: str, rotation: np.ndarray) -> dict[str, np.ndarray]:
    angles = Rotation.from_matrix(GOLFER_AXES.T @ rotation).as_euler("ZXY", degrees=True)
    return {
        f"{part}_flexion_isb_deg": -angles[:, 0],
        f"{part}_lateral_flexion_isb_deg": angles[:, 1],
        f"{part}_axial_rotation_isb_deg": np.degrees(np.unwrap(np.radians(angles[:, 2]))),
    }


def _trunk(pose: Pose) -> dict[str, np.ndarray]:
    between = np.swapaxes(pose.pelvis, 1, 2) @ pose.thorax
    angles = Rotation.from_matrix(between).as_euler("ZXY", degrees=True)
    return {
        "trunk_flexion_deg": -angles[:, 0],
        "trunk_lateral_flexion_deg": angles[:, 1],
        "trunk_axial_rotation_deg": angles[:, 2],
    }


def _limb_quantities(points: Mapping[str, np.ndarray]) -> dict[str, np.ndarray]:
    values = {}
    for side, name in (("left", "lead"), ("right", "trail")):
        a = points[f"knee_{side}"] - points[f"hip_{side}"]
        b = points[f"ankle_{side}"] - points[f"knee_{side}"]
        cosine = np.sum(a * b, axis=1) / np.linalg.norm(a, axis=1) / np.linalg.norm(b, axis=1)
        values[f"{name}_knee_flexion_deg"] = np.degrees(np.arccos(np.clip(cosine, -1, 1)))
        values[f"{name}_elbow_flexion_deg"] = _elbow_flexion(points, side)
    apart = points["elbow_left"] - points["elbow_right"]
    values["elbow_spacing_cm"] = 100 * np.linalg.norm(apart, axis=1)
    values["trail_heel_ahead_of_toe_cm"] = 100 * (points["heel_right"] - points["toe_right"])[:, 0]
    values["trail_heel_height_cm"] = 100 * points["heel_right"][:, 1]
    values["stance_width_cm"] = 100 * (points["heel_left"] - points["heel_right"])[:, 0]
    values["ball_ahead_of_lead_heel_cm"] = -100 * points["heel_left"][:, 0]
    toes = (points["toe_left"] + points["toe_right"]) / 2
    values["ball_distance_cm"] = -100 * toes[:, 2]
    return values


def _elbow_flexion(points: Mapping[str, np.ndarray], side: str) -> np.ndarray:
    """Humerus to forearm, Z-X-Y (Wu et al. 2005), from exact joint centres; a left arm is mirrored.

    The forearm's axis starts at the ulnar styloid, so a straight arm has an angle of a few degrees.
    """
    mirror = np.array([1.0, 1.0, -1.0 if side == "left" else 1.0])
    at = {
        n: points[f"{n}_{side}"] * mirror
        for n in ("shoulder", "elbow", "elbow_lateral", "elbow_medial", "wrist_radial", "wrist_ulnar")
    }
    elbow = (at["elbow_lateral"] + at["elbow_medial"]) / 2
    humerus = _frame(at["shoulder"] - elbow, at["elbow_lateral"] - at["elbow_medial"])
    forearm = _frame(elbow - at["wrist_ulnar"], at["wrist_radial"] - at["wrist_ulnar"])
    between = np.swapaxes(humerus, 1, 2) @ forearm
    return Rotation.from_matrix(between).as_euler("ZXY", degrees=True)[:, 0]


def _frame(up: np.ndarray, right: np.ndarray) -> np.ndarray:
    """Axes (n, 3, 3) as columns: y along `up`, z as close to `right` as possible."""
    y = unit(up)
    x = unit(np.cross(y, right))
    return np.stack([x, y, np.cross(x, y)], axis=2)


def is_from_address(quantity: str) -> bool:
    """Return whether the tables give a posture quantity relative to its value at address.

    These are the height of the trail heel, and the positions toward the target, up and toward the ball.
    """
    return quantity.endswith(tuple(f"_{m}_cm" for m in ROUND)) or quantity == "trail_heel_height_cm"
