"""Places on the arc: where ball and face meet, the low point, where the sole meets the turf; and the contact."""

from __future__ import annotations

import numpy as np
from scipy.special import ndtr, owens_t

from swinglab.conventions import BALL_RADIUS_M, CONTACT_SURE, CONTACTS
from swinglab.strike.arc import Arc

#: Range of the arc, in radians, in which low point and turf entry are looked for.
SEARCH = np.linspace(-1.0, 0.9, 96)


def reach_m(reference_behind_face_cm: float | None) -> float:
    """Distance from the clubhead's reference to the ball centre at impact, along the path."""
    return BALL_RADIUS_M + (reference_behind_face_cm or 0.0) / 100


def find_contact_angle(arc: Arc, ball: np.ndarray, reach: float) -> tuple[float, float]:
    """Angle at which the ball centre is `reach` ahead of the clubhead along its path, and the miss there (m).

    The miss is the distance of the ball centre from the path's straight continuation.
    """
    x = float(arc.angle_of(ball)) - reach / arc.radius
    for _ in range(30):
        place, velocity = arc.curves(x, 1)
        to_ball = ball - place
        speed = float(np.linalg.norm(velocity))
        step = (float(to_ball @ velocity) / speed - reach) / speed
        x += step
        if abs(step) < 1e-10:
            break
    place, direction = arc.curves(x, 1)
    direction /= np.linalg.norm(direction)
    to_ball = ball - place
    return x, float(np.linalg.norm(to_ball - (to_ball @ direction) * direction))


def find_low_angle(arc: Arc) -> float:
    """Angle of the lowest point of the arc; NaN where the arc has none within the search range."""
    rise = arc.curve(SEARCH, 1)[:, 1]
    turns = np.flatnonzero((rise[:-1] <= 0) & (rise[1:] > 0))
    if len(turns) == 0:
        return float("nan")
    i = turns[np.argmin(np.abs(SEARCH[turns]))]
    return _root(arc, float(SEARCH[i]), float(SEARCH[i + 1]), 1, 0.0)


def find_turf_angle(arc: Arc, low: float, height: float) -> float:
    """Angle before the low point at which the clubhead first falls to a height; NaN where it never does."""
    grid = np.append(SEARCH[low > SEARCH], low)
    above = arc.curve(grid)[:, 1] - height
    meets = np.flatnonzero((above[:-1] > 0) & (above[1:] <= 0))
    if len(meets) == 0:
        return float("nan")
    return _root(arc, float(grid[meets[0]]), float(grid[meets[0] + 1]), 0, height)


def _root(arc: Arc, low: float, high: float, derivative: int, level: float) -> float:
    """Where the height (or its slope) crosses a level, between two angles on either side: safe Newton."""
    rising = derivative == 1
    x = (low + high) / 2
    for _ in range(60):
        *_, place, change = arc.curves(x, derivative + 1)
        value = float(place[1]) - level
        if (value > 0) == rising:
            high = x
        else:
            low = x
        slope = float(change[1])
        ahead = x - value / slope if slope else low
        new = ahead if low < ahead < high else (low + high) / 2
        if abs(new - x) < 1e-12:
            return new
        x = new
    return x


def contact_probabilities(
    sole_before: float, sole_at_impact: float, covariance: np.ndarray, thin_above: float
) -> dict[str, float]:
    """Probabilities of fat, clean and thin contact, in that order.

    sole_before : height of the sole above the turf (m) at its lowest before the limit for fat. sole_at_impact
    : the same at impact. covariance : (2, 2) of the two, m^2. Fat where the first is below 0; else thin where
    the second is above `thin_above`; else clean.
    """
    spread = np.sqrt(np.diag(covariance))
    fat = float(ndtr(-sole_before / spread[0]))
    unsure = covariance + 1e-12 * np.eye(2)
    spread = np.sqrt(np.diag(unsure))
    both = _both_below(
        sole_before / spread[0],
        (sole_at_impact - thin_above) / spread[1],
        unsure[0, 1] / (spread[0] * spread[1]),
    )
    thin = float(np.clip(both, 0.0, 1.0 - fat))
    return {"fat": fat, "clean": max(1.0 - fat - thin, 0.0), "thin": thin}


def _both_below(h: float, k: float, correlation: float) -> float:
    """Probability that two standard normal variables lie below h and k, by the T function (Owen 1956)."""
    h, k = h or 1e-300, k or 1e-300
    across = np.sqrt(1 - correlation**2)
    by_t = owens_t(h, (k / h - correlation) / across) + owens_t(k, (h / k - correlation) / across)
    return float((ndtr(h) + ndtr(k)) / 2 - by_t - (0.5 if h * k < 0 or (h * k == 0 and h + k < 0) else 0.0))


def contact_class(probabilities: dict[str, float]) -> str:
    """The contact that is sure enough, or `uncertain`."""
    best = max(CONTACTS, key=lambda word: probabilities[word])
    return best if probabilities[best] >= CONTACT_SURE else "uncertain"
