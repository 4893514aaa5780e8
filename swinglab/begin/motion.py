"""Detection of swings in a capture: time of greatest speed, part of the file, and whether a ball was struck."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import scipy
from scipy.ndimage import uniform_filter1d

#: Least speeds of a swing, m/s (judgements: in a short putt the clubhead moves at 1 to 2).
_SLOWEST_CLUB_MPS, _SLOWEST_HANDS_MPS = 1.0, 1.0
#: Swings in one file: least time between their speed peaks, s; least peak speed as a part of the greatest one.
_APART_S, _PART_OF_FASTEST = 2.0, 0.5
#: Time before and after the speed peak that belongs to a swing in a file with several swings, s.
_BEFORE_S, _AFTER_S = 4.0, 1.5
#: A ball that moves farther than this was struck.
_BALL_MOVED_M = 0.05
_HANDS = tuple(
    f"{stem}_{side}"
    for stem in ("wrist_radial", "wrist", "wrist_ulnar", "hand")
    for side in ("left", "right")
)

Points = Mapping[str, np.ndarray]


@dataclass(frozen=True, slots=True)
class FoundSwing:
    """A swing found in a capture.

    peak_s : time (s) from the first frame to the greatest speed of the clubhead (without a clubhead: of the hands).
    from_s, to_s : start and end (s) of this swing's part of the file; None if it is the only swing of the file.
    struck : whether the ball was struck; None if the capture has no ball. speed_mps : the greatest speed (m/s).
    """

    peak_s: float
    from_s: float | None = None
    to_s: float | None = None
    struck: bool | None = None
    speed_mps: float = float("nan")


def find_swings(points: Points, rate_hz: float) -> tuple[FoundSwing, ...]:
    """Return the swings in a capture, in order of time; empty for a static capture.

    Parameters
    ----------
    points : mapping of str to numpy.ndarray, (n, 3)
        Landmark -> positions, m.
    rate_hz : float
        Frames per second.

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
    """Return the path (n, 3) of the clubhead, and the smallest peak speed (m/s) that counts as a swing.

    Without a clubhead, the path is the mean of the markers on hands and wrists; None if these are missing too.
    """
    if "clubhead" in points:
        return points["clubhead"], _SLOWEST_CLUB_MPS
    hands = [points[name] for name in _HANDS if name in points]
    return (np.mean(hands, axis=0), _SLOWEST_HANDS_MPS) if hands else (None, _SLOWEST_HANDS_MPS)


def speed_mps(path: np.ndarray, rate_hz: float) -> np.ndarray:
    """Return the speed (n - 1,) in m/s between successive frames of a path, averaged over about 20 ms.

    Gaps in the path are interpolated linearly.
    """
    seen = np.isfinite(path).all(axis=1)
    if seen.sum() < 4:
        return np.zeros(0)
    frames = np.arange(len(path))
    whole = np.stack([np.interp(frames, frames[seen], path[seen, axis]) for axis in range(3)], axis=1)
    steps = np.linalg.norm(np.diff(whole, axis=0), axis=1) * rate_hz
    return uniform_filter1d(steps, max(1, round(0.02 * rate_hz)))


def direction_at(path: np.ndarray, time_s: float, rate_hz: float) -> np.ndarray | None:
    """Return the direction of motion, a unit vector (3,), of a path over the 20 ms around a time.

    None if the point is not visible then.
    """
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
    """Return whether the ball is visible before the speed peak, and has moved or is not visible after it.

    None if the capture has no ball.
    """
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
