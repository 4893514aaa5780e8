"""Names, frames and signs that every stage shares.

The study frame is right-handed and in metres: X points down the target line, Y up, Z = X x Y, the global
frame of Wu & Cavanagh (1995) with the target as the direction of travel. Its origin lies on the turf under
the ball centre. A right-handed golfer faces +Z; a left-handed golfer is mirrored on loading (z -> -z,
left and right swapped), so that in every `Trial` the left side is the lead side.

The golfer's frame, in which segment angles are stated, has X toward the ball (anterior at address), Y up
and Z to the golfer's trail side.
"""

from __future__ import annotations

import numpy as np

# --- sizes (Rules of Golf, equipment rules: the ball is not smaller than 1.680 in across) -----------------
BALL_RADIUS_M = 0.0213350
#: A clubhead whose path passes farther than this from the ball's centre misses the ball (a judgement).
FARTHEST_STRIKE_M = 0.05
#: Hint that is added to messages about such a path.
OFF_THE_FACE = (
    "(if the clubhead marker is beside the face's centre, give reference_beside_face_cm under [club])"
)


def farthest_strike_m(beside_face_cm: float) -> float:
    """Return the largest distance (m) of the ball's centre from the clubhead's path at which the ball can be hit.

    The path is that of the tracked clubhead point.

    Parameters
    ----------
    beside_face_cm : float
        Distance (cm) of the tracked point from the centre of the clubface, across the path.
    """
    return FARTHEST_STRIKE_M + beside_face_cm / 100


# --- frames -----------------------------------------------------------------------------------------------
#: Columns are the golfer's axes in the study frame: X = +Z (to the ball), Y = +Y (up), Z = -X (trail side).
GOLFER_AXES = np.array([[0.0, 0.0, -1.0], [0.0, 1.0, 0.0], [1.0, 0.0, 0.0]])
GOLFER_AXES.setflags(write=False)

#: Intrinsic sequences in scipy's notation (upper case): the default, and the ISB joint coordinate system.
TURN_FIRST = "YXZ"
ISB_ORDER = "ZXY"
#: Thoracohumeral sequence (Wu et al. 2005).
SHOULDER_ORDER = "YXY"

#: Unit of a pose without scale: angles and times can be measured, but lengths and speeds are missing.
NO_SCALE = "none"
#: How the coordinates were captured. One camera does not measure depth; quantities that need it are missing unless the
#: set-up was validated.
ONE_CAMERA = "one camera"
CAPTURE_SOURCES = ("markers", "several cameras", ONE_CAMERA, f"{ONE_CAMERA}, validated", "fitted model")
ONE_CAMERA_WORDS = (
    "one camera does not measure depth (if the command validate has shown its error, give "
    f'source = "{ONE_CAMERA}, validated" under [lab])'
)
NO_SCALE_WORDS = 'the capture has no scale (unit = "none"), so only angles and times can be measured'
AXIS_NAMES = ("+X", "-X", "+Y", "-Y", "+Z", "-Z")

# --- sides ------------------------------------------------------------------------------------------------
#: Sides of a `Trial` (always that of a right-handed golfer) and their names in all tables.
LEAD, TRAIL = "left", "right"
SIDE_WORDS = {"lead": LEAD, "trail": TRAIL}

# --- events, in their usual order -------------------------------------------------------------------------
EVENTS = (
    "address",
    "takeaway",
    "shaft_horizontal_back",
    "lead_arm_horizontal_back",
    "pelvis_reversal",
    "top",
    "lead_arm_horizontal_down",
    "shaft_45_down",
    "shaft_horizontal_down",
    "impact",
    "shaft_horizontal_through",
    "trail_arm_horizontal_through",
    "finish",
)
#: Events whose order is enforced; the order of the others differs between players.
ENFORCED_ORDER = ("address", "takeaway", "top", "impact", "finish")

EVENT_LABELS = {
    "address": "address",
    "takeaway": "takeaway",
    "shaft_horizontal_back": "shaft horizontal going back",
    "lead_arm_horizontal_back": "lead arm horizontal going back",
    "pelvis_reversal": "pelvis reversal",
    "top": "top of the backswing",
    "lead_arm_horizontal_down": "lead arm horizontal coming down",
    "shaft_45_down": "shaft at 45 degrees coming down",
    "shaft_horizontal_down": "delivery",
    "impact": "impact",
    "shaft_horizontal_through": "shaft horizontal going through",
    "trail_arm_horizontal_through": "trail arm horizontal going through",
    "finish": "finish",
}

EVENT_MEANINGS = {
    "address": "middle of the last still stretch before takeaway: clubhead below 0.2 m/s for 0.1 s",
    "takeaway": "the clubhead's speed last rises through 0.2 m/s before the backswing",
    "shaft_horizontal_back": "the shaft's elevation first crosses 0 upward after takeaway",
    "lead_arm_horizontal_back": "the lead arm's elevation first crosses 0 upward after takeaway",
    "pelvis_reversal": "the pelvis reverses its turn: its axial rotation is smallest before impact",
    "top": "the shaft reverses its rotation about the normal of the swing plane; this plane is fitted to the positions "
    "of the clubhead in the downswing (of the shaft, if there is no clubhead)",
    "lead_arm_horizontal_down": "the lead arm's elevation last crosses 0 downward before impact",
    "shaft_45_down": "the shaft is 45 degrees above horizontal and falling, last before impact",
    "shaft_horizontal_down": "delivery: the shaft's elevation last crosses 0 downward before impact",
    "impact": "the ball centre is one ball radius ahead of the clubhead, measured along its path",
    "shaft_horizontal_through": "the shaft's elevation first crosses 0 upward after impact",
    "trail_arm_horizontal_through": "the trail arm's elevation first crosses 0 upward after impact",
    "finish": "the clubhead's speed first falls below 1 m/s after impact",
}

