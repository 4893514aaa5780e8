"""Extrapolation of the path of the clubhead to the ball, from samples before contact and at most one after it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from swinglab.signals import LocalPolynomial, fit_local_polynomial

#: Order of the polynomial in time over the last frames before contact, fewest frames, and duration in seconds. For a
#: slow clubhead the fit covers LENGTH_M of path, but at most LONGEST_S.
ORDER, FEWEST, LENGTH_S = 4, 6, 0.036
LENGTH_M, LONGEST_S = 1.2, 0.1
#: A sample farther than both limits from the path through the others is an outlier (a ghost marker).
STRAY_M, STRAY_NOISES = 0.02, 8.0
#: Share of the clubhead's speed that remains after contact, and its standard deviation over players, clubs and turf.
#: The share lost to the ball is 1.33 to 1.48 times the mass of the ball divided by the mass of the head: 0.23 for an
#: iron, 0.34 for a driver, 0 for a miss.
SPEED_KEPT, SPEED_KEPT_SE = 0.78, 0.05


@dataclass(frozen=True, slots=True, eq=False)
class Path:
    """Samples of the clubhead in the frames in which it is visible, and the position of the ball.

    time_s : (n,). points_m : (n, 3) positions of the landmark clubhead. noise_m : SD of the noise of one coordinate.
    ball_m : (3,) centre of the ball. reach_m : distance along the path from the landmark clubhead to the centre of the
    ball at contact.
    """

    time_s: np.ndarray
    points_m: np.ndarray
    noise_m: float
    ball_m: np.ndarray
    reach_m: float

    def fit(self, chosen: np.ndarray, order: int, time_s: np.ndarray | None = None) -> LocalPolynomial:
        """Fit a polynomial in time to the samples with indices `chosen`; `time_s`, if given, replaces their times."""
        times = self.time_s[chosen] if time_s is None else time_s
        noise = np.full(len(chosen), self.noise_m)
        return fit_local_polynomial(times, self.points_m[chosen], noise, float(times[-1]), order)


@dataclass(frozen=True, slots=True)
class Reached:
    """Point of the extrapolated path at which the clubhead reaches the ball.

    time_s : time at which the clubhead is there. speed_mps : its speed there, m/s. beside_m : distance of the centre of
    the ball from the tangent to the path there, m. error_s : standard error of the time. words : text on the method.
    """

    time_s: float
    speed_mps: float
    beside_m: float
    error_s: float
    words: str


def last_undisturbed(path: Path, before_s: float, margin_m: float) -> int:
    """Return the index of the last sample at or before `before_s` in which the clubhead has not reached the ball.

    `margin_m` : smallest distance (m) along the path that the clubhead must still have to contact in this sample.
    """
    last = int(np.searchsorted(path.time_s, before_s + 1e-9)) - 1
    while last > 0:
        way = path.points_m[last] - path.points_m[last - 1]
        left = (path.ball_m - path.points_m[last]) @ way / np.linalg.norm(way)
        if left > path.reach_m + margin_m:
            break
        last -= 1
    return last


def reach_ball(path: Path, last: int, rate_hz: float) -> Reached | None:
    """Extrapolate the path of the clubhead from the last sample before contact to the ball; None if it is not reached.

    `last` : index of the last sample before contact. If there are too few samples shortly before contact, and the
    clubhead is visible in the frame after contact, this frame is used as well.
    """
    recent = np.arange(last + 1)
    speed = np.linalg.norm(path.points_m[last] - path.points_m[last - 1]) / np.diff(path.time_s)[last - 1]
    length = float(np.clip(LENGTH_M / speed, LENGTH_S, LONGEST_S))
    lately = int((path.time_s[last] - path.time_s[recent] <= length).sum())
    next_seen = last + 1 < len(path.time_s) and path.time_s[last + 1] - path.time_s[last] < 1.5 / rate_hz
    if lately < FEWEST and next_seen and last >= ORDER:
        return _over_one_after(path, last)
    chosen = recent[-max(lately, min(FEWEST, last + 1)) :]
    stray = _stray(path, chosen)
    if stray is not None:
        kept = np.delete(np.arange(len(path.time_s)), stray)
        path = Path(path.time_s[kept], path.points_m[kept], path.noise_m, path.ball_m, path.reach_m)
        return reach_ball(path, last - 1, rate_hz)
    return _continued(path, chosen, rate_hz)


def _stray(path: Path, chosen: np.ndarray) -> int | None:
    """Index of an outlier (a ghost marker) far from the path through the other samples, or None."""
    # One order lower, because a stiffer fit is less affected by an outlier in the last sample.
    fit = path.fit(chosen, min(ORDER - 1, len(chosen) - 2))
    time = path.time_s[chosen]
    off = np.linalg.norm(path.points_m[chosen] - fit.at(time), axis=1)
    # Leave-one-out residual: the residual divided by 1 minus its leverage.
    own = fit.unit_variance_at(time) if fit.noise > 0 else np.zeros(len(time))
    own_residual = off / np.sqrt(np.maximum(1 - own, 1e-3))
    worst = int(np.argmax(own_residual))
    rest = np.delete(own_residual, worst)
    largest = own_residual[worst]
    far = largest > max(STRAY_M, STRAY_NOISES * path.noise_m) and largest > 3 * np.median(rest)
    return int(chosen[worst]) if far and len(chosen) > FEWEST else None


def _continued(path: Path, chosen: np.ndarray, rate_hz: float) -> Reached | None:
    """Extrapolate the path through the chosen samples to the ball; None if it misses.

    Across a gap, the polynomial with the smaller error of two orders is used.
    """
    reached = _continued_by(path, chosen, min(ORDER, len(chosen) - 2), rate_hz)
    if reached is None or reached.time_s - path.time_s[chosen[-1]] < 1.5 / rate_hz:
        return reached
    # Across a gap a polynomial of lower order may have the smaller error.
    stiffer = _continued_by(path, chosen, min(ORDER, len(chosen) - 2) - 1, rate_hz)
    return stiffer if stiffer is not None and stiffer.error_s < reached.error_s else reached


def _continued_by(path: Path, chosen: np.ndarray, order: int, rate_hz: float) -> Reached | None:
    fit = path.fit(chosen, order)
    time = _solve(path, fit, fit.last_s)
    if not np.isfinite(time):
        return None
    speed, beside = _passing(path, fit, time)
    error = float(np.hypot(fit.error_at(time), _model_error_m(path, chosen, order, time, rate_hz)))
    return Reached(time, speed, beside, error / speed, "path before contact reaches the ball")


def _over_one_after(path: Path, last: int) -> Reached | None:
    """Use the samples before contact and one after it, with the time of the latter corrected for the loss of speed.

    Without a ball the head would have been there earlier: at contact + (time since contact) x share of speed kept.
    The error includes noise, the uncertainty of this share, and the order of the polynomial. None if the path misses.
    """
    solved = [
        _bridged(path, last, order, kept)
        for order, kept in (
            (ORDER, SPEED_KEPT), (ORDER, SPEED_KEPT - SPEED_KEPT_SE), (ORDER, SPEED_KEPT + SPEED_KEPT_SE),
            (ORDER - 1, SPEED_KEPT),
        )
    ]  # fmt: skip
    if any(answer is None for answer in solved):
        return None
    (time, fit), (slower, _), (faster, _), (lower, _) = (answer for answer in solved if answer is not None)
    speed, beside = _passing(path, fit, time)
    by_noise = fit.error_at(time) / speed
    error = float(np.sqrt(by_noise**2 + ((faster - slower) / 2) ** 2 + (lower - time) ** 2))
    return Reached(time, speed, beside, error, "path before contact and one frame after reaches the ball")


def _bridged(path: Path, last: int, order: int, kept: float) -> tuple[float, LocalPolynomial] | None:
    """Time of contact, and the fitted polynomial, if the head keeps the share `kept` of its speed; None if it misses.

    The corrected time of the sample after contact depends on the time of contact, so both are found by iteration.
    """
    chosen = np.arange(last - order + 1, last + 2)
    times = path.time_s[chosen]
    contact = float(times[-2:].mean())
    for _ in range(100):
        undisturbed = np.append(times[:-1], contact + kept * (times[-1] - contact))
        fit = path.fit(chosen, order, undisturbed)
        found = _solve(path, fit, contact)
        if not np.isfinite(found):
            return None
        found = float(np.clip(found, times[-2], times[-1]))
        if abs(found - contact) < 1e-8:
            return found, fit
        contact = found
    return None


def _solve(path: Path, fit: LocalPolynomial, start_s: float) -> float:
    """Time at which the ball is `reach_m` ahead along the path; NaN if there is none within 0.2 s of `start_s`."""
    time = start_s
    for _ in range(30):
        way = fit.at(time, 1)
        speed = float(np.linalg.norm(way))
        moved = (float((path.ball_m - fit.at(time)) @ way) / speed - path.reach_m) / speed
        time += moved
        if abs(moved) < 1e-9:
            return time
        if abs(time - start_s) > 0.2:
            break
    return float("nan")


def _passing(path: Path, fit: LocalPolynomial, time_s: float) -> tuple[float, float]:
    """Speed (m/s) of the clubhead at a time, and distance (m) of the ball's centre from the tangent to its path."""
    way = fit.at(time_s, 1)
    speed = float(np.linalg.norm(way))
    aside = path.ball_m - fit.at(time_s)
    return speed, float(np.linalg.norm(aside - (aside @ way) / speed**2 * way))


