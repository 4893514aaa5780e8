"""Least-squares fit of a rigid body to its markers in each frame."""

from __future__ import annotations

import numpy as np


def carry_points(shape: np.ndarray, local: np.ndarray, others: np.ndarray) -> np.ndarray:
    """Return the position of a point fixed to a rigid body in each frame, (n, 3); NaN if a marker is missing.

    `shape` : (k, 3) positions of k markers of the body in a reference position. `local` : (3,) the point there,
    relative to the centroid of `shape`. `others` : (n, k, 3) positions of the same markers in each frame.
    """
    out = np.full((len(others), 3), np.nan)
    seen = np.isfinite(others).all(axis=(1, 2))
    middle = others[seen].mean(axis=1, keepdims=True)
    turn = rotations_onto(shape - shape.mean(axis=0), others[seen] - middle)
    out[seen] = np.einsum("fij,j->fi", turn, local) + middle[:, 0]
    return out


def rotations_onto(shape: np.ndarray, centred: np.ndarray) -> np.ndarray:
    """Return the rotation of a rigid body from a reference position to each frame, (n_frames, 3, 3), by least squares.

    `shape` : (k, 3) markers in the reference position, relative to their centroid. `centred` : (n_frames, k, 3) markers
    in each frame, relative to their centroid there. The method is a singular value decomposition.
    """
    u, _, vt = np.linalg.svd(np.einsum("fki,kj->fij", centred, shape))
    sign = np.sign(np.linalg.det(u @ vt))
    u[:, :, 2] *= sign[:, None]
    return u @ vt
