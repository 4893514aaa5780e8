"""Frozen markers: samples that repeat one place while the segment's other markers move are set to missing.

Some systems repeat the last place of a hidden marker, or put it on the floor, without a flag. Such a sample looks
measured and distorts the segment. In a published whole-body capture both front pelvis markers kept the same
coordinates, to the last bit, for 1.4 s while the pelvis turned.
"""

from __future__ import annotations

import numpy as np

from swinglab.conventions import SEGMENT_LANDMARKS
from swinglab.signals import stretches

#: Shorter runs happen by rounding.
_LEAST_S = 0.1
_LEAST_FRAMES = 5
#: What counts as the same place: far below any marker's noise, above the rounding of a turn of the axes.
_SAME_M = 1e-9
#: The segment moves where another of its markers goes this far during the run.
_MOVES_M = 0.02
#: A planted foot may stand while it rolls about its toe; these segments cannot.
_SEGMENTS = ("pelvis", "thorax", "head", "hand_left", "hand_right")


def drop_frozen(names: tuple[str, ...], raw: np.ndarray, rate_hz: float) -> tuple[np.ndarray, list[str]]:
    """Points (n_frames, n_landmarks, 3) with frozen samples as NaN, and a warning for each landmark that had any."""
    points, warnings = raw, []
    for segment in _SEGMENTS:
        places = [k for k, name in enumerate(names) if name in SEGMENT_LANDMARKS[segment]]
        if len(places) < 2:
            continue
        for k in places:
            others = [place for place in places if place != k]
            runs = [run for run in _runs(raw[:, k], rate_hz) if _others_move(raw[run][:, others])]
            if not runs:
                continue
            points = points.copy() if points is raw else points
            for run in runs:
                points[run, k] = np.nan
            count = sum(run.stop - run.start for run in runs)
            warnings.append(
                f"{count} samples of {names[k]} do not move while the {segment.replace('_', ' ')} moves: "
                "taken as missing"
            )
    return points, warnings


def _runs(track: np.ndarray, rate_hz: float) -> list[slice]:
    """Stretches in which a landmark does not move at all; the first sample of a stretch was measured."""
    unchanged = np.all(np.abs(np.diff(track, axis=0)) <= _SAME_M, axis=1)
    least = max(_LEAST_FRAMES, _LEAST_S * rate_hz)
    return [slice(s.start + 1, s.stop + 1) for s in stretches(unchanged) if s.stop - s.start >= least]


def _others_move(tracks: np.ndarray) -> bool:
    """Whether any of the other markers (n, k, 3) leaves its place of the run's first frame."""
    away = np.linalg.norm(tracks - tracks[:1], axis=-1)
    return bool((away > _MOVES_M).any())
