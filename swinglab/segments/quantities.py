"""All posture quantities that `columns` declares, computed from landmarks: in degrees (-180 to 180) and centimetres."""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

import numpy as np

from swinglab.conventions import ISB_ORDER, LEAD, SHOULDER_ORDER, SIDE_WORDS, TRAIL, TURN_FIRST
from swinglab.errors import MissingInput
from swinglab.segments import centres, limbs, trunk
from swinglab.segments.body import Body, Made, made_once
from swinglab.segments.geometry import (
    angle_between,
    cardan,
    distal_in_proximal,
    in_golfers_frame,
    lean_and_spin,
    wrapped,
)
from swinglab.segments.mass import body_centre_of_mass
from swinglab.signals import unit

#: Error (deg) of the shaft's lean if there are no two landmarks on the shaft; the same in all frames (assumed value).
SHAFT_STAND_IN_DEG = 3.0
NO_TURN = "rotation of the {} about its long axis needs a marker on both sides of the joint"
HIPS_HIDE_TILT = "joint centres do not show the tilt of the pelvis"

#: Result of a group of quantities: by name, a value or the reason why there is none.
Given = dict[str, Made | str]


class Group(NamedTuple):
    """Quantities that one function computes; if a landmark is missing, all of them are missing.

    names : of the quantities. measure : function from a `Body` to a dict of name -> value, or the reason why it is
    missing.
    """

    names: tuple[str, ...]
    measure: Callable[[Body], Given]


def measure_all(body: Body) -> Given:
    """Return every posture quantity of a body: name -> value with its method, or the reason why it is missing."""
    given: Given = {}
    for group in GROUPS:
        try:
            given |= group.measure(body)
        except MissingInput as reason:
            given |= dict.fromkeys(group.names, reason.what)
    return given


# --- pelvis and thorax in the golfer's frame ---------------------------------------------------------------

_ANGLES = ("axial_rotation", "lateral_flexion", "flexion")
_LEAN = ("lean", "lean_direction", "spin")


def _segment_names(part: str) -> tuple[str, ...]:
    motions = (*_ANGLES, *(f"{motion}_isb" for motion in _ANGLES), *_LEAN)
    return tuple(f"{part}_{motion}_deg" for motion in motions)


@made_once
def _pelvis_seen(body: Body) -> Made:
    """Pelvis axes (..., 3, 3) in the golfer's frame."""
    made = trunk.pelvis(body)
    return Made(in_golfers_frame(made.value), made.method, made.stand_in)


@made_once
def _thorax_seen(body: Body) -> Made:
    """Thorax axes (..., 3, 3) in the golfer's frame."""
    made = trunk.thorax(body)
    return Made(in_golfers_frame(made.value), made.method, made.stand_in)


@made_once
def _pelvis_turned(body: Body) -> Made:
    """Turn-first angles (3, ...) of the pelvis: axial rotation, lateral flexion, flexion."""
    made = _pelvis_seen(body)
    return Made(cardan(made.value, TURN_FIRST), made.method, made.stand_in)


@made_once
def _thorax_turned(body: Body) -> Made:
    """Turn-first angles (3, ...) of the thorax: axial rotation, lateral flexion, flexion."""
    made = _thorax_seen(body)
    return Made(cardan(made.value, TURN_FIRST), made.method, made.stand_in)


def _segment(part: str, made: Made, turned: Made) -> dict[str, Made | str]:
    seen = made.value
    turn, side, extension = turned.value
    extension_isb, side_isb, turn_isb = cardan(seen, ISB_ORDER)
    values = (turn, side, -extension, turn_isb, side_isb, -extension_isb, *lean_and_spin(seen))
    return {name: Made(v, made.method) for name, v in zip(_segment_names(part), values, strict=True)}


def _pelvis(body: Body) -> Given:
    made = _pelvis_seen(body)
    given = _segment("pelvis", made, _pelvis_turned(body))
    if made.stand_in:
        # Turn-first axial rotation and lateral flexion depend only on the line of the hips; other angles need the tilt.
        seen = {"pelvis_axial_rotation_deg", "pelvis_lateral_flexion_deg"}
        given |= dict.fromkeys(set(given) - seen, HIPS_HIDE_TILT)
    return given


