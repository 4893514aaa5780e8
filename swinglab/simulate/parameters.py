"""Parameters of a simulated golfer: habitual posture, tempo and motion of arms and club, with units and defaults.

The defaults of posture are typical of a club player with an iron (common practice, no source). Where published ranges
exist (references/published), they are within them. Angles and signs are those of `swinglab.columns`.
"""

from __future__ import annotations

from dataclasses import dataclass, field, fields

#: Moments (knots) at which a habit has a value. `back` is about lead arm horizontal going back, `delivery` shaft
#: horizontal coming down, `through` trail arm horizontal after impact. The true events follow from the motion; their
#: times are close to these knots.
KNOTS = ("address", "back", "top", "delivery", "impact", "through", "finish")

Seven = tuple[float, float, float, float, float, float, float]


@dataclass(frozen=True, slots=True)
class Habit:
    """Habitual posture of a simulated golfer, with one field for each posture curve.

    Each field has seven values, at the key moments (knots) address, back (middle of the backswing), top, delivery,
    impact, through (after impact) and finish. Angles of pelvis and thorax are in turn-first order. Positions of the
    mid-point of the hips are relative to the mid-point of the feet; `pelvis_up_cm` is relative to the height that
    follows from `address_knee_flexion_deg`. `lead_arm_plane_deg` and `shaft_plane_deg` are the inclinations (from
    horizontal) of the planes in which lead arm and shaft move. `lead_arm_swing_deg` and `wrist_set_deg` are added to
    the angles given by `Tempo`; they are 0 in the habitual swing.
    """

    pelvis_axial_rotation_deg: Seven = (0.0, -23.0, -44.0, 18.0, 34.0, 62.0, 88.0)
    pelvis_lateral_flexion_deg: Seven = (1.0, -4.0, -8.0, 4.0, 9.0, 10.0, 3.0)
    pelvis_flexion_deg: Seven = (21.0, 20.0, 17.0, 20.0, 12.0, 2.0, -4.0)
    pelvis_toward_target_cm: Seven = (3.0, 1.0, 0.5, 8.0, 10.0, 14.0, 17.0)
    pelvis_up_cm: Seven = (0.0, -0.8, -2.0, -3.0, -1.5, 0.5, 0.5)
    pelvis_toward_ball_cm: Seven = (-17.0, -16.8, -16.0, -14.5, -13.5, -10.0, -7.0)
    thorax_axial_rotation_deg: Seven = (1.0, -50.0, -93.0, -9.0, 24.0, 74.0, 112.0)
    thorax_lateral_flexion_deg: Seven = (12.0, -10.0, -31.0, 16.0, 26.0, 31.0, 14.0)
    thorax_flexion_deg: Seven = (26.0, 22.0, 12.0, 32.0, 28.0, 0.0, -14.0)
    head_axial_rotation_deg: Seven = (2.0, -9.0, -18.0, -8.0, 4.0, 40.0, 80.0)
    head_lateral_flexion_deg: Seven = (3.0, -2.0, -6.0, 10.0, 14.0, 18.0, 8.0)
    head_flexion_deg: Seven = (44.0, 41.0, 36.0, 44.0, 42.0, 24.0, 2.0)
    lead_elbow_flexion_deg: Seven = (8.0, 8.0, 9.0, 8.0, 6.0, 24.0, 92.0)
    lead_shoulder_forward_cm: Seven = (3.0, 6.0, 7.0, 5.0, 3.0, 2.0, 0.0)
    trail_shoulder_forward_cm: Seven = (4.0, 4.0, 1.0, 2.0, 4.0, 7.0, 7.0)
    lead_arm_plane_deg: Seven = (70.0, 75.0, 47.0, 65.0, 74.0, 66.0, 56.0)
    shaft_plane_deg: Seven = (62.5, 59.0, 52.0, 58.0, 63.0, 58.0, 50.0)
    lead_arm_swing_deg: Seven = (0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0)
    wrist_set_deg: Seven = (0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0)
    trail_heel_lift_deg: Seven = (0.0, 0.0, 0.0, 4.0, 14.0, 46.0, 68.0)
    trail_foot_turn_deg: Seven = (0.0, 0.0, 0.0, 0.0, 4.0, 22.0, 48.0)


CURVES = tuple(item.name for item in fields(Habit))


@dataclass(frozen=True, slots=True)
class Tempo:
    """Durations of the phases of a simulated swing in s, and angles of arms and wrists in degrees."""

    still_s: float = 0.35  # still address before takeaway
    backswing_s: float = 0.84  # takeaway to the arms' turning point
    downswing_s: float = 0.27  # the arms' turning point to impact
    through_s: float = 0.11  # impact to about trail arm horizontal
    follow_s: float = 0.40  # impact to the arms' rest in the finish
    pelvis_leads_s: float = 0.06  # the pelvis turns back this long before the arms
    thorax_leads_s: float = 0.02
    arm_top_deg: float = -124.0  # lead arm in its plane, 0 = hanging, - away from the target
    arm_impact_deg: float = -6.0
    arm_finish_deg: float = 78.0
    wrist_top_deg: float = -102.0  # shaft against lead arm, 0 = in line
    release_before_impact: float = 0.47  # share of the release's duration before impact
    shaft_wraps_deg: float = 95.0  # the shaft's further turn to the finish
    set_starts: float = 0.22  # share of the backswing after which the wrists set
    face_opens_deg: float = 78.0  # roll of the face at the top
    address_lean_deg: float = 0.0  # shaft toward the target at address


@dataclass(frozen=True, slots=True)
class Stance:
    """Stance of a simulated golfer: distance and rotation of the feet, and knee flexion at address."""

    width_cm: float = 46.0  # heel to heel along the target line
    lead_flare_deg: float = 22.0
    trail_flare_deg: float = 8.0
    address_knee_flexion_deg: float = 23.0


@dataclass(frozen=True, slots=True)
class Aim:
    """Strike of the habitual swing of a simulated golfer; `make_golfer` solves other parameters so that it results.

    sole_at_impact_cm : height of the sole above the turf when the face reaches the ball, negative if below.
    head_behind_ball_cm : distance of the clubhead behind the ball at address.
    """

    clubhead_speed_mps: float = 35.0
    attack_angle_deg: float = -4.0
    club_path_in_to_out_deg: float = 0.0
    sole_at_impact_cm: float = 0.0
    head_behind_ball_cm: float = 1.0  # the face behind the ball at address


@dataclass(frozen=True, slots=True)
class Compensation:
    """Compensation by the hands for a change of posture in one swing, as shares of the resulting miss at impact.

    up, toward_ball : share of the vertical and of the horizontal miss that is compensated. lead_elbow_per_tilt :
    flexion of the lead elbow that is added, for each degree of tilt to the trail side less than in the habitual swing.
    """

    up: float = 0.60  # height of the head
    toward_ball: float = 0.85  # heel or toe
    lead_elbow_per_tilt: float = 0.0  # deg of lead elbow bend for each deg of missing trail-side tilt


@dataclass(frozen=True, slots=True)
class GolferParameters:
    """All parameters of a simulated golfer; see `make_golfer`.

    hand : "right" or "left"; a left-hander is simulated as the mirror image of a right-hander.
    """

    name: str = "G01"
    hand: str = "right"
    stature_m: float = 1.76
    sex: str = "male"
    mass_kg: float = 76.0
    club: str = "7 iron"
    habit: Habit = field(default_factory=Habit)
    tempo: Tempo = field(default_factory=Tempo)
    stance: Stance = field(default_factory=Stance)
    aim: Aim = field(default_factory=Aim)
    compensation: Compensation = field(default_factory=Compensation)
