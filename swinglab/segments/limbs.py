"""Segment axes of the right limbs: X forward, Y proximal, Z to the right, as columns in the study frame."""

from __future__ import annotations

import numpy as np

from swinglab.segments.body import Body, Made, made_once
from swinglab.segments.centres import ankle, elbow, hands, hip, knee, shoulder, wrist
from swinglab.segments.geometry import frame_from_long_axis


@made_once
def femur(body: Body) -> Made:
    """Return the axes (..., 3, 3) of the femur by Wu et al. (2002).

    Y from knee centre to hip centre, Z in the plane of hip centre and epicondyles.
    """
    lateral, medial = body.need("knee_lateral_right", "knee_medial_right")
    top = hip(body)
    return Made(
        frame_from_long_axis(top.value - knee(body).value, lateral - medial),
        f"femur by Wu 2002, {top.method}",
    )


@made_once
def tibia(body: Body) -> Made:
    """Return the axes (..., 3, 3) of the shank, by a definition of swinglab.

    Y from ankle to knee centre, X normal to the plane of knee centre and malleoli.
    Differs from the source: Grood & Suntay (1983) define the tibia by its condyles. Only the order of rotations of the
    knee is taken from them.
    """
    lateral, medial = body.need("ankle_lateral_right", "ankle_medial_right")
    frame = frame_from_long_axis(knee(body).value - ankle(body).value, lateral - medial)
    return Made(frame, "shank from knee centre and malleoli")


@made_once
def humerus(body: Body) -> Made:
    """Return the axes (..., 3, 3) of the humerus by Wu et al. (2005).

    Y from elbow centre to shoulder centre, X normal to the plane of epicondyles and shoulder centre.
    """
    lateral, medial = body.need("elbow_lateral_right", "elbow_medial_right")
    top = shoulder(body)
    frame = frame_from_long_axis(top.value - elbow(body).value, lateral - medial)
    return Made(frame, f"humerus by Wu 2005, {top.method}")


@made_once
def forearm(body: Body) -> Made:
    """Return the axes (..., 3, 3) of the forearm by Wu et al. (2005).

    Y from ulnar styloid to elbow centre, X normal to the plane of both styloids and elbow centre.
    """
    radial, ulnar = body.need("wrist_radial_right", "wrist_ulnar_right")
    return Made(frame_from_long_axis(elbow(body).value - ulnar, radial - ulnar), "forearm by Wu 2005")


@made_once
def hand(body: Body) -> Made:
    """Return the axes (..., 3, 3) of the hand, after Wu et al. (2005).

    Y from the landmark of the hand to the wrist centre, Z toward the radial styloid. The landmark is the head of the
    third metacarpal. A marker on the back of the hand lies dorsal to it, which adds a constant error to wrist flexion.
    """
    radial, ulnar, knuckle = body.need("wrist_radial_right", "wrist_ulnar_right", "hand_right")
    return Made(
        frame_from_long_axis(wrist(body).value - knuckle, radial - ulnar),
        "hand from styloids and third metacarpal",
    )


@made_once
def shaft_top(body: Body) -> Made:
    """Return the upper point (..., 3) of the line of the shaft.

    With two or more landmarks on the shaft, it is the upper end of their least-squares line. Otherwise it is the butt
    of the club or, if this is missing, the mid-point of the hands.
    """
    if _has_shaft(body):
        return _shaft_end(body, first=True)
    body.need("clubhead")
    if body.has("club_butt"):
        return Made(body.points["club_butt"], "club butt to clubhead", stand_in=True)
    return Made(hands(body).value, "mid-hands to clubhead", stand_in=True)


@made_once
def shaft_bottom(body: Body) -> Made:
    """Return the lower point (..., 3) of the line of the shaft.

    With two or more landmarks on the shaft, it is the lower end of their least-squares line, otherwise the clubhead.
    """
    return _shaft_end(body, first=False) if _has_shaft(body) else clubhead(body)


@made_once
def clubhead(body: Body) -> Made:
    """Return the position (..., 3) of the landmark clubhead."""
    return Made(body.need("clubhead")[0], "clubhead landmark")


def _has_shaft(body: Body) -> bool:
    return body.sizes is not None and len(body.sizes.along_shaft) >= 2


def _shaft_end(body: Body, *, first: bool) -> Made:
    """First or last end of the least-squares line through the shaft's points.

    The positions of the points along the shaft are constant, so the fit is a weighted sum of the points.
    """
    along = body.sizes.along_shaft if body.sizes else {}
    from_middle = np.array(list(along.values())) - np.mean(list(along.values()))
    place = from_middle.min() if first else from_middle.max()
    weights = 1 / len(along) + place * from_middle / (from_middle @ from_middle)
    points = zip(weights, body.need(*along), strict=True)
    return Made(sum(weight * xyz for weight, xyz in points), "line through the shaft's points")
