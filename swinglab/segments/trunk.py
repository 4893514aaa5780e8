"""Segment axes of pelvis, thorax and head: X forward, Y up, Z to the right, as columns in the study frame."""

from __future__ import annotations

import numpy as np

from swinglab.segments.body import Body, Made, made_once
from swinglab.segments.geometry import axes, frame_from_cross_axis, frame_from_long_axis
from swinglab.signals import cross, unit

THORAX_LANDMARKS = ("jugular_notch", "xiphoid", "c7", "t8")
HEAD_LANDMARKS = ("head_front_left", "head_front_right", "head_back_left", "head_back_right")
#: Methods of the frames that are computed from joint centres.
PELVIS_OF_CENTRES, TRUNK_OF_CENTRES = "pelvis (joint centres)", "trunk (joint centres)"


@made_once
def pelvis(body: Body) -> Made:
    """Return the axes (..., 3, 3) of the pelvis by Wu et al. (2002).

    Z along the line of the ASIS, X in the plane of both ASIS and the mid-point of the PSIS. If the PSIS are missing,
    the landmark sacrum replaces their mid-point. With joint centres only: Z along the line of the hip centres, Y
    toward the mid-point of the shoulders. Flexion of these axes is then that of the trunk; lateral flexion and axial
    rotation are those of the pelvis.
    """
    hips = ("hip_left", "hip_right", "shoulder_left", "shoulder_right")
    if body.has(*hips) and not body.has("asis_left", "asis_right"):
        left, right, *shoulders = body.need(*hips)
        up = sum(shoulders) / 2 - (left + right) / 2
        frame = frame_from_cross_axis(right - left, cross(up, right - left))
        return Made(frame, PELVIS_OF_CENTRES, stand_in=True)
    left, right = body.need("asis_left", "asis_right")
    back, method = back_of_pelvis(body)
    return Made(frame_from_cross_axis(right - left, (left + right) / 2 - back), f"pelvis by Wu 2002{method}")


def back_of_pelvis(body: Body) -> tuple[np.ndarray, str]:
    """Return the mid-point of the PSIS, or the landmark sacrum if they are missing, and a text on the method."""
    if body.has("sacrum") and not body.has("psis_left", "psis_right"):
        return body.points["sacrum"], ", sacrum for psis"
    left, right = body.need("psis_left", "psis_right")
    return (left + right) / 2, ""


@made_once
def thorax(body: Body) -> Made:
    """Return the axes (..., 3, 3) of the thorax by Wu et al. (2005).

    With joint centres only, these are axes of the whole trunk: Y from the mid-point of the hips to that of the
    shoulders.
    """
    if body.has("shoulder_left", "shoulder_right", "hip_left", "hip_right") and not body.has(
        *THORAX_LANDMARKS
    ):
        left, right, *hips = body.need("shoulder_left", "shoulder_right", "hip_left", "hip_right")
        up = (left + right) / 2 - sum(hips) / 2
        return Made(frame_from_long_axis(up, right - left), TRUNK_OF_CENTRES, stand_in=True)
    notch, xiphoid, c7, t8 = body.need(*THORAX_LANDMARKS)
    y = unit((notch + c7) / 2 - (xiphoid + t8) / 2)
    z = unit(cross(notch - c7, y))
    stand_ins = [words for name in ("c7", "t8") if (words := body.stands_for(name)) != name]
    return Made(axes(cross(y, z), y, z), ", ".join(["thorax by Wu 2005", *stand_ins]))


@made_once
def head(body: Body) -> Made:
    """Return the axes (..., 3, 3) of the head, by a definition of swinglab, because no published one is used.

    Z from the left to the right markers, X in the plane of Z and the line from the back to the front markers. With
    joint centres: Z along the line of the ears, X toward the nose.
    """
    faces = ("nose", "ear_left", "ear_right")
    if body.has(*faces) and not body.has(*HEAD_LANDMARKS):
        nose, left, right = body.need(*faces)
        frame = frame_from_cross_axis(right - left, nose - (left + right) / 2)
        return Made(frame, "head (joint centres)", stand_in=True)
    front_left, front_right, back_left, back_right = body.need(*HEAD_LANDMARKS)
    right = front_right + back_right - front_left - back_left
    forward = front_left + front_right - back_left - back_right
    return Made(frame_from_cross_axis(right, forward), "head by four markers")
