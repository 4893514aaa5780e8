"""Least-squares fit of a rigid set of markers to each frame."""

from __future__ import annotations

import numpy as np


def carry_points(shape: np.ndarray, local: np.ndarray, others: np.ndarray) -> np.ndarray:
    """Position (n, 3) of a point fixed to a rigid body, in each frame.

    shape : (k, 3) markers of the body about their centroid. local : (3,) the point relative to the centroid. others :
    (n, k, 3) the markers in each frame. NaN where one of the markers is missing.
    """
    out = np.full((len(others), 3), np.nan)
    seen = np.isfinite(others).all(axis=(1, 2))
    middle = others[seen].mean(axis=1, keepdims=True)
    turn = rotations_onto(shape - shape.mean(axis=0), others[seen] - middle)
    out[seen] = np.einsum("fij,j->fi", turn, local) + middle[:, 0]
    return out


def rotations_onto(shape: np.ndarray, centred: np.ndarray) -> np.ndarray:
    """Rotations (n_frames, 3, 3) that fit the shape to each frame by least squares (singular value decomposition)."""
    u, _, vt = np.linalg.svd(np.einsum("fki,kj->fij", centred, shape))
    sign = np.sign(np.linalg.det(u @ vt))
    u[:, :, 2] *= sign[:, None]
    return u @ vt
