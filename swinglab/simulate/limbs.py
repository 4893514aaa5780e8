"""Landmarks of a simulated golfer; trail arm and legs by inverse kinematics, with the feet on the turf."""

from __future__ import annotations

import numpy as np
from scipy.spatial.transform import Rotation

from swinglab.signals import unit
from swinglab.simulate.body import Body
from swinglab.simulate.linkage import LEAD_GRIP_M, TRAIL_GRIP_M, UP, Mover, Pose, segment_rotation

#: Largest length of a leg or arm as a share of its segments: it never straightens completely.
STRAIGHTEST = 0.998


def two_links(
    start: np.ndarray, end: np.ndarray, first: float, second: float, pole: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Return the middle joint (n, 3) of a limb of two segments, and the unit axis (n, 3) about which it bends.

    `start`, `end` : (n, 3) proximal and distal joint. `first`, `second` : lengths of the segments, in the same unit.
    `pole` : direction in which the middle joint points. If `end` is slightly out of reach, the limb is straight.
    """
    span = end - start
    distance = np.linalg.norm(span, axis=1, keepdims=True)
    along = span / distance
    bend = unit(pole - np.sum(pole * along, axis=1, keepdims=True) * along)
    part = (first**2 - second**2 + distance**2) / (2 * distance)
    off = np.sqrt(np.maximum(first**2 - part**2, 0.0))
    return start + part * along + off * bend, unit(np.cross(bend, along))


def _draw_shoulder(shoulder: np.ndarray, hand: np.ndarray, reach: float) -> np.ndarray:
    """Return the trail shoulder (n, 3), moved toward the hand by the distance that the arm is too short, smoothly."""
    span = hand - shoulder
    distance = np.linalg.norm(span, axis=1, keepdims=True)
    soft = 0.012
    lack = soft * np.logaddexp(0.0, (distance - STRAIGHTEST * reach) / soft)
    return shoulder + lack * span / distance


def _feet(mover: Mover, time_s: np.ndarray, side: str) -> dict[str, np.ndarray]:
    """Positions (n, 3), m, of heel, toe and ankle, and under "forward" the unit vector (n, 3) along the foot.

    side : "left" or "right". The lead foot does not move; the trail heel is lifted about the toe.
    """
    body, stance, solved = mover.body, mover.stance, mover.solved
    n = len(time_s)
    lead = side == "left"
    flare = np.radians(stance.lead_flare_deg if lead else -stance.trail_flare_deg)
    heading = np.array([np.sin(flare), 0.0, np.cos(flare)])
    x = solved.stance_x_m + (0.5 if lead else -0.5) * stance.width_cm / 100
    # The ankle is about a quarter of the foot ahead of the heel; the stance is centred on the middle of the ankles.
    heel = np.array([x, 0.025, solved.stance_z_m - 0.25 * body.foot])
    toe = heel + 0.80 * body.foot * heading
    ankle = heel + 0.27 * body.foot * heading + (body.ankle_height - 0.025) * UP
    points = {"heel": np.tile(heel, (n, 1)), "toe": np.tile(toe, (n, 1)), "ankle": np.tile(ankle, (n, 1))}
    forward = np.tile(heading, (n, 1))
    if not lead:
        lift, turn = mover.value("trail_heel_lift_deg", time_s), mover.value("trail_foot_turn_deg", time_s)
        across = np.cross(UP, heading)
        rolled = Rotation.from_rotvec(np.radians(turn)[:, None] * UP) * Rotation.from_rotvec(
            np.radians(lift)[:, None] * across
        )
        for name in ("heel", "ankle"):
            points[name] = toe + rolled.apply(points[name] - toe)
        forward = rolled.apply(forward)
    points["forward"] = forward
    return points


def _leg(mover: Mover, pose: Pose, time_s: np.ndarray, side: str) -> dict[str, np.ndarray]:
    body = mover.body
    feet = _feet(mover, time_s, side)
    hip = pose.mid_hips + pose.pelvis @ body.pelvis_points()[f"hip_{side}"]
    front = pose.pelvis @ np.array([1.0, 0.0, 0.0])
    pole = 0.65 * feet["forward"] * [1.0, 0.0, 1.0] + 0.35 * front
    knee, hinge = two_links(hip, feet["ankle"], body.thigh, body.shank, pole)
    right = -hinge if np.mean(np.sum(hinge * (pose.pelvis @ [0.0, 0.0, 1.0]), axis=1)) < 0 else hinge
    outward = right if side == "right" else -right
    mortise = unit(np.cross(feet["forward"], feet["ankle"] - feet["toe"]))
    mortise *= np.sign(np.sum(mortise * outward, axis=1, keepdims=True))
    return {
        f"hip_{side}": hip,
        f"knee_{side}": knee,
        f"ankle_{side}": feet["ankle"],
        f"heel_{side}": feet["heel"],
        f"toe_{side}": feet["toe"],
        f"knee_lateral_{side}": knee + 0.052 * outward,
        f"knee_medial_{side}": knee - 0.052 * outward,
        f"ankle_lateral_{side}": feet["ankle"] + 0.037 * mortise,
        f"ankle_medial_{side}": feet["ankle"] - 0.037 * mortise,
    }


def _arm(
    body: Body, pose: Pose, side: str, shoulder: np.ndarray, wrist: np.ndarray, grip: np.ndarray
) -> dict[str, np.ndarray]:
    outward = pose.thorax @ np.array([0.0, 0.0, 1.0 if side == "right" else -1.0])
    chest = pose.thorax @ np.array([1.0, 0.0, 0.0])
    pole = -0.8 * (pose.thorax @ UP) + 0.45 * outward - 0.25 * chest
    elbow, hinge = two_links(shoulder, wrist, body.upper_arm, body.forearm, pole)
    lateral = hinge if side == "right" else -hinge  # the lateral side of an elbow that flexes forward
    hand = grip
    forearm = unit(wrist - elbow)
    thumb = unit(-pose.shaft + np.sum(pose.shaft * forearm, axis=1, keepdims=True) * forearm)
    return {
        f"shoulder_{side}": shoulder,
        f"elbow_{side}": elbow,
        f"wrist_{side}": wrist,
        f"hand_{side}": wrist + 0.9 * (hand - wrist),
        f"elbow_lateral_{side}": elbow + 0.038 * lateral,
        f"elbow_medial_{side}": elbow - 0.038 * lateral,
        f"wrist_radial_{side}": wrist - 0.028 * thumb,
        f"wrist_ulnar_{side}": wrist + 0.028 * thumb,
    }


def place_landmarks(mover: Mover, pose: Pose, time_s: np.ndarray) -> dict[str, np.ndarray]:
    """Return landmark -> position (n, 3), m, for all markers and joint centres of a simulated golfer (not the ball)."""
    body = mover.body
    points: dict[str, np.ndarray] = {}
    for name, local in body.pelvis_points().items():
        points[name] = pose.mid_hips + pose.pelvis @ local
    for name, local in body.thorax_points().items():
        if not name.startswith("shoulder"):
            points[name] = pose.pivot + pose.thorax @ local
    head = segment_rotation(*(mover.value(f"head_{a}_deg", time_s) for a in
                              ("axial_rotation", "lateral_flexion", "flexion")))  # fmt: skip
    for name, local in body.head_points().items():
        points[name] = points["neck"] + head @ local
    points |= _leg(mover, pose, time_s, "left") | _leg(mover, pose, time_s, "right")
    lead_grip = pose.butt + LEAD_GRIP_M * pose.shaft
    points |= _arm(body, pose, "left", pose.lead_shoulder, pose.lead_wrist, lead_grip)
    trail_grip = pose.butt + TRAIL_GRIP_M * pose.shaft
    toward = unit(0.75 * unit(trail_grip - pose.trail_shoulder) + 0.25 * pose.shaft)
    trail_wrist = trail_grip - body.hand * toward
    shoulder = _draw_shoulder(pose.trail_shoulder, trail_wrist, body.upper_arm + body.forearm)
    points |= _arm(body, pose, "right", shoulder, trail_wrist, trail_grip)
    # Rab et al. (2002): the joint centre lies below the acromion by 17 % of the distance between them.
    above = np.array([0.0, 0.17 * body.shoulder_spacing, 0.0])
    for side in ("left", "right"):
        points[f"acromion_{side}"] = points[f"shoulder_{side}"] + pose.thorax @ above
    points["clubhead"] = pose.clubhead
    length = mover.club.length_m
    for name, at in (("club_butt", 0.01), ("club_shaft_1", 0.32), ("club_shaft_2", 0.58),
                     ("club_hosel", length - 0.07)):  # fmt: skip
        points[name] = pose.butt + at * pose.shaft
    return points
