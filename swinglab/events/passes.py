"""Choice of the strike among several passes of the clubhead by the ball, such as practice swings."""

from __future__ import annotations

from dataclasses import dataclass

from swinglab.conventions import BALL_LANDMARK
from swinglab.records import Trial
from swinglab.signals import find_departure

#: Largest time (s) between a pass of the clubhead and the departure of the ball that it caused.
TOGETHER_S = 0.03
#: If the ball was not seen to leave, the last pass with at least this share of the fastest pass's speed is used.
AS_FAST = 0.8


@dataclass(frozen=True, slots=True)
class Pass:
    """One motion of the clubhead past the ball.

    before : index of the last frame before it passes the ball. time_s, next_s : times of this frame and of the next
    frame in which the clubhead is visible. speed_mps : speed of the clubhead, m/s.
    """

    before: int
    time_s: float
    next_s: float
    speed_mps: float


def choose_passes(trial: Trial, passes: list[Pass]) -> tuple[list[Pass], str]:
    """Return the passes of the clubhead by the ball, the most probable strike first, and a note.

    If the marker of the ball shows when the ball moves away, only the passes at that time are returned, the fastest
    first. Otherwise the last of the fast passes comes first, because practice swings precede the strike. If no pass
    moved the ball, the list is empty. The note gives the reason for an empty list or, with several passes, says how the
    first was chosen; otherwise it is "".
    """
    ball = None
    if trial.ball_method == "marker" and trial.has(BALL_LANDMARK):
        ball = find_departure(trial.point(BALL_LANDMARK, raw=True), trial.rate_hz)
    if ball is None:
        return _last_fast(passes)
    left = float(trial.time_s[ball.last_rest])
    if ball.stays:
        later = [one for one in passes if one.next_s > left - TOGETHER_S]
        if later:  # the ball is not seen after these passes, so it may have left
            return _last_fast(later)
        return [], f"no strike: the ball does not move, although the clubhead passes it {_when(passes)}"
    if ball.first_away is None:
        later = [one for one in passes if one.next_s > left - TOGETHER_S]
        return _last_fast(later or passes)
    away = float(trial.time_s[ball.first_away])
    struck = [one for one in passes if one.next_s > left - TOGETHER_S and one.time_s < away + TOGETHER_S]
    if not struck:
        return [], (
            f"no strike: the ball moves away at {away:.2f} s, but the clubhead passes it {_when(passes)}: "
            "check whether the ball was moved by hand"
        )
    by_speed = sorted(struck, key=lambda one: -one.speed_mps)
    return by_speed, _several(passes, by_speed[0], "the pass at which the ball moves away is used")


def _last_fast(passes: list[Pass]) -> tuple[list[Pass], str]:
    fastest = max(one.speed_mps for one in passes)
    fast = [one for one in passes if one.speed_mps >= AS_FAST * fastest]
    order = [*reversed(fast), *(one for one in reversed(passes) if one not in fast)]
    return order, _several(passes, order[0], "the last fast pass is used; check that it is the strike")


def _several(passes: list[Pass], taken: Pass, words: str) -> str:
    # Slow passes before the swing are waggles and are not mentioned.
    fast = [one for one in passes if one.speed_mps >= AS_FAST / 2 * taken.speed_mps]
    return f"the clubhead passes the ball {_when(fast)}: {words}" if len(fast) > 1 else ""


def _when(passes: list[Pass]) -> str:
    times = [f"{(one.time_s + one.next_s) / 2:.2f}" for one in passes]
    return f"{len(times)} times (at {', '.join(times)} s)" if len(times) > 1 else f"at {times[0]} s"
