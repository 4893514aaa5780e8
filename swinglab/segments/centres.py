"""Joint centres and segment centres, with the sources of their definitions.

Joint centres that are in the file are used as given; the others are computed from markers.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from swinglab.errors import BadRequest, MissingInput, near_names
from swinglab.segments.body import Body, Made, Sizes, made_once
from swinglab.segments.geometry import MIRROR, mean_point
from swinglab.segments.lateral_marker import JOINT_WIDTH_M, hinge_centre
from swinglab.segments.trunk import HEAD_LANDMARKS, THORAX_LANDMARKS, pelvis, thorax
from swinglab.signals import unit

#: Distance of the shoulder centre below the acromion, as a share of the distance between the acromia (Rab et al. 2002).
SHOULDER_DROP = 0.17


# The regressions take pelvis width, pelvis depth and leg length, and return the hip centre (forward, up, right), in mm.
def _harrington(width: float, depth: float, leg: float) -> tuple[float, float, float]:
    return -0.24 * depth - 9.9, -0.16 * width - 0.04 * leg - 7.1, 0.28 * depth + 0.16 * width + 7.9


def _harrington_single(width: float, depth: float, leg: float) -> tuple[float, float, float]:
    return -0.24 * depth - 9.9, -0.30 * width - 10.9, 0.33 * width + 7.3


def _bell(width: float, depth: float, leg: float) -> tuple[float, float, float]:
    return -0.19 * width, -0.30 * width, 0.36 * width


def _hara(width: float, depth: float, leg: float) -> tuple[float, float, float]:
    return 11.0 - 0.063 * leg, -9.0 - 0.078 * leg, 8.0 + 0.086 * leg


_HIPS: dict[str, tuple[Callable, str]] = {
    "harrington": (_harrington, "Harrington 2007"),
    "harrington_single": (_harrington_single, "Harrington 2007 without leg length"),
    "bell": (_bell, "Bell 1990"),
    "hara": (_hara, "Hara 2016"),
}
HIP_METHODS = tuple(_HIPS)


def hip_centres(
    pelvis_width_m: float, pelvis_depth_m: float, leg_length_m: float, *, method: str = "harrington"
) -> np.ndarray:
    """Return the right hip joint centre in pelvis axes of Wu et al. (2002), relative to the mid-point of both ASIS.

    Parameters
    ----------
    pelvis_width_m : float
        Distance between the two ASIS (anterior superior iliac spines).
    pelvis_depth_m : float
        Distance from the mid-point of the ASIS to the mid-point of the PSIS (posterior superior iliac spines).
    leg_length_m : float
        Distance from ASIS to medial malleolus.
    method : str
        Regression: ``"harrington"`` [harrington2007]_ (pelvis width and depth, leg length), ``"harrington_single"``
        (its form without leg length), ``"bell"`` [bell1990]_, ``"hara"`` [hara2016]_.

    Returns
    -------
    numpy.ndarray
        (3,) metres: forward, up, right. For the left hip, the third number has the opposite sign. NaN if a length that
        the method needs is NaN.

    Raises
    ------
    BadRequest
        An unknown method.

    Examples
    --------
    >>> hip_centres(0.240, 0.150, 0.900).round(4).tolist()
    [-0.0459, -0.0815, 0.0883]
    """
    check_hip_method(method)
    # The regressions were published in millimetres.
    millimetres = _HIPS[method][0](1000 * pelvis_width_m, 1000 * pelvis_depth_m, 1000 * leg_length_m)
    return np.array(millimetres) / 1000.0


def check_hip_method(method: str) -> None:
    """Raise BadRequest, with similar names, if there is no regression of the hip centre with this name."""
    if method not in HIP_METHODS:
        raise BadRequest(
            f"there is no hip method {method} (a hip method is a regression of the hip joint centre)",
            do=near_names(method, HIP_METHODS) or f"use one of {', '.join(HIP_METHODS)}",
        )


@made_once
def hip(body: Body) -> Made:
    """Return the right hip centre: the landmark if the file has it, otherwise by regression in pelvis axes."""
    if body.has("hip_right"):
        return Made(body.points["hip_right"], "hip centre as given")
    left, right = body.need("asis_left", "asis_right")
    frame, sizes, method = pelvis(body).value, _sizes(body), body.hip_method
    if method == "harrington" and np.isnan(sizes.leg_length):
        method = "harrington_single"
    # The regressions apply to bony landmarks: the ASIS lie one marker radius behind the marker centres, the PSIS one
    # radius in front of them.
    radius = body.marker_radius_m
    offset = hip_centres(sizes.pelvis_width, sizes.pelvis_depth - 2 * radius, sizes.leg_length, method=method)
    offset[0] -= radius
    if np.isnan(offset).any():
        raise MissingInput(f"no leg length, which is needed for the hip centre by {_HIPS[method][1]}")
    words = f"hip centre by {_HIPS[method][1]}" + (", minus the markers' radius" if radius else "")
    along_axes = sum(part * frame[..., :, axis] for axis, part in enumerate(offset))
    return Made((left + right) / 2 + along_axes, words)


@made_once
def shoulder(body: Body) -> Made:
    """Return the right shoulder centre: the landmark if the file has it, otherwise a point below the acromion.

    The point is displaced along the long axis of the thorax, by the distance of Rab et al. (2002).
    """
    if body.has("shoulder_right"):
        return Made(body.points["shoulder_right"], "shoulder centre as given")
    acromion, _ = body.need("acromion_right", "acromion_left")
    drop = SHOULDER_DROP * _sizes(body).between_acromia
    return Made(
        acromion - drop * thorax(body).value[..., :, 1], "shoulder centre below the acromion by Rab 2002"
    )


def _between(body: Body, joint: str, one: str, other: str) -> Made:
    """The joint centre in the file, else the mid-point of two markers, `one` and `other`."""
    if body.has(f"{joint}_right"):
        return Made(body.points[f"{joint}_right"], f"{joint} centre as given")
    first, second = body.need(one, other)
    return Made((first + second) / 2, f"{joint} centre between two markers")


@made_once
def elbow(body: Body) -> Made:
    """Return the right elbow centre: the landmark if the file has it, otherwise from the epicondyles.

    With both epicondyles, it is their mid-point. With the lateral one only, the centre lies medial to that marker, on
    the flexion axis of the joint (see `hinge_centre`), at a distance of half the usual width of the joint plus the
    radius of the marker.
    """
    if _needs_lateral(body, "elbow"):
        marker = body.points["elbow_lateral_right"]
        place, _ = hinge_centre(shoulder(body).value, marker, wrist(body).value, _offset(body, "elbow"), True)
        return Made(place, "elbow centre from the lateral epicondyle and usual width")
    return _between(body, "elbow", "elbow_lateral_right", "elbow_medial_right")


@made_once
def wrist(body: Body) -> Made:
    """Return the right wrist centre: the landmark if the file has it, otherwise the mid-point of both styloids."""
    return _between(body, "wrist", "wrist_radial_right", "wrist_ulnar_right")


@made_once
def knee(body: Body) -> Made:
    """Return the right knee centre: the landmark if the file has it, otherwise from the epicondyles.

    With both epicondyles, it is their mid-point. With the lateral one only, the centre lies medial to that marker, on
    the flexion axis of the joint (see `hinge_centre`), at a distance of half the usual width of the joint plus the
    radius of the marker.
    """
    if _needs_lateral(body, "knee"):
        place, _ = _knee_from_lateral(body)
        return Made(place, "knee centre from the lateral epicondyle and usual width")
    return _between(body, "knee", "knee_lateral_right", "knee_medial_right")


@made_once
def ankle(body: Body) -> Made:
    """Return the right ankle centre: the landmark if the file has it, otherwise from the malleoli.

    With both malleoli, it is their mid-point. With the lateral one only, the centre lies medial to that marker, in the
    direction of the axis of the knee, at a distance of half the usual width of the joint plus the radius of the marker.
    """
    if _needs_lateral(body, "ankle"):
        marker = body.points["ankle_lateral_right"]
        axis = _knee_axis(body)
        return Made(
            marker - _offset(body, "ankle") * axis, "ankle centre from the lateral malleolus and usual width"
        )
    return _between(body, "ankle", "ankle_lateral_right", "ankle_medial_right")


def _needs_lateral(body: Body, joint: str) -> bool:
    """Whether the lateral marker is the only marker of the joint."""
    return body.has(f"{joint}_lateral_right") and not (
        body.has(f"{joint}_right") or body.has(f"{joint}_medial_right")
    )


def _offset(body: Body, joint: str) -> float:
    return JOINT_WIDTH_M[joint] / 2 + body.marker_radius_m


def _knee_from_lateral(body: Body) -> tuple[np.ndarray, np.ndarray]:
    """Centre and lateral axis of the knee from its lateral marker, the hip, and the ankle or its lateral marker."""
    (marker,) = body.need("knee_lateral_right")
    if _needs_lateral(body, "ankle"):
        # The malleolus is about as far lateral of the ankle centre as the epicondyle is of the knee centre.
        malleolus = body.points["ankle_lateral_right"]
        _, axis = hinge_centre(hip(body).value, marker, malleolus, _offset(body, "knee"), False)
        lower = malleolus - _offset(body, "ankle") * axis
    else:
        lower = ankle(body).value
    return hinge_centre(hip(body).value, marker, lower, _offset(body, "knee"), False)


def _knee_axis(body: Body) -> np.ndarray:
    """Unit lateral axis (..., 3) of the knee: through its epicondyles, or from its lateral marker."""
    if body.has("knee_lateral_right", "knee_medial_right"):
        return unit(body.points["knee_lateral_right"] - body.points["knee_medial_right"])
    return _knee_from_lateral(body)[1]


@made_once
def grip(body: Body) -> Made:
    """Return the middle of the right hand: mid-point of wrist centre and hand landmark, otherwise the wrist centre."""
    joint = wrist(body)
    if not body.has("hand_right"):
        return Made(joint.value, f"{joint.method}, no hand landmark")
    return Made((joint.value + body.points["hand_right"]) / 2, f"half-way from wrist to hand, {joint.method}")


CENTRES: dict[str, Callable[[Body], Made]] = {
    "hip": hip, "shoulder": shoulder, "elbow": elbow, "wrist": wrist, "knee": knee, "ankle": ankle, "grip": grip,
}  # fmt: skip


def centre(body: Body, joint: str, side: str) -> Made:
    """Return a joint centre of a side, "left" or "right"; `joint` is a name in `CENTRES`, such as "hip"."""
    made = CENTRES[joint](body.side(side))
    return made if side == "right" else Made(made.value * MIRROR, made.method)


def middle(body: Body, joint: str) -> Made:
    """Return the mid-point of the left and the right centre of a joint."""
    left, right = centre(body, joint, "left"), centre(body, joint, "right")
    return Made((left.value + right.value) / 2, of_sides(left.method, right.method))


def of_sides(left: str, right: str) -> str:
    """Return one text for the methods of both sides: the common text or, if they differ, both."""
    return left if left == right else f"left {left}, right {right}"


@made_once
def pelvis_centre(body: Body) -> Made:
    """Return the centre of the pelvis: the mid-point of the hip centres, for markers and for pose tables."""
    made = middle(body, "hip")
    return Made(made.value, f"between the hip centres; {made.method}")


@made_once
def thorax_centre(body: Body) -> Made:
    """Return the centre of the thorax: the mean of jugular notch, C7, xiphoid process and T8.

    With joint centres only, it is the mid-point of the shoulder centres.
    """
    if body.has("shoulder_left", "shoulder_right") and not body.has(*THORAX_LANDMARKS):
        return Made(middle(body, "shoulder").value, "between the shoulder centres (joint centres)")
    where = f"mean of jugular notch, xiphoid, {body.stands_for('c7')} and {body.stands_for('t8')}"
    return Made(mean_point(*body.need(*THORAX_LANDMARKS)), where)


@made_once
def head_centre(body: Body) -> Made:
    """Return the centre of the head: the mean of four head markers; with joint centres, the mid-point of the ears."""
    if body.has("ear_left", "ear_right") and not body.has(*HEAD_LANDMARKS):
        return Made((body.points["ear_left"] + body.points["ear_right"]) / 2, "between the ears")
    return Made(mean_point(*body.need(*HEAD_LANDMARKS)), "mean of four head markers")


@made_once
def hands(body: Body) -> Made:
    """Return the mid-point of the middles of both hands (see `grip`)."""
    return middle(body, "grip")


def _sizes(body: Body) -> Sizes:
    if body.sizes is None:
        raise BadRequest(
            "joint centres by regression need body lengths, but this Body was created without the argument sizes",
            do="set sizes to the result of measure_sizes",
        )
    return body.sizes
