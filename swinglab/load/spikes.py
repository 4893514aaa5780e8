"""Single-frame spikes in static captures: set to missing.

In a published static capture 18 of 30 markers jump in two frames by some tenths of a millimetre, thirty times their
noise, and come back, as when a camera drops out. Only in a static capture is it certain that nothing else moved
them; in a swing a jolt looks the same.
"""

from __future__ import annotations

import numpy as np

from swinglab.signals import robust_sd

#: A sample this many standard deviations from the mean of its two neighbours is a spike, not noise or tremor.
_TOO_FAR = 10.0


def drop_spikes(names: tuple[str, ...], raw: np.ndarray) -> tuple[np.ndarray, list[str]]:
    """Points (n_frames, n_landmarks, 3) of a static capture with spikes as NaN, and a warning where there were any."""
    off = np.full(raw.shape, np.nan)
    off[1:-1] = raw[1:-1] - (raw[:-2] + raw[2:]) / 2
    size = np.abs(off)
    # The neighbours of a spike are half as far off.
    beside = np.fmax(np.roll(size, 1, axis=0), np.roll(size, -1, axis=0))
    scale = np.zeros(raw.shape[1:])
    seen = np.isfinite(off).any(axis=0)
    scale[seen] = robust_sd(off[:, seen])
    spikes = ((size > _TOO_FAR * scale) & (size > beside) & (scale > 0)).any(axis=2)
    if not spikes.any():
        return raw, []
    frames, landmarks = np.flatnonzero(spikes.any(axis=1)), np.flatnonzero(spikes.any(axis=0))
    warning = (
        f"{spikes.sum()} samples jump for a single frame in a static capture ({len(landmarks)} landmarks, "
        f"{names[landmarks[0]]} first; frames {', '.join(str(k + 1) for k in frames[:5])}"
        f"{' and more' if len(frames) > 5 else ''}): taken as missing"
    )
    return np.where(spikes[..., None], np.nan, raw), [warning]
