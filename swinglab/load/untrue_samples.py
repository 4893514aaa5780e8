"""Invalid samples that are set to missing: frozen markers, and jumps of a single frame in static captures.

Some systems repeat the last position of a hidden marker, or set it to the floor, without marking it as invalid. In a
published whole-body capture both front pelvis markers had exactly the same coordinates for 1.4 s while the pelvis
rotated. In a published static capture 18 of 30 markers jump in two frames by some tenths of a millimetre, thirty times
their noise. Such jumps are removed only from static captures, because in a swing a real impact looks the same.
"""

from __future__ import annotations

import numpy as np

from swinglab.conventions import SEGMENT_LANDMARKS
from swinglab.signals import robust_sd, stretches

#: A marker is frozen if it does not move for at least this long; shorter runs occur by rounding.
_LEAST_S, _LEAST_FRAMES = 0.1, 5
#: Largest distance that counts as no motion: far below any marker noise, above the rounding error of a rotation.
_SAME_M = 1e-9
#: The segment moves if another of its markers travels this far during the run.
_MOVES_M = 0.02
#: Segments that are checked. Feet are not, because a marker of a planted foot can stand still while the heel rises.
_SEGMENTS = ("pelvis", "thorax", "head", "hand_left", "hand_right")
#: A sample this many standard deviations from the mean of its two neighbours is a spike, not noise or tremor.
_TOO_FAR = 10.0


def drop_frozen(names: tuple[str, ...], raw: np.ndarray, rate_hz: float) -> tuple[np.ndarray, list[str]]:
    """Set frozen samples to NaN; return the points and a warning for each landmark with frozen samples.

    A sample is frozen if the marker does not move at all while its segment moves. `raw` : (n_frames, n_landmarks, 3) in
    metres.
    """
    frozen, warnings = np.zeros(raw.shape[:2], dtype=bool), []
    least = max(_LEAST_FRAMES, _LEAST_S * rate_hz)
    for segment in _SEGMENTS:
        places = [k for k, name in enumerate(names) if name in SEGMENT_LANDMARKS[segment]]
        for k in places if len(places) > 1 else ():
            others = raw[:, [place for place in places if place != k]]
            unchanged = np.all(np.abs(np.diff(raw[:, k], axis=0)) <= _SAME_M, axis=1)
            for run in (run for run in stretches(unchanged) if run.stop - run.start >= least):
                after = slice(run.start + 1, run.stop + 1)  # the first sample of a run was measured
                away = np.linalg.norm(others[after] - others[after.start], axis=-1)
                frozen[after, k] = (away > _MOVES_M).any()
            if frozen[:, k].any():
                warnings.append(
                    f"{frozen[:, k].sum()} samples of {names[k]} do not move while the "
                    f"{segment.replace('_', ' ')} moves; they were treated as missing"
                )
    return (np.where(frozen[..., None], np.nan, raw) if warnings else raw), warnings


def drop_spikes(names: tuple[str, ...], raw: np.ndarray) -> tuple[np.ndarray, list[str]]:
    """Set jumps of a single frame in a static capture to NaN; return the points and a list of warnings (none or one).

    `raw` : (n_frames, n_landmarks, 3) in metres.
    """
    off = np.full(raw.shape, np.nan)
    off[1:-1] = raw[1:-1] - (raw[:-2] + raw[2:]) / 2
    size = np.abs(off)
    # A spike also changes the deviation (`off`) of both neighbouring frames, by half as much.
    beside = np.fmax(np.roll(size, 1, axis=0), np.roll(size, -1, axis=0))
    scale = np.zeros(raw.shape[1:])
    seen = np.isfinite(off).any(axis=0)
    scale[seen] = robust_sd(off[:, seen])
    spikes = ((size > _TOO_FAR * scale) & (size > beside) & (scale > 0)).any(axis=2)
    if not spikes.any():
        return raw, []
    frames, landmarks = np.flatnonzero(spikes.any(axis=1)), np.flatnonzero(spikes.any(axis=0))
    warning = (
        f"{spikes.sum()} samples jump for a single frame in a static capture ({len(landmarks)} landmarks, the first is "
        f"{names[landmarks[0]]}; frames {', '.join(str(k + 1) for k in frames[:5])}"
        f"{' and more' if len(frames) > 5 else ''}); they were treated as missing"
    )
    return np.where(spikes[..., None], np.nan, raw), [warning]
