"""Start direction of the ball and tilt of its spin axis, predicted from the geometry of face and path at impact.

The path of the clubhead and the normal of its face span a plane (Jorgensen 1999). The ball starts in this plane, and
its spin axis is normal to it. This is a geometric prediction, not a model of ball flight: the point of contact on the
face, friction, wind and the properties of the ball are not included.
"""

from __future__ import annotations

import numpy as np

from swinglab.errors import BadRequest

#: Share of the angle from path to face normal at which the ball starts (Wood et al. 2018: 0.61 to 0.83).
TOWARD_FACE = (0.61, 0.83)


def direction_vector(elevation_deg: float, in_to_out_deg: float) -> np.ndarray:
    """Return the unit vector (3,) in the study frame of a direction.

    `elevation_deg` : above horizontal, positive up. `in_to_out_deg` : horizontal direction relative to the target line,
    positive away from the golfer.

    Examples
    --------
    >>> direction_vector(0.0, 90.0).round(3).tolist()
    [0.0, 0.0, 1.0]
    """
    up, out = np.radians([elevation_deg, in_to_out_deg])
    return np.array([np.cos(up) * np.cos(out), np.sin(up), np.cos(up) * np.sin(out)])


def spin_loft_deg(
    attack_angle_deg: float, club_path_deg: float, face_loft_deg: float, face_angle_deg: float
) -> float:
    """Return the spin loft: the angle between the path of the clubhead and the normal of its face, in degrees.

    Parameters
    ----------
    attack_angle_deg, club_path_deg : float
        Elevation (positive up) and horizontal direction (positive in-to-out, away from the golfer) of the velocity of
        the clubhead at impact.
    face_loft_deg, face_angle_deg : float
        Elevation (positive up) and horizontal direction (positive in-to-out) of the normal of the face at impact.

    Examples
    --------
    >>> round(spin_loft_deg(-4.0, 3.0, 22.0, 0.0), 2)
    26.17
    """
    path = direction_vector(attack_angle_deg, club_path_deg)
    face = direction_vector(face_loft_deg, face_angle_deg)
    return float(np.degrees(np.arctan2(np.linalg.norm(np.cross(path, face)), path @ face)))


def spin_axis_tilt_deg(
    attack_angle_deg: float, club_path_deg: float, face_loft_deg: float, face_angle_deg: float
) -> float:
    """Return the tilt of the spin axis from horizontal, in degrees; positive if the ball curves away from the golfer.

    The spin axis is normal to the plane that contains the path of the clubhead and the normal of the face. NaN if these
    two directions coincide (no spin).

    Parameters
    ----------
    attack_angle_deg, club_path_deg, face_loft_deg, face_angle_deg : float
        As in `spin_loft_deg`.

    Examples
    --------
    >>> round(spin_axis_tilt_deg(-4.0, 0.0, 22.0, 2.0), 2)
    4.21
    """
    axis = np.cross(
        direction_vector(attack_angle_deg, club_path_deg), direction_vector(face_loft_deg, face_angle_deg)
    )
    if np.linalg.norm(axis) < 1e-12:
        return float("nan")
    return float(np.degrees(np.arctan2(-axis[1], np.hypot(axis[0], axis[2]))))


def start_direction_deg(
    attack_angle_deg: float,
    club_path_deg: float,
    face_loft_deg: float,
    face_angle_deg: float,
    *,
    toward_face: float,
) -> tuple[float, float]:
    """Return the predicted start direction of the ball: elevation (positive up) and in-to-out direction, in degrees.

    The direction is in the plane that contains the path of the clubhead and the normal of the face.

    Parameters
    ----------
    attack_angle_deg, club_path_deg, face_loft_deg, face_angle_deg : float
        As in `spin_loft_deg`.
    toward_face : float
        The start direction is at this share of the angle from the path (0) to the normal of the face (1); Wood et al.
        (2018) measured 0.61 to 0.83.

    Raises
    ------
    BadRequest
        `toward_face` is not between 0 and 1.
    """
    if not 0.0 <= toward_face <= 1.0:
        raise BadRequest(
            f"toward_face must be between 0 (direction of the path) and 1 (normal of the face), not {toward_face}",
            do="set it to a value between 0.61 and 0.83, as measured by Wood et al. (2018)",
        )
    path = direction_vector(attack_angle_deg, club_path_deg)
    face = direction_vector(face_loft_deg, face_angle_deg)
    angle = np.radians(spin_loft_deg(attack_angle_deg, club_path_deg, face_loft_deg, face_angle_deg))
    if angle < 1e-12:
        start = path
    else:
        shares = np.sin([(1 - toward_face) * angle, toward_face * angle]) / np.sin(angle)
        start = shares[0] * path + shares[1] * face
    return float(np.degrees(np.arcsin(start[1]))), float(np.degrees(np.arctan2(start[2], start[0])))