def _thorax(body: Body) -> Given:
    return _segment("thorax", _thorax_seen(body), _thorax_turned(body))


def _separation(body: Body) -> Given:
    pelvis, thorax = _pelvis_turned(body), _thorax_turned(body)
    return {
        "pelvis_thorax_separation_deg": Made(
            wrapped(pelvis.value[0] - thorax.value[0]), _both(pelvis, thorax)
        )
    }


def _trunk(body: Body) -> Given:
    pelvis, thorax = trunk.pelvis(body), trunk.thorax(body)
    z, x, y = cardan(distal_in_proximal(pelvis.value, thorax.value), ISB_ORDER)
    method = _both(pelvis, thorax)
    given: Given = {
        "trunk_flexion_deg": Made(-z, method),
        "trunk_lateral_flexion_deg": Made(x, method),
        "trunk_axial_rotation_deg": Made(y, method),
    }
    if pelvis.stand_in:
        # Z is the first rotation, so an incorrect tilt of the pelvis would change flexion only.
        given["trunk_flexion_deg"] = HIPS_HIDE_TILT
    return given


def _neck(body: Body) -> Given:
    head, thorax = trunk.head(body), trunk.thorax(body)
    z = cardan(distal_in_proximal(thorax.value, head.value), ISB_ORDER)[0]
    return {"neck_flexion_deg": Made(-z, _both(thorax, head))}


def _both(*made: Made) -> str:
    return "; ".join(dict.fromkeys(m.method for m in made))


# --- limbs, written for the right side ---------------------------------------------------------------------


def _joint(proximal: Made, distal: Made) -> tuple[np.ndarray, np.ndarray, np.ndarray, str]:
    """Rotations (deg) about Z, X and Y of a joint coordinate system, and the text on the method."""
    z, x, y = cardan(distal_in_proximal(proximal.value, distal.value), ISB_ORDER)
    return z, x, y, _both(proximal, distal)


def _elbow(body: Body) -> Given:
    if body.has("elbow_lateral_right", "elbow_medial_right", "wrist_radial_right", "wrist_ulnar_right"):
        z, _, _, method = _joint(limbs.humerus(body), limbs.forearm(body))
        return {"elbow_flexion_deg": Made(z, method)}
    return {"elbow_flexion_deg": _bend(centres.shoulder(body), centres.elbow(body), centres.wrist(body))}


def _knee(body: Body) -> Given:
    if all(body.has(f"{joint}_lateral_right", f"{joint}_medial_right") for joint in ("knee", "ankle")):
        z, _, _, method = _joint(limbs.femur(body), limbs.tibia(body))
        # The shank bends backward: in ISB axes knee flexion is the negative rotation about Z.
        return {"knee_flexion_deg": Made(-z, method)}
    return {"knee_flexion_deg": _bend(centres.hip(body), centres.knee(body), centres.ankle(body))}


def _bend(upper: Made, joint: Made, lower: Made) -> Made:
    """Angle in degrees by which a joint is bent, from three joint centres; 0 if straight, never negative."""
    angle = angle_between(joint.value - upper.value, lower.value - joint.value)
    return Made(angle, f"angle of three joint centres; {_both(upper, joint, lower)}")


