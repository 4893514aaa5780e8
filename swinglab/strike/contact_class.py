"""Points on the arc (ball contact, low point, turf entry) and the class of contact: fat, clean or thin."""

from __future__ import annotations

import numpy as np
from scipy.special import ndtr, owens_t

from swinglab.conventions import BALL_RADIUS_M, CONTACT_SURE, CONTACTS
from swinglab.strike.arc import Arc

#: Range of the arc, in radians, in which low point and turf entry are searched.
SEARCH = np.linspace(-1.0, 0.9, 96)


def reach_m(reference_behind_face_cm: float | None) -> float:
    """Return the distance (m) along the path from the landmark clubhead to the centre of the ball at impact.

    `reference_behind_face_cm` : distance of the landmark behind the face; None if unknown.
    """
    return BALL_RADIUS_M + (reference_behind_face_cm or 0.0) / 100


def find_contact_angle(arc: Arc, ball: np.ndarray, reach: float) -> tuple[float, float]:
    """Return the angle along the arc at impact, in rad, and the distance (m) of the ball from the path.

    `ball` : (3,) centre of the ball. `reach` : distance (m) of this centre from the landmark clubhead at impact, in the
    direction of motion of the clubhead. The returned distance is that of the centre of the ball from the tangent to the
    path at impact.
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
    """Return the angle along the arc (rad) of its lowest point; NaN if it is too far from the observed points."""
    rise = arc.curve(SEARCH, 1)[:, 1]
    turns = np.flatnonzero((rise[:-1] <= 0) & (rise[1:] > 0))
    if len(turns) == 0:
        return float("nan")
    i = turns[np.argmin(np.abs(SEARCH[turns]))]
    return _root(arc, float(SEARCH[i]), float(SEARCH[i + 1]), 1, 0.0)


def find_turf_angle(arc: Arc, low: float, height: float) -> float:
    """Return the angle along the arc (rad), before the low point, at which the clubhead descends to a height (m).

    `low` : angle of the low point. NaN if the clubhead never descends so far.
    """
    grid = np.append(SEARCH[low > SEARCH], low)
    above = arc.curve(grid)[:, 1] - height
    meets = np.flatnonzero((above[:-1] > 0) & (above[1:] <= 0))
    if len(meets) == 0:
        return float("nan")
    return _root(arc, float(grid[meets[0]]), float(grid[meets[0] + 1]), 0, height)


def _root(arc: Arc, low: float, high: float, derivative: int, level: float) -> float:
    """Angle between two bounds at which the height (or its slope) equals a level, by bracketed Newton steps."""
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
    """Return the probabilities of fat, clean and thin contact, in this order.

    `sole_before` : lowest height of the sole above the turf (m) on its path to the limit of fat contact, which is a
    given distance behind the ball. `sole_at_impact` : height of the sole at impact (m). `covariance` : (2, 2) of the
    errors of both heights, m^2. Contact is fat if sole_before is below 0, otherwise thin if sole_at_impact is above
    `thin_above` (m), otherwise clean.
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
    """Return the most probable class of contact, or "uncertain" if its probability is below `CONTACT_SURE`."""
    best = max(CONTACTS, key=lambda word: probabilities[word])
    return best if probabilities[best] >= CONTACT_SURE else "uncertain"
