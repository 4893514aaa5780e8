"""Periods (stretches) of consecutive samples in which a mask is True."""

from __future__ import annotations

import numpy as np


def stretches(mask: np.ndarray) -> list[slice]:
    """Return the periods of consecutive True samples of a mask (n,), in order, as slices.

    Examples
    --------
    >>> stretches(np.array([True, False, True, True]))
    [slice(0, 1, None), slice(2, 4, None)]
    """
    padded = np.zeros(len(mask) + 2, dtype=np.int8)
    padded[1:-1] = mask
    steps = np.diff(padded)
    return [
        slice(int(first), int(end))
        for first, end in zip(np.flatnonzero(steps == 1), np.flatnonzero(steps == -1), strict=True)
    ]
