"""Approximate time of contact, and periods in which ball and club are at rest, for loading a swing.

The exact time of contact is that of the event impact, which is determined later.
"""

from __future__ import annotations

import numpy as np
from scipy.ndimage import uniform_filter1d

from swinglab.signals import find_departure

#: A club is at rest if its speed stays below this for STILL_S (chosen thresholds, the same as in the event search).
STILL_MPS = 0.2
STILL_S = 0.1
#: A ball is at rest if it moves less than this in STILL_S, noise included.
_BALL_STILL_M = 0.005
#: At contact a club loses at least this share of its peak speed over two frame intervals.
_DROP = 0.07
#: Drops of speed further apart than this belong to two swings. A ball that is out of view for longer than this is not
#: used for the time of contact.
_APART_S, _SHORT_S = 0.5, 0.05


def coarse_contact(names: tuple[str, ...], points: np.ndarray, rate_hz: float) -> float | None:
    """Return the approximate time (s) at which the club hits the ball, accurate to about one frame; None if unknown.

    If the ball is visible when it leaves its place, that time is used, otherwise the time of the largest decrease of
    clubhead speed. If the ball is hidden when it leaves its place, only decreases after it was last seen at rest are
    considered. If clubhead speed decreases in several swings, the last swing is used. `names`, `points` : landmarks and
    their positions (n_frames, n_landmarks, 3) in metres.
    """
    after = 0
    if "ball" in names:
        ball = find_departure(points[:, names.index("ball")], rate_hz)
        if ball is not None and ball.first_away is not None:
            if ball.first_away - ball.last_rest <= _SHORT_S * rate_hz:
                return (ball.last_rest + ball.first_away) / 2 / rate_hz
            after = ball.last_rest
        elif ball is not None and not ball.stays:
            after = ball.last_rest
    if "clubhead" in names:
        return _speed_drop(points[:, names.index("clubhead")], rate_hz, max(after - 2, 0))
    return None


def _bridged(path: np.ndarray) -> np.ndarray | None:
    """The path (n_frames, 3) with gaps filled by linear interpolation; None with fewer than 4 samples.

    It is accurate enough for approximate times only.
    """
    seen = np.isfinite(path).all(axis=1)
    if seen.sum() < 4:
        return None
    if seen.all():
        return path
    frames = np.arange(len(path))
    return np.stack([np.interp(frames, frames[seen], path[seen, axis]) for axis in range(3)], axis=1)


def _speed_drop(path: np.ndarray, rate_hz: float, after: int) -> float | None:
    bridged = _bridged(path)
    if bridged is None:
        return None
    speed = np.linalg.norm(np.diff(bridged, axis=0), axis=1) * rate_hz
    if len(speed) < 3:
        return None
    peak = np.sort(speed)[-max(3, len(speed) // 500)]
    drop = speed[:-2] - speed[2:]
    drop[speed[:-2] < 0.6 * peak] = 0.0
    drop[:after] = 0.0
    met = np.flatnonzero(drop >= _DROP * peak)
    if peak < 2.0 or not len(met):
        return None
    # Turf slows the club in a practice swing, too, so of several swings the last one is used.
    last = met[np.flatnonzero(np.diff(met, prepend=-len(path)) > _APART_S * rate_hz)[-1]]
    k = last + int(np.argmax(drop[last:]))
    # Contact lies in interval k + 1, whose speed is between those before and after it.
    return (k + 1.5) / rate_hz


def rest_before(path: np.ndarray, rate_hz: float, contact_s: float | None) -> np.ndarray:
    """Return a mask (n_frames,): True in the frames before contact with the ball at its last position of rest.

    `path` : (n_frames, 3) positions of the ball marker in metres. `contact_s` : time of contact; None if unknown, so
    that the whole capture is searched.
    """
    seen = np.isfinite(path).all(axis=1)
    if contact_s is not None:
        # The last frame before contact is not used, because the time of contact is accurate to about one frame only.
        seen &= np.arange(len(path)) < contact_s * rate_hz - 1
    places = np.flatnonzero(seen)
    half = max(1, round(STILL_S * rate_hz / 2))
    if len(places) < 3:
        return np.zeros(len(path), bool)
    samples = uniform_filter1d(path[places], min(len(places), 2 * half + 1), axis=0)
    step = np.linalg.norm(samples[2 * half :] - samples[: -2 * half], axis=1)
    still = np.flatnonzero(step < _BALL_STILL_M) + half
    last = places[still[-1]] if len(still) else places[-1]
    recent = places[(places <= last) & (places > last - 3 * half)]
    near = np.linalg.norm(path - np.median(path[recent], axis=0), axis=1) < _BALL_STILL_M
    return seen & near & (len(still) > 0 or len(places) <= 2 * half)


def address_stretch(path: np.ndarray, rate_hz: float, contact_s: float | None) -> slice | None:
    """Return the frames of the club's last period at rest near the ground before the swing; None if there is none.

    `path` : (n_frames, 3) positions of the clubhead in metres, Y up. `contact_s` : time of contact; if it is None, the
    time of the fastest motion is used.
    """
    bridged = _bridged(path)
    if bridged is None:
        return None
    half = max(1, round(STILL_S * rate_hz / 2))
    if len(path) <= 2 * half:
        return None
    speed = np.linalg.norm(bridged[2 * half :] - bridged[: -2 * half], axis=1) * rate_hz / (2 * half)
    end = int(contact_s * rate_hz) if contact_s is not None else int(np.argmax(speed)) + half
    low = bridged[half:-half, 1] < np.min(bridged[: end + 1, 1]) + 0.3
    still = (speed < STILL_MPS) & low & (np.arange(len(speed)) + half < end)
    still &= np.isfinite(path[half:-half]).all(axis=1)
    places = np.flatnonzero(still)
    if not len(places):
        return None
    first = places[-1]
    while first > 0 and still[first - 1]:
        first -= 1
    return slice(int(first) + half, int(places[-1]) + half + 1)
