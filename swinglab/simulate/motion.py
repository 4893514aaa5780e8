"""Rigid motions of segments in each frame, stored so that points without motion remain exactly unchanged."""

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
    """A rigid motion: a rotation about a point that is also displaced.

    turn : (n, 3, 3) rotation minus identity, exactly 0 where there is no rotation. start, end : (n, 3) a point of the
    segment before and after the motion.
    """

    turn: np.ndarray
    start: np.ndarray
    end: np.ndarray

    def apply(self, points: np.ndarray) -> np.ndarray:
        """Points (n, 3) after the motion; without motion a point is exactly unchanged."""
        return points + (self.end - self.start) + np.einsum("nij,nj->ni", self.turn, points - self.start)

    def rows(self, chosen: np.ndarray | slice) -> Motion:
        """The motion in the chosen frames."""
        return Motion(self.turn[chosen], self.start[chosen], self.end[chosen])

    @property
    def rotation(self) -> np.ndarray:
        """Rotation matrices (n, 3, 3)."""
        return self.turn + np.eye(3)

    def then(self, turn: np.ndarray, about: np.ndarray) -> Motion:
        """This motion followed by a rotation (`turn`: rotation minus identity) about points (n, 3) after the motion."""
        both = self.turn + turn + turn @ self.turn
        return Motion(both, self.start, self.end + np.einsum("nij,nj->ni", turn, self.end - about))


def turn_about(rotation_vector: np.ndarray) -> np.ndarray:
    """Rotation minus identity (n, 3, 3) for rotation vectors (n, 3), rad; exactly 0 for a zero vector."""
    out = np.full((len(rotation_vector), 3, 3), np.nan)
    seen = np.isfinite(rotation_vector).all(axis=1)
    out[seen] = Rotation.from_rotvec(rotation_vector[seen]).as_matrix() - np.eye(3)
    out[seen & ~rotation_vector.any(axis=1)] = 0.0
    return out


def turn_between(before: np.ndarray, after: np.ndarray) -> np.ndarray:
    """Smallest rotations, minus identity, (n, 3, 3) from directions (n, 3) to others; exactly 0 if they are equal."""
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
    """Middle joint (n, 3) of a limb with constant segment lengths whose ends moved, and the missing length (n,), m.

    first, end : joint before and after. middle : joint before, and a position toward which the limb is flexed. The
    missing length is 0 if the end is within reach.
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
    """Displacement (n, 3), m, of the start of a limb toward its end where the end is beyond `reach` (n,)."""
    span = end - start
    distance = np.linalg.norm(span, axis=1)
    lack = np.maximum(distance - STRAIGHTEST * reach, 0.0)
    return (lack / distance)[:, None] * span
