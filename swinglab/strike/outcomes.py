"""Quantities of the strike from an arc, with the covariance of their errors (delta method).

The sources of error are the coefficients of the arc, the position of impact along the path, the position of the ball,
the height of the sole, and the angular velocity along the arc.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from swinglab.signals import principal_axes
from swinglab.strike.arc import Arc
from swinglab.strike.contact_class import find_turf_angle

#: Sources of error in addition to the arc's coefficients, in this order: position of impact along the path, position of
#: the ball along the target line, height of the sole, angular velocity along the arc, and tilt of the plane toward its
#: axes of largest and of smallest extent.
SOURCES = ("along", "ball", "sole", "rate", "lengthwise", "crosswise")


#: Degree of the polynomial in time that is fitted to the clubhead from shaft_horizontal_down to impact. Without noise,
#: the planes of simulated ellipses, circles with a moving centre, and levers are then accurate to 0.001 deg. A higher
#: degree would pass more noise.
PLANE_DEGREE = 4


@dataclass(frozen=True, slots=True)
class Plane:
    """The plane of the path of the clubhead before impact.

    normal : (3,) unit vector, upward and away from the golfer. axes : (2, 3) unit vectors of the directions of largest
    and smallest extent of the path in the plane. tilt_sd : (2,) standard error (rad) of the direction of the normal,
    for tilts toward each of these axes.
    """

    normal: np.ndarray
    axes: np.ndarray
    tilt_sd: np.ndarray


@dataclass(frozen=True, slots=True)
class Situation:
    """Impact, ball, sole and plane of a swing, for computing the strike from its arc; None or NaN if not known.

    contact : angle along the arc at impact, rad. along_sd : standard error of the position of impact along the path, m,
    without the error of the ball. ball_x, ball_sd : position of the ball along the target line and its standard error,
    m. ball_sets_contact : whether the position of impact was determined from the position of the ball. address_height,
    sole_sd : height of the landmark clubhead with the sole on the turf, and its standard error, m. rate, rate_sd :
    angular velocity along the arc and its standard error, rad/s. lead_heel_x : position of the lead heel along the
    target line, m. plane : plane of the clubhead before impact.
    """

    contact: float
    along_sd: float
    ball_x: float
    ball_sd: float
    ball_sets_contact: bool
    address_height: float
    sole_sd: float
    rate: float
    rate_sd: float
    lead_heel_x: float = float("nan")
    plane: Plane | None = None


@dataclass(slots=True)
class Outcomes:
    """Quantities of the strike and, for error propagation, their derivatives with respect to m sources of error.

    covariance : (m, m) of the sources of error (see `source_covariance`). values : name -> value, in the unit of its
    column. rows : name -> derivatives, (m,).
    """

    covariance: np.ndarray
    values: dict[str, float] = field(default_factory=dict)
    rows: dict[str, np.ndarray] = field(default_factory=dict)

    def add(self, name: str, value: float, row: np.ndarray, scale: float = 1.0) -> None:
        """Add a quantity and its derivatives (`row`) by the sources of error, both multiplied by `scale`."""
        self.values[name] = float(value) * scale
        self.rows[name] = row * scale

    def covariance_of(self, names: tuple[str, ...]) -> np.ndarray:
        """Return the covariance matrix (k, k) of the errors of k quantities."""
        rows = np.array([self.rows[name] for name in names]).reshape(len(names), len(self.covariance))
        return rows @ self.covariance @ rows.T

    def error(self, name: str) -> float:
        """Return the standard error of a quantity, in its unit."""
        return float(np.sqrt(self.covariance_of((name,))[0, 0]))


def source_covariance(arc: Arc, situation: Situation) -> np.ndarray:
    """Return the covariance matrix of all sources of error: the coefficients of the arc, then those in `SOURCES`."""
    k = arc.mean.shape[1]
    full = np.zeros((2 * k + len(SOURCES),) * 2)
    for c in range(2):
        full[c * k : (c + 1) * k, c * k : (c + 1) * k] = arc.covariance[c]
    tilts = (np.nan, np.nan) if situation.plane is None else situation.plane.tilt_sd
    further = (situation.along_sd, situation.ball_sd, situation.sole_sd, situation.rate_sd, *tilts)
    full[2 * k :, 2 * k :] = np.diag(np.nan_to_num(further) ** 2)
    return full


def _row(by_terms: np.ndarray, further: Mapping[str, float] | None = None) -> np.ndarray:
    """Derivatives by all sources of error: by the arc's coefficients, then by those in `SOURCES` (0 if not given)."""
    row = np.concatenate([by_terms, np.zeros(len(SOURCES))])
    for name, slope in (further or {}).items():
        row[len(by_terms) + SOURCES.index(name)] = slope
    return row


