"""Centre of mass of the body, with segment masses of de Leva (1996)."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from swinglab.segments.body import Body, Made, made_once
from swinglab.segments.centres import centre, head_centre, middle
from swinglab.segments.geometry import mean_point


class Segment(NamedTuple):
    """Mass of a segment and position of its centre of mass, each as (male, female).

    mass : share of body mass. place : distance of the centre of mass from the first end of the segment (the proximal
    one; for the trunk the upper, for the foot the heel), as a share of segment length.
    """

    mass: tuple[float, float]
    place: tuple[float, float]


#: Ends: trunk suprasternale to mid-hip; upper arm shoulder to elbow; forearm elbow to wrist; hand wrist to
#: third metacarpal; thigh hip to knee; shank knee to ankle; foot heel to toe tip.
SEGMENTS = {
    "head": Segment((0.0694, 0.0668), (0.0, 0.0)),
    "trunk": Segment((0.4346, 0.4257), (0.4486, 0.4151)),
    "upper_arm": Segment((0.0271, 0.0255), (0.5772, 0.5754)),
    "forearm": Segment((0.0162, 0.0138), (0.4574, 0.4559)),
    "hand": Segment((0.0061, 0.0056), (0.7900, 0.7474)),
    "thigh": Segment((0.1416, 0.1478), (0.4095, 0.3612)),
    "shank": Segment((0.0433, 0.0481), (0.4459, 0.4416)),
    "foot": Segment((0.0137, 0.0129), (0.4415, 0.4014)),
}


@made_once
def body_centre_of_mass(body: Body) -> Made:
    """Return the centre of mass of the whole body, (..., 3) in metres, with the mean of male and female values.

    The centre of mass of the head is assumed at the head centre. Without a landmark of the hand, that of the hand is
    assumed at the wrist.
    """
    notes = ["de Leva 1996, mean of both sexes", f"head mass at the {head_centre(body).method}"]
    sternum, where = _upper_end_of_trunk(body)
    if where:
        notes.append(where)
    hips = middle(body, "hip")
    notes.append(hips.method)
    moments = [_moment("head", head_centre(body).value, head_centre(body).value)]
    moments.append(_moment("trunk", sternum, hips.value))
    for side in ("left", "right"):
        at = {
            joint: centre(body, joint, side).value
            for joint in ("hip", "knee", "ankle", "shoulder", "elbow", "wrist")
        }
        heel, toe = body.need(f"heel_{side}", f"toe_{side}")
        if body.has(f"hand_{side}"):
            knuckle = body.points[f"hand_{side}"]
        else:
            knuckle = at["wrist"]
            notes.append(f"{side} hand's mass at the wrist")
        moments += [
            _moment("upper_arm", at["shoulder"], at["elbow"]),
            _moment("forearm", at["elbow"], at["wrist"]),
            _moment("hand", at["wrist"], knuckle),
            _moment("thigh", at["hip"], at["knee"]),
            _moment("shank", at["knee"], at["ankle"]),
            _moment("foot", heel, toe),
        ]
    masses, moved = zip(*moments, strict=True)
    return Made(mean_point(*moved) * len(moved) / sum(masses), "; ".join(notes))


def _moment(name: str, first_end: np.ndarray, other_end: np.ndarray) -> tuple[float, np.ndarray]:
    """Mass of a segment (share of body mass) and mass times the position of its centre."""
    segment = SEGMENTS[name]
    mass, place = float(np.mean(segment.mass)), float(np.mean(segment.place))
    return mass, mass * (first_end + place * (other_end - first_end))


def _upper_end_of_trunk(body: Body) -> tuple[np.ndarray, str]:
    """Upper end of the trunk, (..., 3), and a text that names a substitute.

    It is the suprasternale (jugular notch), with an empty text. For joint centres, it is the mid-shoulder.
    """
    if body.has("shoulder_left", "shoulder_right") and not body.has("jugular_notch"):
        return middle(body, "shoulder").value, "mid-shoulder for jugular notch"
    return body.need("jugular_notch")[0], ""