# --- contact ----------------------------------------------------------------------------------------------
CONTACTS = ("fat", "clean", "thin")
#: A swing has the most probable class of contact if its probability is at least this; otherwise it is "uncertain".
CONTACT_SURE = 0.8

# --- landmarks --------------------------------------------------------------------------------------------
_SIDED_MARKERS = (
    "asis", "psis", "acromion", "elbow_lateral", "elbow_medial", "wrist_radial", "wrist_ulnar", "hand",
    "knee_lateral", "knee_medial", "ankle_lateral", "ankle_medial", "heel", "toe", "head_front", "head_back",
)  # fmt: skip
_SIDED_CENTRES = ("shoulder", "elbow", "wrist", "hip", "knee", "ankle", "ear")


def _both(names: tuple[str, ...]) -> tuple[str, ...]:
    return tuple(f"{name}_{side}" for name in names for side in ("left", "right"))


MARKER_LANDMARKS = (*_both(_SIDED_MARKERS), "sacrum", "jugular_notch", "xiphoid", "c7", "t8")
#: Landmarks of pose tables; heel_ and toe_ belong to both lists and are listed with the markers.
CENTRE_LANDMARKS = (*_both(_SIDED_CENTRES), "nose", "neck")
CLUB_LANDMARKS = ("clubhead", "club_butt", "club_hosel")
#: Further points along the shaft, grip to head, are numbered: club_shaft_1, club_shaft_2, ...
SHAFT_POINT_STEM = "club_shaft_"
#: Further points of the head, with which a face can be defined: clubhead_1, clubhead_2, ...
HEAD_POINT_STEM = "clubhead_"
BALL_LANDMARK = "ball"
LANDMARKS = (*MARKER_LANDMARKS, *CENTRE_LANDMARKS, *CLUB_LANDMARKS, BALL_LANDMARK)

#: Landmarks of each segment, for gap filling (as a rigid body) and for the choice of a filter cut-off.
SEGMENT_LANDMARKS = {
    "pelvis": ("asis_left", "asis_right", "psis_left", "psis_right", "sacrum", "hip_left", "hip_right"),
    "thorax": ("jugular_notch", "xiphoid", "c7", "t8", "acromion_left", "acromion_right", "neck",
               "shoulder_left", "shoulder_right"),
    "head": ("head_front_left", "head_front_right", "head_back_left", "head_back_right", "nose", "ear_left",
             "ear_right"),
    **{f"arm_{s}": (f"elbow_lateral_{s}", f"elbow_medial_{s}", f"elbow_{s}") for s in ("left", "right")},
    **{f"hand_{s}": (f"wrist_radial_{s}", f"wrist_ulnar_{s}", f"hand_{s}", f"wrist_{s}")
       for s in ("left", "right")},
    **{f"thigh_{s}": (f"knee_lateral_{s}", f"knee_medial_{s}", f"knee_{s}") for s in ("left", "right")},
    **{f"foot_{s}": (f"ankle_lateral_{s}", f"ankle_medial_{s}", f"ankle_{s}", f"heel_{s}", f"toe_{s}")
       for s in ("left", "right")},
}  # fmt: skip


def is_landmark(name: str) -> bool:
    """Return whether a name is one of swinglab's landmarks; numbered names such as club_shaft_2 are included.

    Examples
    --------
    >>> is_landmark("club_shaft_2"), is_landmark("elbow")
    (True, False)
    """
    if name in LANDMARKS:
        return True
    return any(
        name.startswith(stem) and name.removeprefix(stem).isdigit()
        for stem in (SHAFT_POINT_STEM, HEAD_POINT_STEM)
    )


def is_club_landmark(name: str) -> bool:
    """Return whether a landmark is on the club; landmarks on the club are never smoothed."""
    return is_landmark(name) and name.startswith("club")


def shaft_points(landmarks: tuple[str, ...]) -> tuple[str, ...]:
    """Return those of the given landmarks that are on the shaft, in order from grip to head."""
    numbered = sorted(
        (name for name in landmarks if name.startswith(SHAFT_POINT_STEM) and is_landmark(name)),
        key=lambda name: int(name.removeprefix(SHAFT_POINT_STEM)),
    )
    ends = [name for name in ("club_butt",) if name in landmarks]
    return (*ends, *numbered, *(name for name in ("club_hosel",) if name in landmarks))


def mirrored_name(landmark: str) -> str:
    """Return the name of the same landmark on the other side of the body; a name without a side is unchanged."""
    for side, other in (("left", "right"), ("right", "left")):
        if landmark.endswith(f"_{side}"):
            return f"{landmark.removesuffix(side)}{other}"
    return landmark


def axis_vector(name: str) -> np.ndarray:
    """Return the unit vector (3,) of a coordinate axis, named as in AXIS_NAMES, for example ``"-Y"``."""
    vector = np.zeros(3)
    vector["XYZ".index(name[1])] = {"+": 1.0, "-": -1.0}[name[0]]
    return vector


# --- units ------------------------------------------------------------------------------------------------

#: A confidence limit of this size, in any unit of the kit, counts as infinite; t with far less than one degree of
#: freedom gives such limits.
UNBOUNDED = 1e6

#: Units that a report may add in brackets -> (the kit's unit, number of the other unit in one of the kit's). The
#: international inch is 2.54 cm and the mile 1609.344 m exactly (international yard and pound agreement, 1959).
OTHER_UNITS = {"mph": ("mps", 3600 / 1609.344), "in": ("cm", 1 / 2.54)}