def add_delivery(out: Outcomes, arc: Arc, situation: Situation) -> np.ndarray:
    """Add clubhead speed, attack angle and path at impact to `out`.

    Returns the derivatives (m,) of the angle along the arc at impact by the m sources of error.
    """
    x = situation.contact
    _, first, second = arc.curves(x, 2)
    size = float(np.linalg.norm(first))
    direction = first / size
    # The point of contact is fixed in space. If the arc changes, the angle of contact changes accordingly.
    moved = _row(-(direction @ arc.slope_by_terms(x)) / size, {"along": 1 / size})
    if situation.ball_sets_contact:
        moved[-len(SOURCES) + SOURCES.index("ball")] = direction[0] / size
    velocity = _with(arc.slope_by_terms(x, 1)) + np.outer(second, moved)
    turned = (velocity - np.outer(direction, direction @ velocity)) / size
    level = float(np.hypot(direction[0], direction[2]))
    degrees = 180 / np.pi
    out.add("attack_angle_deg", np.arcsin(direction[1]), turned[1] / level, degrees)
    path_row = (direction[0] * turned[2] - direction[2] * turned[0]) / level**2
    out.add("club_path_in_to_out_deg", np.arctan2(direction[2], direction[0]), path_row, degrees)
    speed_row = direction @ velocity * situation.rate
    speed_row[-len(SOURCES) + SOURCES.index("rate")] += size
    out.add("clubhead_speed_mps", size * situation.rate, speed_row)
    return moved


def add_low_point(out: Outcomes, arc: Arc, situation: Situation, low: float) -> None:
    """Add the low point (along the target line, and its height) and the radius of curvature there to `out`.

    `low` : angle along the arc of the low point, rad.
    """
    place, first, second, third = arc.curves(low, 3)
    shape = [_with(arc.slope_by_terms(low, d)) for d in range(3)]
    moved = -shape[1][1] / second[1]
    ahead = shape[0][0] + first[0] * moved
    heel = ahead.copy()
    ahead[-len(SOURCES) + SOURCES.index("ball")] -= 1.0
    height = shape[0][1] + first[1] * moved
    height[-len(SOURCES) + SOURCES.index("sole")] -= 1.0
    out.add("low_point_ahead_cm", place[0] - situation.ball_x, ahead, 100)
    out.add("low_point_ahead_of_lead_heel_cm", place[0] - situation.lead_heel_x, heel, 100)
    out.add("low_point_height_cm", place[1] - situation.address_height, height, 100)
    bend = np.concatenate([first, second])
    change = np.concatenate([shape[1] + np.outer(second, moved), shape[2] + np.outer(third, moved)])
    step = 1e-6 * float(np.abs(bend).max())
    slope = np.array([(_radius(bend + step * e) - _radius(bend - step * e)) / (2 * step) for e in np.eye(6)])
    out.add("arc_radius_m", _radius(bend), slope @ change)


def add_turf_entry(out: Outcomes, arc: Arc, situation: Situation, low: float) -> float:
    """Add the turf entry, the point where the sole first meets the turf, to `out`; return its standard error (cm).

    NaN if the sole does not meet the turf. `low` : angle along the arc of the low point, rad. Near the low point the
    path is horizontal, so the delta method is not valid. The standard error is half the distance between the entry
    points for a sole that is one standard error higher and one that is one standard error lower.
    """
    x = find_turf_angle(arc, low, situation.address_height)
    if not np.isfinite(x):
        return float("nan")
    place, first = arc.curves(x, 1)
    by_terms = _with(arc.slope_by_terms(x))
    rise = by_terms[1]
    rise[-len(SOURCES) + SOURCES.index("sole")] -= 1.0
    row = by_terms[0] - first[0] / first[1] * rise
    linear = 100 * float(np.sqrt(row @ out.covariance @ row))
    spread = float(np.sqrt(rise @ out.covariance @ rise))
    early = find_turf_angle(arc, low, situation.address_height + spread)
    late = find_turf_angle(arc, low, situation.address_height - spread)
    ends = [float(arc.curve(a if np.isfinite(a) else low)[0]) for a in (early, late)]
    row *= 50 * (ends[1] - ends[0]) / linear if linear > 0 else 1.0
    row[-len(SOURCES) + SOURCES.index("ball")] -= 1.0  # exact for any error of the height
    out.add("turf_entry_ahead_cm", place[0] - situation.ball_x, row, 100)
    return out.error("turf_entry_ahead_cm")