def _hip(body: Body) -> Given:
    pelvis = trunk.pelvis(body)
    if pelvis.stand_in:
        long_axis = unit(centres.hip(body).value - centres.knee(body).value)
        to_right = np.clip((long_axis * pelvis.value[..., :, 2]).sum(axis=-1), -1.0, 1.0)
        return {
            "hip_flexion_deg": HIPS_HIDE_TILT,
            "hip_adduction_deg": Made(np.degrees(np.arcsin(to_right)), pelvis.method),
            "hip_internal_rotation_deg": NO_TURN.format("thigh"),
        }
    if not body.has("knee_lateral_right", "knee_medial_right"):
        knee = centres.knee(body)
        up = unit(centres.hip(body).value - knee.value)
        # Both depend on the thigh's long axis alone: (-sin z cos x, cos z cos x, sin x) in the sequence Z-X-Y.
        x, y, z = np.moveaxis((up[..., None, :] @ pelvis.value)[..., 0, :], -1, 0)
        method = _both(pelvis, centres.hip(body), knee)
        return {
            "hip_flexion_deg": Made(np.degrees(np.arctan2(-x, y)), method),
            "hip_adduction_deg": Made(np.degrees(np.arcsin(np.clip(z, -1.0, 1.0))), method),
            "hip_internal_rotation_deg": NO_TURN.format("thigh"),
        }
    z, x, y, method = _joint(pelvis, limbs.femur(body))
    names = ("hip_flexion_deg", "hip_adduction_deg", "hip_internal_rotation_deg")
    return {name: Made(v, method) for name, v in zip(names, (z, x, y), strict=True)}


_SHOULDER = ("shoulder_plane_of_elevation_deg", "shoulder_elevation_deg", "shoulder_internal_rotation_deg")


def _shoulder(body: Body) -> Given:
    thorax = trunk.thorax(body)
    if not body.has("elbow_lateral_right", "elbow_medial_right"):
        elbow = centres.elbow(body)
        arm = centres.shoulder(body).value - elbow.value
        method = thorax.method if thorax.stand_in else _both(thorax, elbow)
        x, y, z = np.moveaxis((arm[..., None, :] @ thorax.value)[..., 0, :], -1, 0)
        plane, elevation = np.degrees(np.arctan2(-x, -z)), np.degrees(np.arctan2(np.hypot(x, z), y))
        return {
            _SHOULDER[0]: Made(plane, method),
            _SHOULDER[1]: Made(elevation, method),
            _SHOULDER[2]: NO_TURN.format("upper arm"),
        }
    humerus = limbs.humerus(body)
    first, middle, last = cardan(distal_in_proximal(thorax.value, humerus.value), SHOULDER_ORDER)
    # The middle angle of Y-X-Y is 0 to 180 in scipy and 0 to -180 by ISB; the other two angles differ by 180.
    values = (wrapped(first + 180.0), middle, wrapped(last - 180.0))
    return {name: Made(v, _both(thorax, humerus)) for name, v in zip(_SHOULDER, values, strict=True)}


def _wrist(body: Body) -> Given:
    z, x, _, method = _joint(limbs.forearm(body), limbs.hand(body))
    return {"wrist_flexion_deg": Made(z, method), "wrist_ulnar_deviation_deg": Made(x, method)}


def _of_side(word: str, names: tuple[str, ...], measure: Callable[[Body], Given]) -> Group:
    """Convert a group defined for the right side to one for the golfer's lead or trail side."""

    def measure_side(body: Body) -> Given:
        return {f"{word}_{name}": given for name, given in measure(body.side(SIDE_WORDS[word])).items()}

    return Group(tuple(f"{word}_{name}" for name in names), measure_side)


# --- positions, in centimetres from the origin under the ball ----------------------------------------------


def _position(part: str, recipe: Callable[[Body], Made]) -> Group:
    names = tuple(f"{part}_{motion}_cm" for motion in ("toward_target", "up", "toward_ball", "ahead_of_ball"))

    def measure(body: Body) -> Given:
        made = recipe(body)
        scaled = 100.0 * made.value
        x, y, z = (scaled[..., axis] for axis in range(3))
        given: Given = {name: Made(v, made.method) for name, v in zip(names[:3], (x, y, z), strict=True)}
        given[names[3]] = (
            BALL_NOT_KNOWN if body.ball_m is None else Made(x - 100.0 * body.ball_m[0], made.method)
        )
        return given

    return Group(names, measure)


BALL_NOT_KNOWN = "the position of the ball is not known"


def _pelvis_ahead(body: Body) -> Given:
    pelvis, thorax = centres.pelvis_centre(body), centres.thorax_centre(body)
    ahead = 100.0 * (pelvis.value[..., 0] - thorax.value[..., 0])
    return {"pelvis_ahead_of_thorax_cm": Made(ahead, _both(pelvis, thorax))}


