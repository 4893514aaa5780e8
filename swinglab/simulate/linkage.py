"""Forward kinematics: positions of segments, joints and club of a simulated golfer at any time.

All positions are in the study frame, for a right-hander. Time 0 is the nominal impact: the time of impact of the
habitual swing. The clubhead is connected to the lead shoulder by lead arm, wrist and shaft, so any motion of the
shoulder moves the path of the clubhead.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache

import numpy as np
from scipy.interpolate import PPoly
from scipy.spatial.transform import Rotation
from scipy.special import betainc

from swinglab.conventions import GOLFER_AXES, TURN_FIRST
from swinglab.signals import unit
from swinglab.simulate.body import Body, Club
from swinglab.simulate.curves import step
from swinglab.simulate.parameters import CURVES, Stance, Tempo

#: Positions of lead and trail hand on the club, m from the butt end along the shaft.
LEAD_GRIP_M, TRAIL_GRIP_M = 0.065, 0.132
#: Times (s from impact) between which the arms move from the swing plane to the front of the chest.
ARMS_JOIN_CHEST_S = (0.015, 0.150)
UP = np.array([0.0, 1.0, 0.0])


@dataclass(frozen=True, slots=True, eq=False)
class Collision:
    """Effect of impact on the rotation of the shaft.

    time_s : time of impact. slowed : share of the angular velocity of the shaft that is lost. across_dps : angular
    velocity that is added, out of the plane in which the shaft moves, deg/s. recovers_s : time constant, s, with which
    the loss and the added velocity decay.
    """

    time_s: float
    slowed: float
    across_dps: float
    recovers_s: float = 0.06


@dataclass(frozen=True, slots=True, eq=False)
class Solved:
    """Parameters that `make_golfer` solves so that the club is behind the ball at address and hits it at impact.

    stance_x_m, stance_z_m : mid-point of the feet in the study frame. plane_direction_deg : horizontal direction of the
    planes of lead arm and shaft, positive in-to-out. wrist_impact_deg : angle from lead arm to shaft at impact.
    release_lasts_s : duration of the release, in which this angle changes from its value at the top to its value after
    impact. arm_address_deg, shaft_address_deg : angles of lead arm and shaft in their planes at address.
    """

    stance_x_m: float = 0.0
    stance_z_m: float = -0.75
    plane_direction_deg: float = 0.0
    wrist_impact_deg: float = -12.0
    release_lasts_s: float = 0.22
    arm_address_deg: float = 2.0
    shaft_address_deg: float = -3.0


@dataclass(frozen=True, slots=True, eq=False)
class Mover:
    """A simulated golfer in one swing: body, club, tempo, stance, solved parameters, and posture curves of this swing.

    collision : effect of impact; None for a swing without the ball.
    """

    body: Body
    club: Club
    tempo: Tempo
    stance: Stance
    solved: Solved
    curves: PPoly  # seconds -> (n, len(CURVES))
    collision: Collision | None = None

    def value(self, name: str, time_s: np.ndarray) -> np.ndarray:
        """Return the values (n,) of one posture curve at times (n,), in its unit."""
        return self.curves(np.asarray(time_s, dtype=float))[..., CURVES.index(name)]

    def undisturbed(self) -> Mover:
        """Return the same swing without the effect of impact."""
        return replace(self, collision=None)


@dataclass(frozen=True, slots=True, eq=False)
class Pose:
    """Segments and joints of a simulated golfer over time.

    pelvis, thorax : (n, 3, 3) axes as columns: forward, up, to the trail side. shaft : (n, 3) unit vector. The others
    are positions (n, 3), m.
    """

    pelvis: np.ndarray
    thorax: np.ndarray
    mid_hips: np.ndarray
    pivot: np.ndarray
    lead_shoulder: np.ndarray
    trail_shoulder: np.ndarray
    lead_wrist: np.ndarray
    shaft: np.ndarray  # from grip to head
    butt: np.ndarray
    clubhead: np.ndarray


def segment_rotation(turn: np.ndarray, side: np.ndarray, flexion: np.ndarray) -> np.ndarray:
    """Return the axes (n, 3, 3) of a segment in the study frame from its angles in turn-first order, in degrees.

    The columns are forward, up, to the trail side.

    `turn` : axial rotation, positive open to the target. `side` : lateral flexion, positive with the trail side lower.
    `flexion` : positive forward.
    """
    angles = np.column_stack([np.ravel(turn), np.ravel(side), -np.ravel(flexion)])
    return GOLFER_AXES @ Rotation.from_euler(TURN_FIRST, angles, degrees=True).as_matrix()


def in_plane(angle_deg: np.ndarray, inclination_deg: np.ndarray, direction_deg: float) -> np.ndarray:
    """Return unit vectors (n, 3) in an inclined plane, from their angle in the plane.

    Angle 0 points down the slope toward the ball, 90 deg to the target. `inclination_deg` : of the plane from
    horizontal. `direction_deg` : horizontal direction of the plane, positive to the right of the target.
    """
    angle, slope, heading = np.radians(angle_deg), np.radians(inclination_deg), np.radians(direction_deg)
    along = np.array([np.cos(heading), 0.0, np.sin(heading)])
    to_golfer = np.array([np.sin(heading), 0.0, -np.cos(heading)])
    upslope = np.cos(slope)[..., None] * to_golfer + np.sin(slope)[..., None] * UP
    return -np.cos(angle)[..., None] * upslope + np.sin(angle)[..., None] * along


def arm_angles(mover: Mover, time_s: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return angles (n,) of lead arm and shaft, each in its plane, and rotation of the face about the shaft, in deg.

    The effect of impact is not included.
    """
    tempo, solved = mover.tempo, mover.solved
    takeaway = -tempo.downswing_s - tempo.backswing_s
    back = step(time_s, takeaway, tempo.backswing_s + 0.03, 3.0, 3.0)
    down_length = tempo.downswing_s + tempo.follow_s
    share = (tempo.arm_impact_deg - tempo.arm_top_deg) / (tempo.arm_finish_deg - tempo.arm_top_deg)
    late = _shape_through(round(tempo.downswing_s / down_length, 12), round(share, 12))
    down = step(time_s, -tempo.downswing_s, down_length, 3.0, late)
    arm = (
        solved.arm_address_deg
        + (tempo.arm_top_deg - solved.arm_address_deg) * back
        + (tempo.arm_finish_deg - tempo.arm_top_deg) * down
    )
    wrist_address = solved.shaft_address_deg - solved.arm_address_deg
    set_start = takeaway + tempo.set_starts * tempo.backswing_s
    setting = step(time_s, set_start, (1 - tempo.set_starts) * tempo.backswing_s + 0.04, 3.0, 3.0)
    lasts = solved.release_lasts_s
    release = step(time_s, -tempo.release_before_impact * lasts, lasts, 3.5, 3.5)
    done = float(betainc(3.5, 3.5, tempo.release_before_impact))
    travel = (solved.wrist_impact_deg - tempo.wrist_top_deg) / done
    wrist = wrist_address + (tempo.wrist_top_deg - wrist_address) * setting + travel * release
    wrist = wrist + tempo.shaft_wraps_deg * step(time_s, 0.06, tempo.follow_s - 0.03, 3.0, 3.0)
    roll = tempo.face_opens_deg * (setting - release / done)
    arm = arm + mover.value("lead_arm_swing_deg", time_s)
    return arm, arm + wrist + mover.value("wrist_set_deg", time_s), roll


