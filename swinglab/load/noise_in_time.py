"""How the noise of landmarks changes during a capture: more in motion than standing still.

Markers that move fast are seen less sharply, overlap and change cameras. In the highest frequencies, where no body
moves, that shows as it happens; there it is told by the sixth differences of samples as measured.
"""

from __future__ import annotations

from math import comb

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view

from swinglab.conventions import SEGMENT_LANDMARKS, is_club_landmark
from swinglab.signals.noise_level import ORDER, robust_sd

#: Below this rate the differences of a swing's fastest markers hold more motion than noise (DEVELOPERS.md).
LOWEST_RATE_HZ = 115.0
#: Length of a window, as long as the memory of the smoothing, and from one to the next.
_WINDOW_S, _STEP_S = 0.1, 0.05
#: Differences of noise this small say nothing of it: they are roundings of the file.
_LEAST_M = 1e-5
#: Median absolute value over the standard deviation (normal distribution).
_MEDIAN = 0.6745
#: Variance of the logarithm of a robust standard deviation, times the number of independent samples (normal
#: distribution).
_SCATTER_OF_LOG = 1.36
#: Of differences of one coordinate so many hang together as to count once.
_COUNT_ONCE = comb(4 * ORDER, 2 * ORDER) / comb(2 * ORDER, ORDER) ** 2


def noise_in_time(
    names: tuple[str, ...], raw: np.ndarray, used: np.ndarray, rate_hz: float
) -> np.ndarray | None:
    """The noise of each frame over the noise of the capture's usual frame, alike for a segment's landmarks.

    Parameters
    ----------
    names : tuple of str
        The k landmarks.
    raw : np.ndarray
        (n_frames, k, 3) metres, as measured.
    used : np.ndarray
        (n_frames, k) True where a sample was measured.
    rate_hz : float

    Returns
    -------
    np.ndarray or None
        (n_frames, k), 1 where noise is as usual and for what is neither body nor club. None at rates below
        115 Hz, where motion cannot be told from noise, and for captures shorter than a window.

    Notes
    -----
    Each window's logarithm of the median size, over all coordinates of a segment's landmarks, is shrunk toward the
    usual by what chance explains of it (positive part; James and Stein 1961): steady noise comes out as steady.
    """
    n, width = len(raw), 2 * round(_WINDOW_S / 2 * rate_hz) + 1
    if rate_hz < LOWEST_RATE_HZ or n < width + ORDER:
        return None
    factor = np.ones((n, len(names)))
    differences = np.diff(np.where(used[..., None], raw, np.nan), n=ORDER, axis=0)
    least = _LEAST_M * np.sqrt(comb(2 * ORDER, ORDER))
    members = [
        *([name in own for name in names] for own in SEGMENT_LANDMARKS.values()),
        [is_club_landmark(name) for name in names],
    ]
    for own in members:
        seen = np.array(own, dtype=bool) & np.isfinite(differences).any(axis=(0, 2))
        if not seen.any():
            continue
        values = differences[:, seen].reshape(len(differences), -1)
        relative = np.hypot(values, least) / np.hypot(_MEDIAN * robust_sd(values), least)
        windows = sliding_window_view(relative, width, axis=0)[:: max(1, round(_STEP_S * rate_hz))]
        middle = ORDER // 2 + width // 2 + max(1, round(_STEP_S * rate_hz)) * np.arange(len(windows))
        factor[:, seen] = np.interp(np.arange(n), middle, _told(windows.reshape(len(windows), -1)))[:, None]
    return factor


def _told(windows: np.ndarray) -> np.ndarray:
    """(m,) of windows (m, samples) of relative sizes, NaN where not seen: how large they are, beyond chance."""
    samples = np.isfinite(windows).sum(axis=1)
    size = np.log(np.where(samples > 0, _median(windows), 1.0))
    by_chance = _SCATTER_OF_LOG * _COUNT_ONCE / np.maximum(samples, 1)
    beyond = np.maximum(0.0, 1 - np.divide(by_chance, size**2, out=np.ones(len(size)), where=size != 0))
    return np.exp(beyond * size)


def _median(values: np.ndarray) -> np.ndarray:
    """Median along the last axis of what is not NaN, the lower of two; NaN where nothing is."""
    last = np.isfinite(values).sum(axis=-1, keepdims=True) - 1
    return np.take_along_axis(np.sort(values, axis=-1), np.maximum(last, 0) // 2, axis=-1)[..., 0]