def find_plane(
    time_s: np.ndarray, points: np.ndarray, noise_m: np.ndarray, start_s: float, end_s: float
) -> Plane:
    """Fit a plane to the path of the clubhead between two times.

    `points` : (n, 3) m. `noise_m` : (n,) SD of the noise of one coordinate of each point. The path is represented by a
    polynomial in time, and all times have equal weight, so that the plane does not depend on the frame rate or on
    frames in which the club is not visible. The covariance of the polynomial gives the standard error of the tilt about
    each axis; it is larger if the path is interpolated over a gap or extrapolated.
    """
    middle, half = (start_s + end_s) / 2, (end_s - start_s) / 2

    def powers(times: np.ndarray) -> np.ndarray:
        return np.vander((times - middle) / half, min(PLANE_DEGREE, len(points) - 2) + 1, increasing=True)

    weight = 1 / noise_m[:, None]
    across, upper = np.linalg.qr(weight * powers(time_s))
    inverse = np.linalg.inv(upper)
    terms = powers(np.linspace(start_s, end_s, 60))
    even = terms @ (inverse @ (across.T @ (weight * points)))
    apart = even - even.mean(axis=0)
    axes = principal_axes(apart)
    normal = axes[2] * (1.0 if axes[2, 1] > 0 else -1.0)
    along = apart @ axes[:2].T
    by_terms = (along / (along**2).sum(axis=0)).T @ (terms - terms.mean(axis=0)) @ inverse
    return Plane(normal, axes[:2], np.linalg.norm(by_terms, axis=1))


def add_plane(out: Outcomes, plane: Plane) -> None:
    """Add inclination and horizontal direction of the plane of the clubhead before impact to `out`."""
    normal = plane.normal
    level = float(np.hypot(normal[0], normal[2]))
    turn = np.zeros((3, len(out.covariance)))
    for name, axis in zip(("lengthwise", "crosswise"), plane.axes, strict=True):
        turn[:, SOURCES.index(name) - len(SOURCES)] = axis
    degrees = 180 / np.pi
    # The plane's horizontal line is X turned by `direction` toward +Z; its normal leans away from the golfer.
    out.add("arc_plane_inclination_deg", np.arctan2(level, normal[1]), -turn[1] / level, degrees)
    heading = np.arctan2(-normal[0], normal[2])
    slope = (normal[0] * turn[2] - normal[2] * turn[0]) / level**2
    out.add("arc_plane_direction_in_to_out_deg", heading, slope, degrees)


def add_heights(
    out: Outcomes, arc: Arc, situation: Situation, moved: np.ndarray, limit_x: float, low: float
) -> None:
    """Add the two heights of the sole (m) that decide whether contact is fat, clean or thin to `out`.

    They are the lowest height before the clubhead reaches `limit_x` (position along the target line in m, the limit of
    fat contact), and the height at impact. `moved` : derivative of the angle along the arc at impact by each source of
    error. `low` : angle along the arc of the low point, rad; NaN if not known.
    """
    x, shift = _angle_at_x(arc, limit_x), np.zeros(len(out.covariance))
    if np.isfinite(low) and low < x:
        x = low  # the lowest point before the limit is the low point itself
    else:
        first = arc.curve(x, 1)
        shift = -_with(arc.slope_by_terms(x))[0] / first[0]
        shift[-len(SOURCES) + SOURCES.index("ball")] += 1 / first[0]
    for name, angle, change in (("sole_before", x, shift), ("sole_at_impact", situation.contact, moved)):
        place, first = arc.curves(angle, 1)
        row = _with(arc.slope_by_terms(angle))[1] + first[1] * change
        row[-len(SOURCES) + SOURCES.index("sole")] -= 1.0
        out.add(name, place[1] - situation.address_height, row)


def _angle_at_x(arc: Arc, place: float) -> float:
    """Angle near impact at which the path has this position along the target line (m)."""
    x = 0.0
    for _ in range(30):
        here, first = arc.curves(x, 1)
        step = (place - float(here[0])) / float(first[0])
        x += step
        if abs(step) < 1e-10:
            break
    return x


def _with(by_terms: np.ndarray) -> np.ndarray:
    """Derivatives (3, 2k) by the coefficients, extended with zeros for the further sources."""
    return np.concatenate([by_terms, np.zeros((3, len(SOURCES)))], axis=1)


def _radius(bend: np.ndarray) -> float:
    """Radius of curvature from the first and second derivative of a path, (6,) together."""
    first, second = bend[:3], bend[3:]
    return float(np.linalg.norm(first) ** 3 / np.linalg.norm(np.cross(first, second)))