@cache
def _shape_through(at: float, share: float) -> float:
    """Late shape parameter of a `step` (early shape 3) that has risen by `share` at the share `at` of its duration."""
    low, high = 1.5, 30.0
    for _ in range(50):
        middle = (low + high) / 2
        risen = float(betainc(3.0, middle, at))
        low, high = (middle, high) if risen < share else (low, middle)
    return (low + high) / 2


def move(mover: Mover, time_s: np.ndarray) -> Pose:
    """Return the pose of trunk, lead arm and club at times (n,), in s from nominal impact.

    Nominal impact is the time of impact of the golfer's habitual swing.
    """
    time_s = np.atleast_1d(np.asarray(time_s, dtype=float))
    c = dict(zip(CURVES, mover.curves(time_s).T, strict=True))
    body, solved = mover.body, mover.solved
    pelvis, thorax = (
        segment_rotation(c[f"{p}_axial_rotation_deg"], c[f"{p}_lateral_flexion_deg"], c[f"{p}_flexion_deg"])
        for p in ("pelvis", "thorax")
    )
    mid_hips = np.column_stack(
        [
            solved.stance_x_m + c["pelvis_toward_target_cm"] / 100,
            hip_height(body, mover.stance) + c["pelvis_up_cm"] / 100,
            solved.stance_z_m + c["pelvis_toward_ball_cm"] / 100,
        ]
    )
    pivot = mid_hips + pelvis @ np.array([0.0, body.pivot_above_hips, 0.0])
    rest = body.thorax_points()
    shoulders = {}
    for side, name in (("left", "lead"), ("right", "trail")):
        local = rest[f"shoulder_{side}"] + np.outer(
            c[f"{name}_shoulder_forward_cm"] / 100, [1.0, 0.0, 0.25 if side == "left" else -0.25]
        )
        shoulders[name] = pivot + np.einsum("nij,nj->ni", thorax, local)
    arm_angle, shaft_angle, roll = arm_angles(mover, time_s)
    arm = in_plane(arm_angle, c["lead_arm_plane_deg"], solved.plane_direction_deg)
    arm = _join_chest(arm, thorax, time_s)
    reach = arm_length(body, c["lead_elbow_flexion_deg"])
    shaft, across = _club_axes(mover, time_s, shaft_angle, c["shaft_plane_deg"], roll)
    lead_wrist = shoulders["lead"] + reach[:, None] * arm
    grip = lead_wrist + body.hand * unit(0.6 * arm + 0.4 * shaft)
    butt = grip - LEAD_GRIP_M * shaft
    along, off = mover.club.face_offset
    clubhead = butt + (mover.club.length_m + along) * shaft + off * across
    return Pose(
        pelvis, thorax, mid_hips, pivot, shoulders["lead"], shoulders["trail"], lead_wrist, shaft, butt,
        clubhead,
    )  # fmt: skip


