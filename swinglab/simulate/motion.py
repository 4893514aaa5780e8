"""Rigid motions of segments, frame by frame, in a form that leaves points untouched where nothing moves."""

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
    """A rotation about a point that itself moves.

    turn : (n, 3, 3) the rotation minus the identity, exactly 0 where nothing turns. start, end : (n, 3) a point of the
    segment before and after.
    """

    turn: np.ndarray
    start: np.ndarray
    end: np.ndarray

    def apply(self, points: np.ndarray) -> np.ndarray:
        """(n, 3) points carried along; a point stays what it is, to the last bit, where nothing moves."""
        return points + (self.end - self.start) + np.einsum("nij,nj->ni", self.turn, points - self.start)

    def rows(self, chosen: np.ndarray | slice) -> Motion:
        """The motion in some frames."""
        return Motion(self.turn[chosen], self.start[chosen], self.end[chosen])

    @property
    def rotation(self) -> np.ndarray:
        """(n, 3, 3) the rotation."""
        return self.turn + np.eye(3)

    def then(self, turn: np.ndarray, about: np.ndarray) -> Motion:
        """This motion followed by a rotation (less the identity) about points (n, 3) as they are after it."""
        both = self.turn + turn + turn @ self.turn
        return Motion(both, self.start, self.end + np.einsum("nij,nj->ni", turn, self.end - about))


def turn_about(rotation_vector: np.ndarray) -> np.ndarray:
    """(n, 3, 3) rotations minus the identity of rotation vectors (n, 3), rad; exactly 0 for a zero vector."""
    out = np.full((len(rotation_vector), 3, 3), np.nan)
    seen = np.isfinite(rotation_vector).all(axis=1)
    out[seen] = Rotation.from_rotvec(rotation_vector[seen]).as_matrix() - np.eye(3)
    out[seen & ~rotation_vector.any(axis=1)] = 0.0
    return out


def turn_between(before: np.ndarray, after: np.ndarray) -> np.ndarray:
    """(n, 3, 3) smallest rotations minus the identity that take directions (n, 3) to others; exactly 0 where equal."""
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
    """The middle joint (n, 3) of a limb whose ends moved, its two lengths kept, and by how much the limb is too short.

    first, end : joint before and after. middle : joint before, and where it would be carried; the new one is bent
    toward that. The second result is (n,) metres, 0 where the end is in reach.
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
    """(n, 3) by which the start of a limb moves toward its end where that is out of reach (n,), metres."""
    span = end - start
    distance = np.linalg.norm(span, axis=1)
    lack = np.maximum(distance - STRAIGHTEST * reach, 0.0)
    return (lack / distance)[:, None] * span
