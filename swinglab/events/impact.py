"""Impact: when the clubhead's path, as it was before the ball disturbed it, reaches the ball."""

from __future__ import annotations

import numpy as np

from swinglab.conventions import BALL_RADIUS_M
from swinglab.events.answers import missing
from swinglab.events.lines import noise_of
from swinglab.events.localfit import LocalFit, fit_local
from swinglab.records import Event, Trial

#: A path that passes further from the ball's centre strikes nothing.
NEAR_M = 0.05
#: How far the clubhead's reference may lie from the face where the study does not say (a judgement).
REFERENCE_SE_M = 0.015
#: A polynomial of this order in time over the last frames before contact: at least so many, or so long.
ORDER, FEWEST, LENGTH_S = 4, 6, 0.036
#: A pass slower than this share of the clubhead's greatest speed is a waggle over the ball, not the strike.
SHARE_OF_TOP_SPEED = 0.5
SLOWEST_MPS = 0.5
LONGEST_BLIND_S = 0.03


def find_impact(trial: Trial) -> Event:
    """When the clubhead's reference is one ball radius (and what it lies behind the face) short of the ball.

    The distance is measured along the path; the path is a polynomial of fourth order in time, fitted to the
    unfiltered samples before contact alone and continued to it, because the frames after contact are
    disturbed. Its standard error holds the samples' noise, the ball's and the reference's uncertainty, and
    the model's own error, measured by letting it predict the last frames before contact from those before.
    """
    if not trial.has("clubhead"):
        return missing("impact", "no clubhead: mark impact by hand, or name an event of the file")
    if trial.ball_m is None:
        return missing(
            "impact", "the ball's place is not known: no ball marker, none in the study, no address"
        )
    start = _find_pass(trial)
    if isinstance(start, str):
        return missing("impact", start)
    return _contact(trial, start)


def _find_pass(trial: Trial) -> int | str:
    """The last frame before the clubhead goes by the ball at speed, or why there is no such pass."""
    time, head = trial.time_s, trial.point("clubhead")
    there = np.flatnonzero(np.isfinite(head).all(axis=1))
    if len(there) < FEWEST:
        return "the clubhead is seen in too few frames"
    step = np.diff(head[there], axis=0)
    lasted = np.diff(time[there])
    length = np.linalg.norm(step, axis=1)
    way = step / np.where(length > 0, length, np.nan)[:, None]
    before = np.einsum("ni,ni->n", trial.ball_m - head[there[:-1]], way)
    after = np.einsum("ni,ni->n", trial.ball_m - head[there[1:]], way)
    beside = np.linalg.norm(trial.ball_m - head[there[:-1]] - before[:, None] * way, axis=1)
    speed = length / lasted
    top = _without_strays(speed)
    passes = (before > 0) & (after <= 0) & (way[:, 0] > 0) & (lasted <= 0.1)
    # A chord lies inside its arc, so this first look is generous; the fitted path decides.
    near = passes & (beside <= NEAR_M + np.maximum(0.05, length**2 / 4))
    fast = near & (speed >= max(SHARE_OF_TOP_SPEED * top, SLOWEST_MPS))
    if not fast.any():
        return _no_pass(near, passes & (speed >= SHARE_OF_TOP_SPEED * top), beside, speed, top)
    found = np.flatnonzero(fast)
    if trial.contact_time_s is not None:
        best = found[np.argmin(np.abs(time[there[found]] - trial.contact_time_s))]
    else:
        best = found[np.argmax(speed[found])]
    return int(there[best])


def _without_strays(speed: np.ndarray) -> float:
    """The greatest speed that holds for two steps in a row: a ghost marker makes one step alone."""
    return float(np.minimum(speed[:-1], speed[1:]).max())


def _no_pass(near: np.ndarray, fast: np.ndarray, beside: np.ndarray, speed: np.ndarray, top: float) -> str:
    if fast.any():
        return f"no strike: the clubhead's path passes {100 * beside[fast].min():.0f} cm from the ball"
    if near.any():
        return (
            f"no strike: the clubhead passes the ball at {speed[near].max():.1f} m/s at most, while its greatest "
            f"speed is {top:.1f} m/s"
        )
    return "no strike: the clubhead does not pass the ball"


def _contact(trial: Trial, before: int) -> Event:
    ball = np.asarray(trial.ball_m)
    reach = BALL_RADIUS_M + (trial.setup.reference_behind_face_cm or 0.0) / 100
    unsure = _place_error(trial)
    head, time = trial.point("clubhead", raw=True), trial.time_s
    chosen = _last_undisturbed(head, time, before, ball, reach + unsure / 2)
    if len(chosen) < 4:
        return missing("impact", "the clubhead is not seen in enough frames before contact")
    noise = noise_of(trial, "clubhead")
    fit = _fit(time, head, chosen, noise)
    contact, speed, beside = _reach_ball(fit, ball, reach)
    if not np.isfinite(contact) or contact - fit.last_s > max(LONGEST_BLIND_S, 2.5 / trial.rate_hz):
        return missing("impact", "the clubhead is not seen in the last frames before contact")
    if beside > NEAR_M:
        return missing("impact", f"no strike: the clubhead's path passes {100 * beside:.1f} cm from the ball")
    model = _model_error_m(time, head, chosen, noise, contact, trial.rate_hz)
    error = np.sqrt(fit.error_at(contact) ** 2 + unsure**2 + model**2) / speed
    return Event("impact", contact, float(error), _method(trial), _note(trial))