def arm_length(body: Body, elbow_flexion_deg: np.ndarray) -> np.ndarray:
    """Return the distance (n,), m, from shoulder to wrist centre for given elbow flexion (n,), deg."""
    bend = np.cos(np.radians(elbow_flexion_deg))
    return np.sqrt(body.upper_arm**2 + body.forearm**2 + 2 * body.upper_arm * body.forearm * bend)


def hip_height(body: Body, stance: Stance) -> float:
    """Return the height of the hip centres above the turf, m, with the knee flexion at address."""
    bend = np.cos(np.radians(stance.address_knee_flexion_deg))
    leg = np.sqrt(body.thigh**2 + body.shank**2 + 2 * body.thigh * body.shank * bend)
    spread = stance.width_cm / 200 - body.hip_offset[2]
    back = 0.18  # distance of the hips behind the ankles, m
    return float(body.ankle_height + np.sqrt(leg**2 - spread**2 - back**2))


def _join_chest(arm: np.ndarray, thorax: np.ndarray, time_s: np.ndarray) -> np.ndarray:
    start, end = ARMS_JOIN_CHEST_S
    share = step(time_s, start, end - start, 3.0, 3.0)
    rise = step(time_s, end - 0.05, 0.30, 3.0, 3.0)
    # In the axes of the thorax: forward and slightly to the trail side, later up beside the lead ear.
    local = np.column_stack([0.92 - 0.60 * rise, -0.10 + 0.85 * rise, 0.34 - 0.54 * rise])
    front = np.einsum("nij,nj->ni", thorax, local)
    return unit((1 - share)[:, None] * arm + share[:, None] * unit(front))


def _club_axes(
    mover: Mover, time_s: np.ndarray, angle: np.ndarray, slope: np.ndarray, roll: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Direction of the shaft (n, 3) and the direction across it toward the toe (n, 3), with the effect of impact."""
    hit = mover.collision
    if hit is not None:
        angle, roll = angle.copy(), roll.copy()
        late = time_s > hit.time_s
        since = np.where(late, time_s - hit.time_s, 0.0)
        lag = hit.slowed * hit.recovers_s * -np.expm1(-since / hit.recovers_s)
        if late.any():
            _, angle[late], roll[late] = arm_angles(mover, time_s[late] - lag[late])
    heading = mover.solved.plane_direction_deg
    shaft = in_plane(angle, slope, heading)
    tangent = in_plane(angle + 90.0, slope, heading)
    normal = np.cross(shaft, tangent)  # up and away from the golfer
    if hit is not None:
        tipped = np.radians(hit.across_dps) * since * np.exp(-since / hit.recovers_s)
        shaft = unit(shaft + tipped[:, None] * normal)
    turned = np.radians(roll)[:, None]
    across = np.cos(turned) * normal - np.sin(turned) * tangent
    return shaft, unit(across - np.sum(across * shaft, axis=1, keepdims=True) * shaft)
