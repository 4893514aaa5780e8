"""Impact of the simulated club with the ball: its time, the effect on the clubhead, and the start of the ball."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from scipy.interpolate import BSpline, make_interp_spline
from scipy.optimize import brentq, fsolve

from swinglab.conventions import BALL_RADIUS_M, FARTHEST_STRIKE_M
from swinglab.errors import BadRequest
from swinglab.simulate.linkage import Collision, Mover, move

BALL_AT_REST_M = np.array([0.0, BALL_RADIUS_M, 0.0])
#: Time step of finite differences.
STEP_S = 1e-5
#: Time span around nominal impact in which the path of the clubhead is evaluated.
PATH_S = (-0.09, 0.075)
#: Distance (m) from its position at rest at which the ball leaves the view.
SEEN_M = 1.5


def head_path(mover: Mover) -> BSpline:
    """Return the path of the clubhead around impact, as it would be without the ball, as a function of time.

    The function takes times (n,) in s from nominal impact and returns positions (n, 3) in m. It is a quintic spline
    through exact positions half a millisecond apart. Nominal impact is the time of impact of the golfer's habitual
    swing.
    """
    time = np.linspace(*PATH_S, 331)
    return make_interp_spline(time, move(mover.undisturbed(), time).clubhead, k=5)


def find_impact(path: BSpline) -> float:
    """Return the time of impact in s from nominal impact.

    At this time the face is one ball radius from the centre of the ball, measured along the path. Raises BadRequest if
    the path passes more than 5 cm from the ball. Nominal impact is the time of impact of the golfer's habitual swing.
    """
    course = path.derivative()

    def short_of(time_s: float) -> float:
        velocity = course(time_s)
        return float((BALL_AT_REST_M - path(time_s)) @ velocity / np.linalg.norm(velocity)) - BALL_RADIUS_M

    grid = np.linspace(-0.03, 0.03, 61)
    heads, way = path(grid), course(grid)
    way /= np.linalg.norm(way, axis=1, keepdims=True)
    left = np.einsum("ni,ni->n", BALL_AT_REST_M - heads, way) - BALL_RADIUS_M
    passed = np.flatnonzero((left[:-1] > 0) & (left[1:] <= 0))
    if not len(passed):
        raise BadRequest(
            "the clubhead does not reach the ball in this simulated swing", do="change the posture by less"
        )
    k = max(int(passed[0]), 1)
    time = float(brentq(short_of, grid[k - 1], grid[min(k + 2, 60)], xtol=1e-12))
    place, velocity = path(time), course(time)
    direction = velocity / np.linalg.norm(velocity)
    beside = BALL_AT_REST_M - place - ((BALL_AT_REST_M - place) @ direction) * direction
    if np.linalg.norm(beside) > FARTHEST_STRIKE_M:
        raise BadRequest(
            f"the clubhead misses the ball by {100 * np.linalg.norm(beside):.1f} cm in this simulated swing",
            do="change the posture by less, or increase the compensation by the hands",
        )
    return time


def collide(mover: Mover, time_s: float, *, speed_loss: float, turn_deg: float) -> Mover:
    """Return a swing in which impact at `time_s` slows and deflects the clubhead.

    Nominal impact is the time of impact of the golfer's habitual swing.

    Parameters
    ----------
    mover : Mover
        The swing without the effect of impact.
    time_s : float
        Time of impact, in s from nominal impact.
    speed_loss : float
        Share of clubhead speed that is lost at impact (0.0459 kg x 1.33 / 0.27 kg = 0.23 for an iron, by conservation
        of momentum).
    turn_deg : float
        Change of direction of the path out of its plane, positive upward and away from the golfer.
    """
    with_ball = replace(mover, collision=Collision(time_s, 0.0, 0.0))

    def leaving(slowed: float, across: float) -> np.ndarray:
        hit = replace(with_ball, collision=Collision(time_s, slowed, across))
        at, after = move(hit, np.array([time_s, time_s + STEP_S])).clubhead
        return (after - at) / STEP_S

    free = leaving(0.0, 0.0)
    speed = float(np.linalg.norm(free))
    by_shaft, by_across = free - leaving(1.0, 0.0), leaving(0.0, 1.0) - free
    ahead = free / speed
    side = by_across - (by_across @ ahead) * ahead
    side /= np.linalg.norm(side)

    def miss(x: np.ndarray) -> list[float]:
        after = free - x[0] * by_shaft + x[1] * by_across
        turned = np.degrees(np.arctan2(after @ side, after @ ahead))
        return [np.linalg.norm(after) / speed - (1 - speed_loss), turned - turn_deg]

    slowed, across = (float(value) for value in fsolve(miss, [speed_loss, 0.0], xtol=1e-12))
    return replace(mover, collision=Collision(time_s, slowed, across))


def ball_path(time_s: np.ndarray, impact_s: float, velocity: np.ndarray, loft_deg: float) -> np.ndarray:
    """Return the position of the centre of the ball, (n, 3), m: at rest until impact, then in flight; NaN out of view.

    `velocity` : (3,) velocity of the clubhead at impact, m/s. The ball starts with 1.33 times the speed of the
    clubhead, horizontally in the direction of its path, and upward at an angle of 60 % of the loft (an assumption).
    Spin and air resistance are not included, because the ball is visible only up to a distance of `SEEN_M`.
    """
    points = np.tile(BALL_AT_REST_M, (len(time_s), 1))
    heading = np.arctan2(velocity[2], velocity[0])
    rise = np.radians(0.6 * loft_deg)
    way = np.array([np.cos(rise) * np.cos(heading), np.sin(rise), np.cos(rise) * np.sin(heading)])
    flown = 1.33 * np.linalg.norm(velocity) * np.maximum(time_s - impact_s, 0.0)
    points += flown[:, None] * way
    points[flown > SEEN_M] = np.nan
    return points
