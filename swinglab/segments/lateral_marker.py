"""Centre and axis of a hinge joint that has a marker on its lateral side only."""

from __future__ import annotations

import numpy as np

from swinglab.signals import cross, unit

#: Usual widths of adults' joints in metres, from bone to bone (common practice, no source; values from memory).
JOINT_WIDTH_M = {"elbow": 0.066, "knee": 0.093, "ankle": 0.070}


def hinge_centre(
    upper: np.ndarray, marker: np.ndarray, lower: np.ndarray, offset_m: float, bends_forward: bool
) -> tuple[np.ndarray, np.ndarray]:
    """Centre (..., 3) and axis (..., 3) of a right-side hinge from its lateral marker.

    Parameters
    ----------
    upper, lower : np.ndarray
        (..., 3) centres of the joints above and below.
    marker : np.ndarray
        (..., 3) the lateral marker.
    offset_m : float
        From the joint's centre to the marker's centre along the axis: half the joint's width and the marker's radius.
    bends_forward : bool
        True for the elbow, False for the knee: the side of the axis that the lower segment moves to.

    Returns
    -------
    tuple
        The centre, such that the axis through marker and centre is at right angles to both segments, and the unit
        axis, + lateral. A straight limb, whose marker lies nearer to the line from joint to joint than the offset,
        has its centre on that line.

    Notes
    -----
    With r the marker from the line of the two other joints and d the line's direction, the axis a is at right angles
    to d and a . r is the offset. Of the two solutions the one that bends the right way is taken.
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
