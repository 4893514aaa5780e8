"""The invented golfers of the demo study."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from swinglab.simulate.parameters import KNOTS, Aim, Compensation, Habit, Stance, Tempo
from swinglab.simulate.variation import SPREAD, SwingVariation


@dataclass(frozen=True, slots=True)
class Member:
    """An invented golfer of the demo study.

    tilt : lateral flexion of the thorax to the trail side in delivery and at impact (deg, difference from the
    default). bend_after : flexion of the thorax in the follow-through (deg, difference from the default). turn : axial
    rotation of the thorax at the top (deg, difference from the default). steepness : attack angle of the habitual
    swing, deg. speed_mps : its clubhead speed. lesson : "worked", "drifted", or "" for none. captured_as : "markers" or
    "joint_centres".
    """

    name: str
    group: str
    hand: str
    stature_m: float
    mass_kg: float
    sex: str
    handicap: float
    tilt: float
    bend_after: float
    steepness: float
    speed_mps: float
    turn: float = 0.0
    club: str = "7 iron"
    lesson: str = ""
    captured_as: str = "markers"


#: Between members more tilt means a steeper strike, although within each member more tilt means a shallower one: those
#: with the most tilt have learnt to lean the shaft more. All values are invented.
MEMBERS = (
    Member("G01", "skilled", "right", 1.83, 82, "male", 2, 4.0, -5.0, -5.5, 37.5, -3.0),
    Member("G02", "skilled", "left", 1.77, 74, "male", 5, 1.5, -3.0, -4.65, 36.0, 2.0),
    Member("G03", "skilled", "right", 1.68, 61, "female", 4, -1.0, -6.0, -3.6, 32.5, -5.0),
    Member("G04", "skilled", "right", 1.79, 88, "male", 6, 6.0, -2.0, -6.2, 37.0, 1.0),
    Member("G05", "skilled", "right", 1.74, 70, "male", 3, 2.5, -7.0, -4.65, 35.0, -1.0),
    Member("G06", "skilled", "right", 1.86, 90, "male", 7, -3.0, -4.0, -3.3, 36.5, 4.0),
    Member("G07", "learners", "right", 1.80, 84, "male", 21, -5.0, 4.0, -4.05, 33.0, 5.0, "7 iron", "worked"),
    Member("G08", "learners", "right", 1.65, 63, "female", 26, -2.0, 7.0, -3.2, 29.5, 6.0),
    Member("G09", "learners", "left", 1.76, 79, "male", 19, -0.1, 5.0, -3.5, 33.5, 2.0, "7 iron", "drifted"),
    Member("G10", "learners", "right", 1.72, 77, "male", 28, -4.5, 9.0, -2.45, 31.0, 8.0),
    Member("G11", "learners", "right", 1.81, 95, "male", 24, 3.0, 3.0, -5.2, 34.0, 3.0),
    Member("G12", "learners", "right", 1.70, 68, "female", 18, -5.5, 6.0, -2.25, 30.0, 4.0),
    Member("G13", "skilled", "right", 1.78, 76, "male", 5, 0.5, -4.5, -4.15, 35.5, 0.0, "7 iron", "", "joint_centres"),
    Member("G14", "learners", "right", 1.75, 81, "male", 22, -1.0, 6.5, -3.8, 32.0, 5.0, "7 iron", "", "joint_centres"),
)  # fmt: skip


def member_golfer(member: Member) -> dict[str, object]:
    """Return the parameters of `make_golfer` for a member of the demo study."""
    habit = Habit()
    shifts = {
        "thorax_lateral_flexion_deg": {"delivery": 1.0, "impact": 1.0, "through": 0.6},
        "thorax_flexion_deg": {"through": 1.0, "finish": 0.6},
        "thorax_axial_rotation_deg": {"top": 1.0, "back": 0.5},
    }
    sizes = {
        "thorax_lateral_flexion_deg": member.tilt,
        "thorax_flexion_deg": member.bend_after,
        "thorax_axial_rotation_deg": member.turn,
    }
    changed = {
        curve: tuple(np.add(getattr(habit, curve), [sizes[curve] * at.get(knot, 0.0) for knot in KNOTS]))
        for curve, at in shifts.items()
    }
    skilled = member.group == "skilled"
    downswing = round(0.27 * 36.0 / member.speed_mps, 3)  # a slower swing takes longer
    return {
        "name": member.name, "hand": member.hand, "stature_m": member.stature_m, "mass_kg": member.mass_kg,
        "sex": member.sex, "club": member.club, "habit": replace(habit, **changed),
        "tempo": Tempo(backswing_s=1.06 - downswing, downswing_s=downswing, follow_s=0.36),
        "stance": Stance(width_cm=26.0 * member.stature_m),
        "aim": Aim(member.speed_mps, member.steepness, 0.0 if skilled else -1.5, 0.0 if skilled else 0.25),
        "compensation": Compensation(up=0.65 if skilled else 0.45),
    }  # fmt: skip


def member_variation(member: Member) -> SwingVariation:
    """Return the variation between swings of a member of the demo study: larger for learners.

    A member whose lesson is "drifted" also has a linear drift of tilt over the series.
    """
    drift = {"thorax_lateral_flexion_deg": 11.0} if member.lesson == "drifted" else {}
    # Pelvis rotation in the backswing varies independently of the strike; one question of the demo has no true effect.
    early = {"pelvis_axial_rotation_deg": 4.0}
    scale = 0.8 if member.group == "skilled" or member.lesson else 1.2
    return SwingVariation(dict(SPREAD), scale=scale, early_spread=early, drift=drift)
