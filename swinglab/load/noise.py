"""Noise of captured markers: standard deviation of one coordinate of each marker."""

from __future__ import annotations

import numpy as np

from swinglab.signals import noise_from_differences


def measure_noise(raw: np.ndarray, used: np.ndarray, near: slice = slice(None)) -> np.ndarray:
    """Return the standard deviation of the white noise of one coordinate of each marker, (k,), in metres.

    It is estimated from sixth differences between frames of the swing, because markers have more noise when they move
    than during address. For a marker that is hidden during the swing, all frames are used.

    Parameters
    ----------
    raw : np.ndarray
        (n_frames, k, 3) positions of k markers in metres, before smoothing.
    used : np.ndarray
        (n_frames, k) True where a sample was measured.
    near : slice
        Frames of the swing.

    Returns
    -------
    np.ndarray
        (k,) in metres; NaN for markers with too few samples.
    """
    measured = np.where(used[..., None], raw, np.nan)
    by_axis = np.full(raw.shape[1:], np.nan)
    whole = used[near].all(axis=0)
    columns = raw[near][:, whole]
    by_axis[whole] = noise_from_differences(columns.reshape(len(columns), -1)).reshape(-1, 3)
    for k in np.flatnonzero(np.isnan(by_axis).any(axis=1)):
        by_axis[k] = noise_from_differences(measured[near, k])
        if np.isnan(by_axis[k]).any():
            by_axis[k] = noise_from_differences(measured[:, k])
    return np.sqrt(np.mean(by_axis**2, axis=1))
