"""A shape of markers fitted to frames as a rigid body, by least squares."""

from __future__ import annotations

import numpy as np


def carry_points(shape: np.ndarray, local: np.ndarray, others: np.ndarray) -> np.ndarray:
    """A point fixed to a body, at `local` from the middle of its shape (k, 3), in each frame of others (n, k, 3).

    NaN where one of the others is missing.
    """
    out = np.full((len(others), 3), np.nan)
    seen = np.isfinite(others).all(axis=(1, 2))
    middle = others[seen].mean(axis=1, keepdims=True)
    turn = rotations_onto(shape - shape.mean(axis=0), others[seen] - middle)
    out[seen] = np.einsum("fij,j->fi", turn, local) + middle[:, 0]
    return out


def rotations_onto(shape: np.ndarray, centred: np.ndarray) -> np.ndarray:
    """(n_frames, 3, 3) turning the shape best onto each frame (least squares, by singular values)."""
    u, _, vt = np.linalg.svd(np.einsum("fki,kj->fij", centred, shape))
    sign = np.sign(np.linalg.det(u @ vt))
    u[:, :, 2] *= sign[:, None]
    return u @ vt
