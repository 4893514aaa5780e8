"""Swings in a capture: when the club or the hands move fastest, which part of the file holds a swing, whether a ball
was struck."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import scipy
from scipy.ndimage import uniform_filter1d

#: Below these speeds a capture holds no swing, m/s (judgements: a short putt moves the clubhead at 1 to 2).
_SLOWEST_CLUB_MPS, _SLOWEST_HANDS_MPS = 1.0, 1.0
#: Two swings of one file have peaks of speed at least this far apart, and this part of the fastest one's speed.
_APART_S, _PART_OF_FASTEST = 2.0, 0.5
#: What a swing needs of a file that holds several: address and backswing before impact, follow-through after it.
_BEFORE_S, _AFTER_S = 4.0, 1.5
_BALL_MOVED_M = 0.05
_HANDS = tuple(
    f"{stem}_{side}"
    for stem in ("wrist_radial", "wrist", "wrist_ulnar", "hand")
    for side in ("left", "right")
)

Points = Mapping[str, np.ndarray]


@dataclass(frozen=True, slots=True)
class FoundSwing:
    """A swing in a capture. peak_s : when the club (else the hands) moves fastest. from_s, to_s : the part of the
    file that holds it, None where it is the file's only swing. struck : None where no ball shows it. speed_mps : the
    greatest speed of club or hands."""

    peak_s: float
    from_s: float | None = None
    to_s: float | None = None
    struck: bool | None = None
    speed_mps: float = float("nan")


def find_swings(points: Points, rate_hz: float) -> tuple[FoundSwing, ...]:
    """Swings of a capture, in time; none in a static one.

    Parameters
    ----------
    points : landmark -> (n, 3), metres
    rate_hz : frames a second

    Returns
    -------
    tuple of FoundSwing
    """
    path, slowest = swung_point(points)
    if path is None:
        return ()
    speed = speed_mps(path, rate_hz)
    if not len(speed) or float(speed.max()) < slowest:
        return ()
    least = max(slowest, _PART_OF_FASTEST * float(speed.max()))
    padded = np.concatenate([[0.0], speed, [0.0]])
    places = scipy.signal.find_peaks(padded, height=least, distance=max(1, round(_APART_S * rate_hz)))[0] - 1
    peaks = [float((k + 0.5) / rate_hz) for k in places]
    end = (len(path) - 1) / rate_hz
    found = []
    for k, peak in enumerate(peaks):
        before = peaks[k - 1] if k else None
        after = peaks[k + 1] if k + 1 < len(peaks) else None
        start = max(
            0.0, peak - _BEFORE_S, 0.0 if before is None else before + min(_AFTER_S, (peak - before) / 2)
        )
        stop = min(end, peak + (_AFTER_S if after is None else min(_AFTER_S, (after - peak) / 2)))
        several = len(peaks) > 1
        found.append(
            FoundSwing(
                peak,
                round(start, 2) if several else None,
                round(stop, 2) if several else None,
                _struck(points.get("ball"), peak, rate_hz),
                float(speed[places[k]]),
            )
        )
    return tuple(found)


def swung_point(points: Points) -> tuple[np.ndarray | None, float]:
    """The clubhead's path, else the mean of the hands, with the speed below which a capture holds no swing."""
    if "clubhead" in points:
        return points["clubhead"], _SLOWEST_CLUB_MPS
    hands = [points[name] for name in _HANDS if name in points]
    return (np.mean(hands, axis=0), _SLOWEST_HANDS_MPS) if hands else (None, _SLOWEST_HANDS_MPS)


def speed_mps(path: np.ndarray, rate_hz: float) -> np.ndarray:
    """(n - 1,) speed between frames, gaps bridged by straight lines, over about 20 ms."""
    seen = np.isfinite(path).all(axis=1)
    if seen.sum() < 4:
        return np.zeros(0)
    frames = np.arange(len(path))
    whole = np.stack([np.interp(frames, frames[seen], path[seen, axis]) for axis in range(3)], axis=1)
    steps = np.linalg.norm(np.diff(whole, axis=0), axis=1) * rate_hz
    return uniform_filter1d(steps, max(1, round(0.02 * rate_hz)))


def direction_at(path: np.ndarray, time_s: float, rate_hz: float) -> np.ndarray | None:
    """Unit vector (3,) of a path's motion over the 20 ms about a time; None where it is not seen there."""
    half = max(1, round(0.01 * rate_hz))
    middle = round(time_s * rate_hz)
    some = path[max(0, middle - half) : middle + half + 1]
    seen = some[np.isfinite(some).all(axis=1)]
    if len(seen) < 2:
        return None
    step = seen[-1] - seen[0]
    length = float(np.linalg.norm(step))
    return step / length if length > 0 else None


def _struck(ball: np.ndarray | None, peak_s: float, rate_hz: float) -> bool | None:
    """Whether the ball lies there before the peak and is away or gone after it; None without a ball."""
    if ball is None:
        return None
    middle = round(peak_s * rate_hz)

    def place(first: int, last: int) -> np.ndarray | None:
        some = ball[max(0, first) : max(0, last)]
        seen = some[np.isfinite(some).all(axis=1)]
        return np.median(seen, axis=0) if len(seen) else None

    before = place(middle - round(1.0 * rate_hz), middle - round(0.1 * rate_hz))
    after = place(middle + round(0.1 * rate_hz), middle + round(0.4 * rate_hz) + 1)
    if before is None:
        return False
    return after is None or bool(np.linalg.norm(after - before) > _BALL_MOVED_M)
