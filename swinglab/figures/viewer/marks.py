"""Lines that show a posture quantity on the body: two lines and the angle between them, or a distance."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from swinglab import columns
from swinglab.conventions import BALL_LANDMARK, LEAD, SIDE_WORDS, TRAIL
from swinglab.records import Events, Posture, Trial
from swinglab.signals import unit

ARM_M = 0.40  # length of the lines drawn for a segment's angle
_UP = np.array([0.0, 1.0, 0.0])
_ALONG = {"toward_target": 0, "up": 1, "toward_ball": 2, "ahead_of_ball": 0}


@dataclass(frozen=True, slots=True, eq=False)
class Mark:
    """Lines that show a posture quantity on the body in every frame.

    kind : "angle" or "distance". An angle is drawn as two lines from points[0]: to points[1] (the reference) and to
    points[2] (the body). A distance is one line from points[0] to points[1]. points : each (n_frames, 3) in metres,
    study frame. is_exact : whether the angle between the lines
    equals the quantity; otherwise they only show its location.
    """

    kind: str
    points: tuple[np.ndarray, ...]
    is_exact: bool = True


def mark_on_body(
    quantity: str, points: dict[str, np.ndarray], trial: Trial, posture: Posture, events: Events | None = None
) -> Mark | None:
    """Return the lines that show a posture quantity on the body; None if nothing can be drawn for it.

    Parameters
    ----------
    quantity : str
        Name of a posture quantity, one of ``columns.QUANTITIES``.
    points : dict
        Result of `drawn_points`.
    trial, posture, events
        The swing. Without events, positions relative to address cannot be drawn.

    Raises
    ------
    BadRequest
        An unknown quantity.
    """
    column = columns.quantity_column(quantity)
    if column.motion in _ALONG:
        return _position(column.part, column.motion, points, trial, posture, events)
    if column.part in ("pelvis", "thorax") and column.part in posture.rotations:
        return _segment(column.part, column.motion, points, posture)
    if column.part in ("trunk", "pelvis_thorax", "neck"):
        return _between_segments(column.part, column.motion, points, posture)
    return _limb(column.part, points) or _other(quantity, points, trial)


# --- segments ----------------------------------------------------------------------------------------------


def _segment(part: str, motion: str, points: dict[str, np.ndarray], posture: Posture) -> Mark | None:
    """Return two lines whose angle is an angle of the segment in the turn-first order.

    For other angles, two axes of the segment are returned, which show only its location.
    """
    centre = _segment_centre(part, points, posture)
    if centre is None:
        return None
    up, side = posture.rotations[part][:, :, 1], posture.rotations[part][:, :, 2]
    level_side = unit(side * [1.0, 0.0, 1.0])
    square = np.broadcast_to(np.array([-1.0, 0.0, 0.0]), side.shape)
    upright = np.broadcast_to(_UP, side.shape)
    lines = {
        "axial_rotation": (square, level_side),
        "lateral_flexion": (level_side, side),
        # The reference is the vertical, projected on the plane perpendicular to the segment's side axis.
        "flexion": (unit(upright - (side * upright).sum(axis=1, keepdims=True) * side), up),
        "lean": (upright, up),
        "lean_direction": (
            np.broadcast_to(np.array([0.0, 0.0, 1.0]), side.shape),
            unit(up * [1.0, 0.0, 1.0]),
        ),
    }.get(motion)
    if lines is None:  # ISB order and spin: no two lines have this angle, so axes of the segment are shown
        return _angle(centre, up, side, is_exact=False)
    return _angle(centre, *lines)


def _between_segments(part: str, motion: str, points: dict[str, np.ndarray], posture: Posture) -> Mark | None:
    lower, upper = ("thorax", "head") if part == "neck" else ("pelvis", "thorax")
    centre = _segment_centre(upper, points, posture)
    if lower not in posture.rotations or upper not in posture.rotations or centre is None:
        return None
    first, second = posture.rotations[lower], posture.rotations[upper]
    if motion == "separation":
        # Pelvis minus thorax turn: both side axes as seen from above.
        return _angle(centre, unit(second[:, :, 2] * [1.0, 0.0, 1.0]), unit(first[:, :, 2] * [1.0, 0.0, 1.0]))
    axis = 2 if motion == "axial_rotation" else 1
    return _angle(centre, first[:, :, axis], second[:, :, axis], is_exact=False)


def _segment_centre(part: str, points: dict[str, np.ndarray], posture: Posture) -> np.ndarray | None:
    for name in (part, f"{part}_centre"):
        if name in posture.centres_m:
            return np.asarray(posture.centres_m[name])
    return points.get({"pelvis": "waist", "thorax": "neck_base", "head": "head"}[part])


def _angle(centre: np.ndarray, reference: np.ndarray, line: np.ndarray, *, is_exact: bool = True) -> Mark:
    return Mark("angle", (centre, centre + ARM_M * reference, centre + ARM_M * line), is_exact)


# --- limbs, positions and the rest -------------------------------------------------------------------------

#: joint -> the point above it, the joint, the point below it
_JOINTS = {
    "elbow": ("shoulder", "elbow", "wrist"),
    "knee": ("hip", "knee", "ankle"),
    "hip": ("waist", "hip", "knee"),
    "shoulder": ("neck_base", "shoulder", "elbow"),
    "wrist": ("elbow", "wrist", "hand"),
}


def _limb(part: str, points: dict[str, np.ndarray]) -> Mark | None:
    word, _, joint = part.partition("_")
    if word not in SIDE_WORDS or joint not in _JOINTS:
        return None
    names = [n if n in ("waist", "neck_base") else f"{n}_{SIDE_WORDS[word]}" for n in _JOINTS[joint]]
    if not all(name in points for name in names):
        return None
    above, at, below = (points[name] for name in names)
    if joint in ("hip", "shoulder"):
        return Mark("angle", (at, above, below), is_exact=False)
    # The reference continues the upper bone, so the angle is 0 for a straight joint. It is close to the
    # flexion of the joint, which excludes the carrying angle.
    length = np.linalg.norm(below - at, axis=1, keepdims=True)
    return Mark("angle", (at, at + length * unit(at - above), below), is_exact=joint in ("elbow", "knee"))


def _position(
    part: str,
    motion: str,
    points: dict[str, np.ndarray],
    trial: Trial,
    posture: Posture,
    events: Events | None,
) -> Mark | None:
    """Return the line from the part's position at address (or from the ball) to its position, along one axis.

    None if a position is not known.
    """
    at = posture.centres_m.get(part, posture.centres_m.get(part.removesuffix("_centre")))
    if at is None:
        at = points.get({"pelvis_centre": "waist", "thorax_centre": "neck_base", "head_centre": "head",
                         "hands": "mid_hands"}.get(part, ""))  # fmt: skip
    if at is None:
        return None
    axis, begin = _ALONG[motion], np.array(at)
    if motion == "ahead_of_ball":
        begin[:, axis] = 0.0 if trial.ball_m is None else trial.ball_m[axis]
    else:
        if events is None or not events.found("address"):
            return None
        frame = round(events.time_s("address") * trial.rate_hz)
        begin[:, axis] = begin[min(frame, len(begin) - 1), axis]
    return Mark("distance", (begin, np.asarray(at)))


def _other(quantity: str, points: dict[str, np.ndarray], trial: Trial) -> Mark | None:
    ball = points.get(BALL_LANDMARK)
    if trial.ball_m is not None:
        ball = np.broadcast_to(trial.ball_m, (len(trial.time_s), 3))
    known = dict(points) | ({} if ball is None else {"ball": ball})
    begin, end, axis = {
        "elbow_spacing_cm": (f"elbow_{TRAIL}", f"elbow_{LEAD}", None),
        "pelvis_ahead_of_thorax_cm": ("neck_base", "waist", 0),
        "trail_heel_ahead_of_toe_cm": (f"toe_{TRAIL}", f"heel_{TRAIL}", 0),
        "trail_heel_height_cm": ("", f"heel_{TRAIL}", 1),
        "stance_width_cm": (f"heel_{TRAIL}", f"heel_{LEAD}", 0),
        "ball_ahead_of_lead_heel_cm": (f"heel_{LEAD}", "ball", 0),
        "ball_distance_cm": (f"toe_{LEAD}", "ball", 2),
        "shaft_forward_lean_deg": ("", "mid_hands", None),
    }.get(quantity, ("", "", None))
    if quantity == "shaft_forward_lean_deg" and "clubhead" in known and end in known:
        across = (known[end] - known["clubhead"]) * [1.0, 1.0, 0.0]
        length = np.linalg.norm(across, axis=1, keepdims=True)
        return Mark(
            "angle", (known["clubhead"], known["clubhead"] + length * _UP, known["clubhead"] + across)
        )
    if end not in known or (begin and begin not in known):
        return None
    start = np.array(known[end])
    if axis is None:
        start = np.array(known[begin])
    else:
        start[:, axis] = known[begin][:, axis] if begin else 0.0
    return Mark("distance", (start, np.asarray(known[end])))
