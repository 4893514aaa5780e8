"""Samples that jump away for one frame in a body that stands still: taken as missing.

Seen in a published static capture: in two frames eighteen of thirty markers, most of one side's among them, jump by
some tenths of a millimetre, thirty times their noise, and come back, as when a camera drops out. Only of a body that
stands still it is certain that nothing else moved them; in a swing a jolt looks alike.
"""

from __future__ import annotations

import numpy as np

from swinglab.signals import robust_sd

#: So many standard deviations off the middle of the frames beside it: no noise brings that, nor does tremor.
_TOO_FAR = 10.0


def drop_jumps(names: tuple[str, ...], raw: np.ndarray) -> tuple[np.ndarray, list[str]]:
    """Points (n_frames, n_landmarks, 3) of a still body with lone jumps as NaN, and a sentence where there were any."""
    off = np.full(raw.shape, np.nan)
    off[1:-1] = raw[1:-1] - (raw[:-2] + raw[2:]) / 2
    size = np.abs(off)
    # The frames beside a jump are half as far off; noise that is no more than rounding says nothing.
    beside = np.fmax(np.roll(size, 1, axis=0), np.roll(size, -1, axis=0))
    scale = np.zeros(raw.shape[1:])
    seen = np.isfinite(off).any(axis=0)
    scale[seen] = robust_sd(off[:, seen])
    jumps = ((size > _TOO_FAR * scale) & (size > beside) & (scale > 0)).any(axis=2)
    if not jumps.any():
        return raw, []
    frames, landmarks = np.flatnonzero(jumps.any(axis=1)), np.flatnonzero(jumps.any(axis=0))
    told = (
        f"{jumps.sum()} samples jump away for one frame while the body stands still ({len(landmarks)} landmarks, "
        f"{names[landmarks[0]]} first; frames {', '.join(str(k + 1) for k in frames[:5])}"
        f"{' and more' if len(frames) > 5 else ''}): taken as missing"
    )
    return np.where(jumps[..., None], np.nan, raw), [told]
