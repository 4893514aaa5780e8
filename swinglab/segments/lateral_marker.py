"""Centre and axis of a hinge joint that has a marker on its lateral side only."""

from __future__ import annotations

import numpy as np

from swinglab.signals import cross, unit

#: Usual widths of adults' joints in metres, from bone to bone (common practice, no source; values from memory).
JOINT_WIDTH_M = {"elbow": 0.066, "knee": 0.093, "ankle": 0.070}


def hinge_centre(
    upper: np.ndarray, marker: np.ndarray, lower: np.ndarray, offset_m: float, bends_forward: bool
) -> tuple[np.ndarray, np.ndarray]:
    """Return centre (..., 3) and axis (..., 3) of a hinge joint of the right side from its lateral marker.

    Parameters
    ----------
    upper, lower : np.ndarray
        (..., 3) centres of the next proximal and the next distal joint, in metres.
    marker : np.ndarray
        (..., 3) position of the lateral marker, in metres.
    offset_m : float
        Distance from joint centre to marker centre along the axis: half the width of the joint plus the radius of the
        marker.
    bends_forward : bool
        Whether the distal segment moves forward in flexion: True for the elbow, False for the knee.

    Returns
    -------
    tuple
        The centre, such that the axis through marker and centre is perpendicular to both segments, and the unit vector
        of the axis, positive in the lateral direction. If the limb is straight, so that the marker is closer than the
        offset to the line between the other joints, the centre is on that line.

    Notes
    -----
    Let r be the vector from the line through the two other joints to the marker, and d the direction of that line.
    The axis a is perpendicular to d, and a . r equals the offset. Of the two solutions, the one with flexion in the
    correct direction is used.
    """
    along = unit(lower - upper)
    across = marker - upper - ((marker - upper) * along).sum(axis=-1, keepdims=True) * along
    distance = np.sqrt((across**2).sum(axis=-1, keepdims=True))
    outward = unit(across)
    cosine = np.divide(offset_m, distance, out=np.ones_like(distance), where=distance > offset_m)
    sine = np.sqrt(1.0 - cosine**2) * (-1.0 if bends_forward else 1.0)
    axis = cosine * outward + sine * cross(along, outward)
    on_line = np.minimum(distance, offset_m) * axis
    return marker - on_line, axis