def _elbow_spacing(body: Body) -> Given:
    left, right = (centres.centre(body, "elbow", side) for side in (LEAD, TRAIL))
    apart = 100.0 * np.sqrt(((left.value - right.value) ** 2).sum(axis=-1))
    return {"elbow_spacing_cm": Made(apart, _both(left, right))}


def _trail_heel(body: Body) -> Given:
    heel, toe = body.need(f"heel_{TRAIL}", f"toe_{TRAIL}")
    return {"trail_heel_ahead_of_toe_cm": Made(100.0 * (heel - toe)[..., 0], "heel and toe landmarks")}


def _trail_heel_height(body: Body) -> Given:
    (heel,) = body.need(f"heel_{TRAIL}")
    return {"trail_heel_height_cm": Made(100.0 * heel[..., 1], "heel landmark")}


def _stance(body: Body) -> Given:
    lead, trail = body.need(f"heel_{LEAD}", f"heel_{TRAIL}")
    return {"stance_width_cm": Made(100.0 * (lead - trail)[..., 0], "heel landmarks")}


def _ball_and_heel(body: Body) -> Given:
    (heel,) = body.need(f"heel_{LEAD}")
    if body.ball_m is None:
        raise MissingInput(BALL_NOT_KNOWN)
    return {"ball_ahead_of_lead_heel_cm": Made(100.0 * (body.ball_m[0] - heel[..., 0]), "heel landmark")}


def _ball_distance(body: Body) -> Given:
    lead, trail = body.need(f"toe_{LEAD}", f"toe_{TRAIL}")
    if body.ball_m is None:
        raise MissingInput(BALL_NOT_KNOWN)
    apart = lead - trail
    # If both toes have the same position along the target line, the line of the toes has no finite slope.
    slope = np.divide(
        apart[..., 2], apart[..., 0], out=np.full(apart.shape[:-1], np.nan), where=apart[..., 0] != 0
    )
    line = trail[..., 2] + slope * (body.ball_m[0] - trail[..., 0])
    return {"ball_distance_cm": Made(100.0 * (body.ball_m[2] - line), "toe landmarks")}


def _shaft(body: Body) -> Given:
    top = limbs.shaft_top(body)
    along = top.value - limbs.shaft_bottom(body).value
    lean = np.degrees(np.arctan2(along[..., 0], along[..., 1]))
    return {"shaft_forward_lean_deg": Made(lean, top.method, top.stand_in)}


GROUPS: tuple[Group, ...] = (
    Group(_segment_names("pelvis"), _pelvis),
    Group(_segment_names("thorax"), _thorax),
    Group(("trunk_flexion_deg", "trunk_lateral_flexion_deg", "trunk_axial_rotation_deg"), _trunk),
    Group(("pelvis_thorax_separation_deg",), _separation),
    Group(("pelvis_ahead_of_thorax_cm",), _pelvis_ahead),
    Group(("neck_flexion_deg",), _neck),
    Group(("elbow_spacing_cm",), _elbow_spacing),
    *(
        _of_side(word, names, measure)
        for word in SIDE_WORDS
        for names, measure in (
            (("elbow_flexion_deg",), _elbow),
            (("knee_flexion_deg",), _knee),
            (("hip_flexion_deg", "hip_adduction_deg", "hip_internal_rotation_deg"), _hip),
            (_SHOULDER, _shoulder),
        )
    ),
    _of_side("lead", ("wrist_flexion_deg", "wrist_ulnar_deviation_deg"), _wrist),
    Group(("trail_heel_ahead_of_toe_cm",), _trail_heel),
    Group(("trail_heel_height_cm",), _trail_heel_height),
    Group(("stance_width_cm",), _stance),
    Group(("ball_ahead_of_lead_heel_cm",), _ball_and_heel),
    Group(("ball_distance_cm",), _ball_distance),
    Group(("shaft_forward_lean_deg",), _shaft),
    _position("pelvis_centre", centres.pelvis_centre),
    _position("thorax_centre", centres.thorax_centre),
    _position("head_centre", centres.head_centre),
    _position("hands", centres.hands),
    _position("body_centre_of_mass", body_centre_of_mass),
)
