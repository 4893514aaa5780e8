"""Segment axes and angles, for arrays with any number of leading dimensions."""

from __future__ import annotations

import functools

import numpy as np

from swinglab.conventions import GOLFER_AXES, ISB_ORDER, SHOULDER_ORDER, TURN_FIRST
from swinglab.signals import cross, unit

#: Factors that mirror a position in the study frame to the other side of the golfer.
MIRROR = np.array([1.0, 1.0, -1.0])
MIRROR.setflags(write=False)
#: Cosine (for Y-X-Y: sine) of the middle angle below which the first and the last axis count as parallel (gimbal lock).
_LOCKED = 1e-7


def axes(x: np.ndarray, y: np.ndarray, z: np.ndarray) -> np.ndarray:
    """Return rotation matrices (..., 3, 3) whose columns are the unit vectors x, y and z, each (..., 3)."""
    made = np.empty((3, 3, *np.broadcast_shapes(x.shape, y.shape, z.shape)[:-1]))
    for column, axis in enumerate((x, y, z)):
        for row in range(3):
            made[row, column] = axis[..., row]
    return _matrices(made)


def _matrices(elements: np.ndarray) -> np.ndarray:
    """Rearrange elements (3, 3, ...) to matrices (..., 3, 3)."""
    return elements.transpose(*range(2, elements.ndim), 0, 1)


def _elements(matrices: np.ndarray) -> np.ndarray:
    """Rearrange matrices (..., 3, 3) to elements (3, 3, ...)."""
    return matrices.transpose(-2, -1, *range(matrices.ndim - 2))


def mean_point(*points: np.ndarray) -> np.ndarray:
    """Return the mean of points, each (..., 3); their leading dimensions must be broadcastable."""
    return functools.reduce(np.add, points) / len(points)


def frame_from_long_axis(y: np.ndarray, to_the_right: np.ndarray) -> np.ndarray:
    """Return axes (..., 3, 3), as columns: Y along `y`, Z in the plane of `y` and `to_the_right`, toward the latter."""
    long = unit(y)
    x = unit(cross(long, to_the_right))
    return axes(x, long, cross(x, long))


def frame_from_cross_axis(z: np.ndarray, forward: np.ndarray) -> np.ndarray:
    """Return axes (..., 3, 3), as columns: Z along `z`, X in the plane of `z` and `forward`, toward the latter."""
    right = unit(z)
    y = unit(cross(right, forward))
    return axes(cross(y, right), y, right)


def in_golfers_frame(rotations: np.ndarray) -> np.ndarray:
    """Convert segment axes (..., 3, 3) from the study frame (X to the target) to the golfer's frame (X to the ball)."""
    elements = _elements(rotations)
    return _matrices((GOLFER_AXES.T @ elements.reshape(3, -1)).reshape(elements.shape))


def distal_in_proximal(proximal: np.ndarray, distal: np.ndarray) -> np.ndarray:
    """Return the orientation of the distal segment relative to the proximal one, (..., 3, 3).

    `proximal`, `distal` : segment axes (..., 3, 3) as columns in the same frame.
    """
    first, second = _elements(proximal), _elements(distal)
    made = np.empty((3, 3, *np.broadcast_shapes(first.shape[2:], second.shape[2:])))
    for i in range(3):
        for j in range(3):
            made[i, j] = first[0, i] * second[0, j] + first[1, i] * second[1, j] + first[2, i] * second[2, j]
    return _matrices(made)