def _place_error(trial: Trial) -> float:
    """Metres, along the path, by which the contact's place is not known."""
    return float(np.hypot(trial.ball_se_m, REFERENCE_SE_M if _reference_unknown(trial) else 0.0))


def _reference_unknown(trial: Trial) -> bool:
    # A ball placed from the clubhead at address holds the same offset, which then cancels.
    return trial.setup.reference_behind_face_cm is None and trial.ball_method != "ball_from_address"


def _last_undisturbed(
    head: np.ndarray, time: np.ndarray, before: int, ball: np.ndarray, reach: float
) -> np.ndarray:
    """Indices of the samples to fit: the last ones that had not reached the ball, along their own way."""
    seen = np.flatnonzero(np.isfinite(head).all(axis=1))
    seen = seen[seen <= before + 1]
    while len(seen) > 2:
        way = head[seen[-1]] - head[seen[-2]]
        if seen[-1] <= before and (ball - head[seen[-1]]) @ way > reach * np.linalg.norm(way):
            break
        seen = seen[:-1]
    if len(seen) < 4:
        return seen
    number = max(FEWEST, int((time[seen[-1]] - time[seen] <= LENGTH_S).sum()))
    recent = seen[-number:]
    return recent[time[seen[-1]] - time[recent] <= max(2 * LENGTH_S, 8 * np.diff(time[:2])[0])]


def _fit(time: np.ndarray, head: np.ndarray, chosen: np.ndarray, noise: float) -> LocalFit:
    order = min(ORDER, len(chosen) - 2)
    return fit_local(time[chosen], head[chosen], np.full(len(chosen), noise), float(time[chosen[-1]]), order)


def _reach_ball(fit: LocalFit, ball: np.ndarray, reach: float) -> tuple[float, float, float]:
    """(time, speed, distance of the path from the ball's centre) where the ball is `reach` ahead."""
    time = fit.last_s
    for _ in range(30):
        way = fit.at(time, 1)
        speed = float(np.linalg.norm(way))
        left = float((ball - fit.at(time)) @ way / speed)
        moved = (left - reach) / speed
        time += moved
        if abs(moved) < 1e-9:
            aside = ball - fit.at(time)
            return time, speed, float(np.linalg.norm(aside - (aside @ way) / speed**2 * way))
        if abs(time - fit.last_s) > 0.2:
            break
    return float("nan"), float("nan"), float("nan")


def _model_error_m(
    time: np.ndarray, head: np.ndarray, chosen: np.ndarray, noise: float, contact: float, rate: float
) -> float:
    """Metres along the path by which the polynomial itself may be off at contact.

    The same polynomial, fitted one and two frames earlier, predicts a frame that is known; what noise does
    not explain of its error is the model's, and grows with distance as the next power of time would.
    """
    seen = np.flatnonzero(np.isfinite(head).all(axis=1))
    seen = seen[seen <= chosen[-1]]
    squares = []
    for back in (1, 2):
        earlier = seen[-len(chosen) - back : -back]
        if len(earlier) < len(chosen):
            break
        target = seen[len(seen) - back]
        fit = _fit(time, head, earlier, noise)
        way = fit.at(time[target], 1)
        off = float((head[target] - fit.at(time[target])) @ way / np.linalg.norm(way))
        squares.append(off**2 - fit.error_at(time[target]) ** 2 - noise**2)
    if not squares:
        return 0.5 * float(np.linalg.norm(head[chosen[-1]] - head[chosen[-2]]))
    order = min(ORDER, len(chosen) - 2)
    growth = _next_power(time[chosen], order, np.array([contact, time[chosen[-1]] + 1 / rate]))
    return float(np.sqrt(max(float(np.mean(squares)), 0.0)) * abs(growth[0] / growth[1]))


def _next_power(time: np.ndarray, order: int, at: np.ndarray) -> np.ndarray:
    """What a polynomial of this order, fitted at `time`, leaves of the next power, at other times."""
    centre, scale = time.mean(), np.ptp(time) / 2
    x, new = (time - centre) / scale, (at - centre) / scale
    power = np.polynomial.polynomial.polyfit(x, x ** (order + 1), order)
    return new ** (order + 1) - np.polynomial.polynomial.polyval(new, power)


def _method(trial: Trial) -> str:
    ball = {"marker": "ball marker", "study": "ball's place from the study"}
    return f"path before contact reaches the ball ({ball.get(trial.ball_method, trial.ball_method)})"


def _note(trial: Trial) -> str:
    if _reference_unknown(trial):
        return "how far the clubhead's marker lies behind the face is not known: taken as 0, error widened"
    return ""