def _model_error_m(path: Path, chosen: np.ndarray, order: int, contact_s: float, rate_hz: float) -> float:
    """Model error (m, along the path) of the extrapolation to contact.

    The same polynomial, fitted one and two frames earlier, predicts a frame that is known. The part of its error that
    noise does not explain is model error, which grows with the distance of extrapolation as the next power of time.
    """
    squares = []
    for back in (1, 2):
        target = int(chosen[-1]) + 1 - back
        earlier = np.arange(target - len(chosen), target)
        if earlier[0] < 0:
            break
        fit = path.fit(earlier, order)
        time = float(path.time_s[target])
        way = fit.at(time, 1)
        off = float((path.points_m[target] - fit.at(time)) @ way / np.linalg.norm(way))
        squares.append(off**2 - fit.error_at(time) ** 2 - path.noise_m**2)
    if not squares:
        return 0.5 * float(np.linalg.norm(path.points_m[chosen[-1]] - path.points_m[chosen[-2]]))
    times = path.time_s[chosen]
    growth = _next_power(times, order, np.array([contact_s, times[-1] + 1 / rate_hz]))
    return float(np.sqrt(max(float(np.mean(squares)), 0.0)) * abs(growth[0] / growth[1]))


def _next_power(times: np.ndarray, order: int, at: np.ndarray) -> np.ndarray:
    """Residual, at the times `at`, of the next power of time after a polynomial fit of this order at `times`."""
    centre, scale = times.mean(), np.ptp(times) / 2
    x, new = (times - centre) / scale, (at - centre) / scale
    power = np.polynomial.polynomial.polyfit(x, x ** (order + 1), order)
    return new ** (order + 1) - np.polynomial.polynomial.polyval(new, power)