def cardan(rotations: np.ndarray, order: str) -> np.ndarray:
    """Return intrinsic Euler or Cardan angles (3, ...) in degrees of rotation matrices (..., 3, 3).

    `order` : "YXZ", "ZXY" or "YXY", in the notation of scipy. If the first and the last axis coincide (within 1e-7),
    the last angle is 0, as in scipy. Angles of matrices with NaN are NaN. The formulas are in closed form; the general
    method of scipy takes eight times as long for the frames of one swing.
    """
    r = _elements(rotations)
    if order == TURN_FIRST:
        first, last, sine, cosine = (r[0, 2], r[2, 2]), (r[1, 0], r[1, 1]), -r[1, 2], None
    elif order == ISB_ORDER:
        first, last, sine, cosine = (-r[0, 1], r[1, 1]), (-r[2, 0], r[2, 2]), r[2, 1], None
    else:
        assert order == SHOULDER_ORDER
        first, last, sine, cosine = (r[0, 1], r[2, 1]), (r[1, 0], -r[1, 2]), None, r[1, 1]
    across = np.hypot(*last)
    middle = (across if sine is None else sine, across if cosine is None else cosine)
    angles = np.empty((3, *across.shape))
    for angle, pair in zip(angles, (first, middle, last), strict=True):
        np.arctan2(*pair, out=angle[...])
    locked = across < _LOCKED
    if locked.any():
        turned = r[1, 0] if order == ISB_ORDER else -r[2, 0]
        angles[0, locked] = np.arctan2(turned, r[0, 0])[locked]
        angles[2, locked] = 0.0
    lost = np.isnan(r[0, 0] + r[1, 1] + r[2, 2])  # axes are missing as a whole, so the diagonal shows it
    if lost.any():
        angles[:, lost] = np.nan
    return np.degrees(angles, out=angles)


def lean_and_spin(rotations: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return lean of the long axis from vertical, direction of the lean, and spin about the long axis, in degrees.

    `rotations` : (..., 3, 3) segment axes as columns in the golfer's frame. The direction is the angle from X toward Z.
    Each rotation is decomposed into a spin about the long axis, followed by the smallest rotation from vertical to the
    long axis (swing-twist decomposition).
    """
    across, up, beside = (rotations[..., i, 1] for i in range(3))
    lean = np.arctan2(np.hypot(across, beside), up)
    heading = np.arctan2(beside, across)
    spin = np.arctan2(
        rotations[..., 0, 2] - rotations[..., 2, 0], rotations[..., 0, 0] + rotations[..., 2, 2]
    )
    return np.degrees(lean), np.degrees(heading), np.degrees(spin)


def angle_between(a: np.ndarray, b: np.ndarray) -> np.ndarray:
    """Return the angle (...) in degrees, 0 to 180, between vectors (..., 3); accurate also near 0 and 180."""
    across = np.sqrt((cross(a, b) ** 2).sum(axis=-1))
    return np.degrees(np.arctan2(across, (a * b).sum(axis=-1)))


def wrapped(degrees: np.ndarray) -> np.ndarray:
    """Return angles in degrees wrapped to the interval from -180 (included) to 180 (excluded)."""
    return (degrees + 180.0) % 360.0 - 180.0


def shortest_change(degrees: np.ndarray) -> np.ndarray:
    """Return differences of angles in degrees, wrapped to the interval from -180 to 180 (the shortest rotation)."""
    return wrapped(degrees) if np.nanmax(np.abs(degrees), initial=0.0) >= 180.0 else degrees


def unwrapped(degrees: np.ndarray, reference: int) -> np.ndarray:
    """Return angles (n_frames, n_angles) in degrees without jumps of 360 degrees, also across gaps.

    The first value of each angle at or after frame `reference` that is not NaN is between -180 and 180; if there is no
    such value, this applies to the last value before it.
    """
    out = degrees.copy()
    there = np.isfinite(degrees)
    whole = there.all(axis=0)
    columns = [(np.flatnonzero(whole), np.arange(len(degrees)))] if whole.any() else []
    columns += [
        (np.array([k]), np.flatnonzero(there[:, k])) for k in np.flatnonzero(~whole & there.any(axis=0))
    ]
    for own, seen in columns:
        angles = np.unwrap(degrees[np.ix_(seen, own)], period=360.0, axis=0)
        anchor = angles[min(int(np.searchsorted(seen, reference)), len(seen) - 1)]
        out[np.ix_(seen, own)] = angles - 360.0 * np.round(anchor / 360.0)
    return out
