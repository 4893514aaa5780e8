"""Detection of the time at which a point at rest begins to move away, such as the ball at impact."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

#: A point is at rest while it stays within STILL_M of its median for STILL_S; it is away when farther than AWAY_M.
STILL_M, STILL_S, AWAY_M = 0.005, 0.1, 0.02
#: A point that leaves more slowly than this was carried or pushed, not struck.
CARRIED_MPS = 3.0


@dataclass(frozen=True, slots=True)
class Departure:
    """Frames between which a point at rest begins to move away.

    last_rest : last frame at rest. first_away : first frame in which the point is away from its position at rest; None
    if it never moves away faster than a hand could carry it (CARRIED_MPS), or is not visible again. stays : whether it
    never moves away faster than this and is visible at rest at the end of the capture.
    """

    last_rest: int
    first_away: int | None
    stays: bool


def find_departure(points: np.ndarray, rate_hz: float) -> Departure | None:
    """Return the frames at which a point moves away from rest with the highest speed; None if it is never at rest.

    `points` : (n_frames, 3) in metres, NaN where missing. `rate_hz` : frames per second. The result is also None if the
    coordinates never change at all, because such a point was not measured.

    Examples
    --------
    >>> still = np.random.default_rng(0).normal(0.0, 1e-4, (60, 3))
    >>> flying = np.arange(1, 6)[:, None] * [0.3, 0.1, 0.0]
    >>> find_departure(np.vstack([still, flying]), 100.0)
    Departure(last_rest=59, first_away=60, stays=False)
    """
    seen = np.flatnonzero(np.isfinite(points).all(axis=1))
    window = max(3, round(STILL_S * rate_hz))
    if len(seen) <= window or np.ptp(points[seen], axis=0).max() == 0:
        return None
    path = points[seen]
    recent = np.lib.stride_tricks.sliding_window_view(
        path, window, axis=0
    )  # (m, 3, window), ending at each sample
    centre = np.median(recent, axis=2)
    off = np.linalg.norm(recent - centre[:, :, None], axis=1).max(axis=1)
    resting = np.flatnonzero(off < STILL_M)
    if not len(resting):
        return None
    place, at = centre[resting], resting + window - 1
    best, fastest = Departure(int(seen[at[-1]]), None, True), CARRIED_MPS
    # A period of rest ends if the next sample is not at rest, or if there is no next sample.
    for k in np.flatnonzero(np.diff(at, append=len(path) + window) > 1):
        away = np.flatnonzero(np.linalg.norm(path[at[k] + 1 :] - place[k], axis=1) > AWAY_M)
        if not len(away):
            continue
        first = int(at[k] + 1 + away[0])
        last = int(at[k])
        near = np.flatnonzero(np.linalg.norm(path[:first] - place[k], axis=1) < STILL_M)
        last = max(last, int(near[-1])) if len(near) else last
        frames = seen[first] - seen[last]
        speed = float(np.linalg.norm(path[first] - place[k])) * rate_hz / frames
        if speed > fastest:
            best, fastest = Departure(int(seen[last]), int(seen[first]), False), speed
    if best.stays and at[-1] < len(path) - 1 - window:
        return Departure(best.last_rest, None, False)  # carried away, slowly, or lost in noise
    vanished = best.stays and seen[-1] < len(points) - 1 - window
    return Departure(best.last_rest, None, False) if vanished else best
