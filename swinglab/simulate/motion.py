"""Rigid motions of segments in each frame, stored so that a motion of 0 does not change points at all."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.spatial.transform import Rotation

from swinglab.simulate.limbs import two_links
from swinglab.simulate.linkage import unit

#: A limb is never stretched beyond this share of its length.
STRAIGHTEST = 0.998


@dataclass(frozen=True, slots=True, eq=False)
class Motion:
    """A rigid motion of a segment in n frames: a rotation about a point, and a displacement of this point.

    turn : (n, 3, 3) rotation matrix minus identity matrix, exactly 0 without rotation. start, end : (n, 3) position of
    the point before and after the motion, m.
    """

    turn: np.ndarray
    start: np.ndarray
    end: np.ndarray

    def apply(self, points: np.ndarray) -> np.ndarray:
        """Return points (n, 3) of the segment after the motion; without motion they are exactly the same."""
        return points + (self.end - self.start) + np.einsum("nij,nj->ni", self.turn, points - self.start)

    def rows(self, chosen: np.ndarray | slice) -> Motion:
        """Return the motion in the chosen frames only (mask, indices or slice)."""
        return Motion(self.turn[chosen], self.start[chosen], self.end[chosen])

    @property
    def rotation(self) -> np.ndarray:
        """Rotation matrices of the motion, (n, 3, 3)."""
        return self.turn + np.eye(3)

    def then(self, turn: np.ndarray, about: np.ndarray) -> Motion:
        """Return this motion followed by a rotation.

        `turn` : (n, 3, 3) rotation matrix minus identity matrix. `about` : (n, 3) centre of the rotation, where it is
        after this motion.
        """
        both = self.turn + turn + turn @ self.turn
        return Motion(both, self.start, self.end + np.einsum("nij,nj->ni", turn, self.end - about))


def turn_about(rotation_vector: np.ndarray) -> np.ndarray:
    """Return rotation matrix minus identity matrix, (n, 3, 3), of rotation vectors (n, 3), rad; 0 for a zero vector."""
    out = np.full((len(rotation_vector), 3, 3), np.nan)
    seen = np.isfinite(rotation_vector).all(axis=1)
    out[seen] = Rotation.from_rotvec(rotation_vector[seen]).as_matrix() - np.eye(3)
    out[seen & ~rotation_vector.any(axis=1)] = 0.0
    return out


def turn_between(before: np.ndarray, after: np.ndarray) -> np.ndarray:
    """Return the smallest rotations between directions `before` and `after`, (n, 3), as matrix minus identity matrix.

    The result (n, 3, 3) is exactly 0 if the two directions are equal.
    """
    a, b = unit(before), unit(after)
    across = np.cross(a, b)
    sine = np.linalg.norm(across, axis=1)
    angle = np.arctan2(sine, np.sum(a * b, axis=1))
    scale = np.divide(angle, sine, out=np.zeros_like(angle), where=sine > 0)
    same = (before == after).all(axis=1)
    vector = across * scale[:, None]
    vector[same] = 0.0
    return turn_about(vector)


def bend_limb(
    first: tuple[np.ndarray, np.ndarray],
    middle: tuple[np.ndarray, np.ndarray],
    end: tuple[np.ndarray, np.ndarray],
) -> tuple[np.ndarray, np.ndarray]:
    """Return the middle joint (n, 3), m, of a limb after both of its ends were moved, and the missing length (n,), m.

    The lengths of the two segments do not change. `first`, `end` : proximal and distal joint, each as (before, after)
    the motion, (n, 3). `middle` : (middle joint before the motion, point toward which the limb is flexed after it). The
    missing length is by how much the limb is too short; 0 if the end is within reach.
    """
    upper = np.linalg.norm(middle[0] - first[0], axis=1, keepdims=True)
    lower = np.linalg.norm(end[0] - middle[0], axis=1, keepdims=True)
    old, _ = two_links(first[0], end[0], upper, lower, middle[0] - first[0])
    new, _ = two_links(first[1], end[1], upper, lower, middle[1] - first[1])
    moved = middle[0] + (new - old)
    still = (first[0] == first[1]).all(axis=1) & (end[0] == end[1]).all(axis=1)
    moved[still] = middle[0][still]
    span = np.linalg.norm(end[1] - first[1], axis=1)
    return moved, np.where(still, 0.0, np.maximum(span - (upper + lower)[:, 0], 0.0))


def draw_near(start: np.ndarray, end: np.ndarray, reach: np.ndarray) -> np.ndarray:
    """Return the displacement (n, 3), m, of the start of a limb that brings it within `reach` (n,), m, of the end.

    `start`, `end` : (n, 3) m. The displacement is toward the end; it is 0 if the end is within reach already.
    """
    span = end - start
    distance = np.linalg.norm(span, axis=1)
    lack = np.maximum(distance - STRAIGHTEST * reach, 0.0)
    return (lack / distance)[:, None] * span
