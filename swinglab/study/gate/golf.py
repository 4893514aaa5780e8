"""Checks of club, ball, turf and frame rate."""

from __future__ import annotations

import numpy as np

from swinglab.records import Trial
from swinglab.study.gate.axes import Directions
from swinglab.study.gate.body import Frames
from swinglab.study.gate.doubts import DOUBTFUL, IMPOSSIBLE, Doubt

#: Frame rates of motion captures (Hz).
_RATES_HZ = (12.0, 20000.0)
#: The lowest landmark of the feet lies between these heights above the turf (m).
_FEET_M = (-0.15, 0.30)
#: Largest distance of the ball from the feet, and largest movement before impact (m).
_FAR_BALL_M, _MOVED_M = 3.0, 0.02
#: A pass at speed: least share of top speed, largest distance from ball or lowest point, least time between passes.
_FAST, _NEAR_M, _APART_S = 0.5, 0.5, 0.5
#: Below this speed of the clubhead (m/s) a coarse impact may be noise.
_FAST_MPS = 4.0
_FEET = tuple(
    f"{stem}_{side}" for stem in ("heel", "toe", "ankle_lateral", "ankle") for side in ("left", "right")
)


def check_time(rate_hz: float) -> list[Doubt]:
    """Return a doubt if the frame rate is implausible.

    The verdict is impossible if the times were probably in milliseconds but read as seconds, otherwise doubtful.
    """
    low, high = _RATES_HZ
    if low <= rate_hz <= high:
        return []
    value = f"{rate_hz:.3g} Hz"
    key = "time_s, [lab] rate_hz"
    if low <= 1000 * rate_hz <= high and rate_hz < 2:
        what = "the frame rate is implausible for motion capture, but would be plausible if time_s were in milliseconds"
        return [Doubt("time", IMPOSSIBLE, key, what, value, "give time_s in seconds")]
    what = "the frame rate is implausible for motion capture"
    return [Doubt("time", DOUBTFUL, key, what, value, "check the times in the file, and rate_hz under [lab]")]


def check_ground(trial: Trial, body: Frames) -> list[Doubt]:
    """Return a doubt if the feet are not on the turf."""
    feet = [body.points[name][:, 1] for name in _FEET if name in body.points]
    if not feet or trial.setup.unit == "none":
        return []
    lows = np.fmin.reduce(np.stack(feet), axis=0)
    lows = lows[np.isfinite(lows)]
    lowest = float(np.median(lows)) if len(lows) else 0.0
    if _FEET_M[0] <= lowest <= _FEET_M[1]:
        return []
    what = f"the feet are {'below' if lowest < 0 else 'above'} the turf"
    return [Doubt("ground", DOUBTFUL, "[lab] ground", what, f"{100 * lowest:.0f} cm",
                  "give the height of the turf as ground under [lab], in the capture's unit")]  # fmt: skip


def check_ball(trial: Trial, body: Frames, found: Directions, impact_s: float) -> list[Doubt]:
    """Return doubts if the ball is not in front of the golfer, not within reach, or not at rest until impact.

    found : directions of body and club, from `find_directions`. impact_s : time of impact (s).
    """
    doubts = []
    feet = body.mean(_FEET)
    feet = None if feet is None else feet[np.isfinite(feet).all(axis=1)]
    if trial.ball_m is not None and feet is not None and len(feet) and trial.setup.unit != "none":
        away = trial.ball_m - feet.mean(axis=0)
        away[1] = 0.0
        key = "[ball] position" if trial.ball_method == "study" else "[landmarks] ball"
        if np.linalg.norm(away) > _FAR_BALL_M:
            what = f"the ball is more than {_FAR_BALL_M:g} m from the feet"
            doubts.append(Doubt("ball", DOUBTFUL, key, what, f"{np.linalg.norm(away):.1f} m", f"check {key}"))
        elif found.front is not None and trial.ball_method in ("marker", "study") and away @ found.front < 0:
            doubts.append(Doubt("ball", DOUBTFUL, key, "the ball is behind the golfer", do=f"check {key}"))
    if "ball" in trial.landmarks:
        doubts += _moved_ball(trial, impact_s)
    return doubts


def _moved_ball(trial: Trial, impact_s: float) -> list[Doubt]:
    """Return a doubt if the ball marker moves before impact, because the ball is carried or rolls."""
    ball = trial.point("ball", raw=True)
    last = int(impact_s * trial.rate_hz) - 2
    seen = ball[: max(0, last)]
    seen = seen[np.isfinite(seen).all(axis=1)]
    if len(seen) < 4:
        return []
    moved = float(np.linalg.norm(np.median(seen[:3], axis=0) - np.median(seen[-3:], axis=0)))
    if moved < _MOVED_M:
        return []
    what = f"the ball moves more than {100 * _MOVED_M:.0f} cm before impact"
    return [Doubt("ball", DOUBTFUL, "[landmarks] ball", what, f"{100 * moved:.0f} cm",
                  "check whether the ball was replaced, or whether its marker came off")]  # fmt: skip


def is_fast(trial: Trial) -> bool:
    """Return whether the clubhead is fast enough for a coarse estimate of the time of impact.

    In a slower swing, such as a putt, this estimate may only reflect noise.
    """
    head = trial.point("clubhead")
    span = max(2, round(0.02 * trial.rate_hz))
    far = np.linalg.norm(head[span:] - head[:-span], axis=1) * trial.rate_hz / span
    return bool(np.fmax.reduce(far, initial=0.0) > _FAST_MPS)


def check_passes(trial: Trial) -> list[Doubt]:
    """Return a doubt if the club passes the ball at speed more than once: a practice swing, or several swings."""
    if "clubhead" not in trial.landmarks:
        return []
    head = trial.point("clubhead")
    speed = np.linalg.norm(np.gradient(head, axis=0), axis=1) * trial.rate_hz
    seen = np.isfinite(speed)
    if seen.sum() < 5 or not np.nanmax(speed) > 1.0:
        return []
    low = np.nanmin(head[:, 1])
    ball = trial.ball_m
    near = head[:, 1] < low + _NEAR_M if ball is None else np.linalg.norm(head - ball, axis=1) < _NEAR_M
    top = float(np.nanpercentile(speed, 99.5))
    forward = np.gradient(head[:, 0]) > 0
    fast = np.flatnonzero(seen & near & forward & (speed > _FAST * top))
    if not len(fast):
        return []
    passes = 1 + int(np.sum(np.diff(fast) > _APART_S * trial.rate_hz))
    if passes == 1:
        return []
    what = "the club passes the ball's place at speed more than once: a practice swing, or several swings in one file"
    return [Doubt("passes", DOUBTFUL, "swings.csv from_s, to_s", what, f"{passes} times",
                  "give each swing its own row with from_s and to_s, or exclude this swing")]  # fmt: skip
