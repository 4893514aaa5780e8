"""The undisturbed arc: the path of the clubhead before impact, continued as if there were no ball."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations
from math import comb

import numpy as np
from scipy.spatial.transform import Rotation

from swinglab.signals import principal_axes
from swinglab.strike.penalised_fit import (
    FREE,
    NoisePrior,
    Smooth,
    arc_terms,
    arc_terms_to,
    departures,
    departures_log_prior,
    fit_smooth,
)

#: Window of points before and after impact, in radians of arc. Distant points carry little information, because the
#: modelled departure from a circle may grow with distance, so a longer window hardly changes the errors. At low
#: frame rates it extends back to contain nine frames, but no farther than 1.8 (references/evidence/strike.md).
SPAN_BEFORE, SPAN_FARTHEST, SPAN_AFTER = 1.3, 1.8, 1.0
FRAMES_WANTED = 9
#: Priors of the departure from a circle, in the plane and out of it: usual size in metres, and the spread of its
#: logarithm below and above. For a bent circle the size is that of the second harmonic, for a growing departure that
#: of the third derivative by the angle. In the plane, sizes far below the usual one are nearly excluded: otherwise a
#: few noisy points would favour a circle, and the arc of a two-lever swing would be too round with too narrow an
#: interval (references/evidence/strike.md).
IN_PLANE = (0.03, 0.5, 1.0), (0.25, 0.3, 0.75)
OFF_PLANE = (0.005, 1.0, 1.0), (0.1, 0.75, 0.75)
#: Prior standard deviations of the change of path at impact: lateral shift (m), turn (rad; practically free) and
#: relative change of curvature. Two cases are equally likely. In the first the path turns at one instant. In the
#: second, contact lasts half a millisecond, during which a turn of 2 degrees lags by 0.25 mm, and only the club loses
#: speed while both levers are in line, which reduces the curvature by a twentieth (references/evidence/strike.md).
AT_ONCE, LASTING = (1e-6, 1.0, 1e-5), (2.5e-4, 1.0, 0.05)
#: A point farther than this from the first robust circle is a capture error, not a departure from the circle.
GROSS_M = 0.15
#: Smallest noise assumed: a point closer to the path than this is never an outlier.
LEAST_FAULT_M = 2e-5
FEWEST_BEFORE = 5
#: Number of circles tried for the robust starting circle.
TRIPLES = 400
#: Share of swings in which a point would be rejected as an outlier by chance.
OUTLIER_CHANCE = 0.002


class NoSupport(Exception):
    """Raised if the data are not sufficient to estimate the arc or a quantity; the message gives the reason."""


@dataclass(frozen=True, slots=True)
class Arc:
    """Path of the clubhead as if there were no ball, as a function of the angle along a reference circle.

    The angle is in radians, 0 near impact, and increases with time. centre, normal, outward, along : of the reference
    circle, each (3,): centre, normal of its plane, direction from the centre at angle 0, and direction of motion there.
    radius : of the circle, m. mean, covariance : coefficients (2, k) of the k terms of `arc_terms`, first of the radius
    minus `radius`, then of the distance from the plane, and their covariance (2, k, k). noise_m : SD of the noise of
    one coordinate. used : (n,) +1 for points before impact that were used, -1 for points after impact that were used, 0
    for points that were not used. turn : (2,) change of direction of the path at impact in rad, toward `outward` and
    toward `normal`; 0 if no point after impact is used.
    """

    centre: np.ndarray
    normal: np.ndarray
    outward: np.ndarray
    along: np.ndarray
    radius: float
    mean: np.ndarray
    covariance: np.ndarray
    noise_m: float
    used: np.ndarray
    turn: np.ndarray

    def angle_of(self, points: np.ndarray) -> np.ndarray:
        """Return the angle along the arc of points (..., 3), in radians, shape (...,)."""
        apart = points - self.centre
        return np.arctan2(apart @ self.along, apart @ self.outward)

    def curve(self, angle: np.ndarray | float, derivative: int = 0) -> np.ndarray:
        """Return the position (..., 3) on the path at an angle, or its derivative (1 to 3) by the angle."""
        return self.curves(angle, derivative)[derivative]

    def curves(self, angle: np.ndarray | float, highest: int) -> list[np.ndarray]:
        """Return position on the path and its derivatives by the angle up to order `highest`, each (..., 3)."""
        angle = np.asarray(angle, dtype=float)
        shapes = arc_terms_to(angle, highest) @ self.mean.T
        across, off_plane = shapes[..., 0, None], shapes[..., 1, None]
        across[0] += self.radius
        outward, along = np.cos(angle)[..., None], np.sin(angle)[..., None]
        spoke = outward * self.outward + along * self.along
        turned = outward * self.along - along * self.outward
        spokes = (spoke, turned, -spoke, -turned)
        found = []
        # centre + radius(angle) * outward(angle) + off_plane(angle) * normal, by Leibniz' rule.
        for derivative in range(highest + 1):
            place = off_plane[derivative] * self.normal
            for d, times in enumerate(_CHOOSE[derivative]):
                place = place + times * across[d] * spokes[derivative - d]
            found.append(place + self.centre if derivative == 0 else place)
        return found

    def turned_back(self, points: np.ndarray) -> np.ndarray:
        """Return points (n, 3) after impact, rotated back by the change of direction of the path at impact."""
        place = self.curve(0.0)
        turn = Rotation.from_rotvec(self.turn[1] * self.outward - self.turn[0] * self.normal)
        return place + turn.inv().apply(points - place)

    def slope_by_terms(self, angle: np.ndarray | float, derivative: int = 0) -> np.ndarray:
        """Return the derivatives, (..., 3, 2k), of the path by its 2k coefficients (`mean`, row by row).

        `derivative` : 0 for the position on the path, 1 to 3 for its derivative by the angle.
        """
        angle = np.asarray(angle, dtype=float)
        radial = sum(
            times * self._spoke(angle, derivative - d)[..., :, None] * arc_terms(angle, d)[..., None, :]
            for d, times in enumerate(_CHOOSE[derivative])
        )
        off_plane = self.normal[:, None] * arc_terms(angle, derivative)[..., None, :]
        return np.concatenate([radial, off_plane], axis=-1)

    def off_plane_error(self, angle: float) -> float:
        """Return the standard error (m), at an angle, of the path's distance from the plane of the circle."""
        terms = arc_terms(angle)
        return float(np.sqrt(terms @ self.covariance[1] @ terms))

    def _spoke(self, angle: np.ndarray, derivative: int) -> np.ndarray:
        """Unit vector (..., 3) from the centre outward at an angle, or its derivative by the angle."""
        turned = angle[..., None] + derivative * np.pi / 2
        return np.cos(turned) * self.outward + np.sin(turned) * self.along


_CHOOSE = ((1,), (1, 1), (1, 2, 1), (1, 3, 3, 1))


def fit_arc(
    points: np.ndarray,
    extra_sd: np.ndarray,
    before: np.ndarray,
    after: np.ndarray,
    anchor: np.ndarray,
    noise: NoisePrior,
) -> Arc:
    """Fit the path of the clubhead to its points before impact; points after impact contribute to its curvature only.

    `points` : (n, 3) m. `extra_sd` : (n,) SD in m of an error in addition to the noise. `before`, `after` : (n,) True
    for valid points before and after impact. `anchor` : (3,) a point near impact, at which the angle is 0. `noise` :
    prior of the noise. Raises NoSupport if there are too few points before impact.
    """
    use, centre, frame, radius = before, np.zeros(3), np.eye(3), 1.0
    for _ in range(2):  # the second pass omits points of the backswing and points far round the circle
        _need_frames(use)
        centre, normal, radius = _least_squares_circle(points[use])
        frame = _frame(centre, normal, points[use], anchor)
        angle = _angles(points, centre, frame)
        use = before & (angle > -_span(angle[before & (angle < 0)])) & (angle < SPAN_AFTER)
    near = np.abs(np.linalg.norm(points - centre, axis=1) - radius) < 2 * GROSS_M
    use = use | (after & near & (np.abs(angle) < SPAN_AFTER))
    while True:
        _need_frames(use & before)
        fit, distance, limit = _fit(points, extra_sd, use, use & after, angle, centre, frame, radius, noise)
        worst = int(np.argmax(distance))
        if distance[worst] <= limit:
            break
        use = use.copy()
        use[np.flatnonzero(use)[worst]] = False
    k = arc_terms(0.0).shape[-1]
    used = np.where(use & before, 1, np.where(use & after, -1, 0))
    return Arc(
        centre,
        frame[2],
        frame[0],
        frame[1],
        radius,
        fit.mean[:, :k],
        fit.covariance[:, :k, :k],
        fit.noise,
        used,
        fit.mean[:, k + 1] / radius if use[after].any() else np.zeros(2),
    )


_DEPARTURES_M = departures()
_PRIOR_LOG = np.array([departures_log_prior(*sizes) for sizes in (IN_PLANE, OFF_PLANE)])


def _impact_terms(angle: np.ndarray, after: np.ndarray) -> np.ndarray:
    """First-order effect (n, 3) after angle 0 of a shift, a turn and a change of curvature at angle 0."""
    return after[:, None] * np.stack([np.ones_like(angle), np.sin(angle), 1 - np.cos(angle)], axis=1)


def _departures_and_impact(radius: float) -> tuple[np.ndarray, np.ndarray]:
    """Prior standard deviations (m) and log probabilities of each departure with either kind of impact."""
    impacts = np.array([AT_ONCE, LASTING]) * [1.0, radius, radius]
    sizes = np.hstack([np.tile(_DEPARTURES_M, (2, 1)), np.repeat(impacts, len(_DEPARTURES_M), axis=0)])
    return sizes, np.tile(_PRIOR_LOG, 2)


def _fit(
    points: np.ndarray, extra_sd: np.ndarray, use: np.ndarray, after: np.ndarray, angle: np.ndarray,
    centre: np.ndarray, frame: np.ndarray, radius: float, noise: NoisePrior,
) -> tuple[Smooth, np.ndarray, float]:  # fmt: skip
    """Fit the points in use; return the fit, the outlier statistic of each of these points, and its limit.

    The statistic is the sum of the squared studentised residuals of both coordinates, with the noise estimated from
    the other points. A point above the limit is an outlier.
    """
    apart, x = (points - centre)[use], angle[use]
    off_plane = apart @ frame[2]
    radial = np.hypot(apart @ frame[0], apart @ frame[1]) - radius
    observed = np.stack([radial, off_plane], axis=1)
    weights = 1 / (1 + (extra_sd[use] / noise.value) ** 2)
    terms, prior_sd, prior_log = arc_terms(x), _DEPARTURES_M, _PRIOR_LOG
    if after.any():
        terms = np.hstack([terms, _impact_terms(x, after[use])])
        prior_sd, prior_log = _departures_and_impact(radius)
    fit = fit_smooth(
        terms[:, :FREE], terms[:, FREE:], observed,
        prior_sd=prior_sd, prior_log=prior_log, weights=weights, noise=noise,
    )  # fmt: skip
    residual = observed - terms @ fit.mean.T
    spare = np.maximum(1 - fit.leverage, 1e-3)
    scaled = residual**2 * weights[:, None] / spare
    # Noise estimated without the point itself, so that an outlier does not inflate the noise it is compared with.
    freedom = max(2 * len(x) - 6, 1) + noise.worth
    others = np.maximum(fit.noise**2 * freedom - scaled.sum(axis=1), 0.1 * fit.noise**2) / max(freedom - 2, 1)
    # Two coordinates compared with an estimated noise: F with 2 and `freedom` degrees of freedom, in closed form.
    limit = freedom * ((OUTLIER_CHANCE / len(x)) ** (-2 / freedom) - 1)
    return fit, scaled.sum(axis=1) / np.maximum(others, max(0.25 * noise.value, LEAST_FAULT_M) ** 2), limit


def _angles(points: np.ndarray, centre: np.ndarray, frame: np.ndarray) -> np.ndarray:
    apart = points - centre
    return np.arctan2(apart @ frame[1], apart @ frame[0])


def _frame(centre: np.ndarray, normal: np.ndarray, before: np.ndarray, anchor: np.ndarray) -> np.ndarray:
    """Right-handed axes as rows (3, 3): from the centre to the anchor, the direction of travel there, the normal."""
    outward = anchor - centre
    outward = outward - (outward @ normal) * normal
    outward /= np.linalg.norm(outward)
    along = np.cross(normal, outward)
    if np.median(np.diff(before[-6:], axis=0) @ along) < 0:
        normal, along = -normal, -along
    return np.array([outward, along, normal])


def _least_squares_circle(points: np.ndarray) -> tuple[np.ndarray, np.ndarray, float]:
    """Centre, normal and radius of the plane and (algebraic) circle nearest to the points."""
    middle = points.mean(axis=0)
    axes = principal_axes(points - middle)
    flat = (points - middle) @ axes[:2].T
    solution, *_ = np.linalg.lstsq(np.c_[2 * flat, np.ones(len(flat))], (flat**2).sum(axis=1), rcond=None)
    centre = solution[:2]
    radius = float(np.sqrt(max(solution[2] + centre @ centre, 1e-12)))
    return middle + centre @ axes[:2], axes[2], radius


def _span(angles: np.ndarray) -> float:
    """Length of the window before impact, radians, from the angles of the points before impact."""
    if len(angles) == 0:
        return SPAN_BEFORE
    back = np.sort(-angles)
    wanted = back[min(FRAMES_WANTED, len(back)) - 1] + 1e-6
    return float(np.clip(wanted, SPAN_BEFORE, SPAN_FARTHEST))


def _need_frames(use: np.ndarray) -> None:
    """Raise NoSupport if fewer than `FEWEST_BEFORE` points are True in the mask."""
    if use.sum() < FEWEST_BEFORE:
        raise NoSupport(
            f"the clubhead was measured without outliers in {int(use.sum())} frames before impact, but "
            f"{FEWEST_BEFORE} are needed"
        )


def sound_points(points: np.ndarray, candidates: np.ndarray) -> np.ndarray:
    """Return a mask (n,) of the points that are not outliers: those near the best circle (Rousseeuw 1984).

    Three points define a circle. Of the circles through up to 400 triples of points, the best is the one with the
    smallest median distance of all points. `points` : (n, 3) m. `candidates` : (n,) mask. Raises NoSupport if there are
    too few points, or if they are on a straight line.
    """
    index = np.flatnonzero(candidates)
    _need_frames(candidates)
    seen = points[index]
    if comb(len(seen), 3) <= TRIPLES:
        triples = np.array(list(combinations(range(len(seen)), 3)))
    else:  # a fixed seed, so that a trial always gives the same arc
        triples = np.random.default_rng(0).integers(len(seen), size=(TRIPLES, 3))
    a, b, c = (seen[triples[:, i]] for i in range(3))
    ab, ac = b - a, c - a
    cross = np.cross(ab, ac)
    area = (cross**2).sum(axis=1)
    flat = area > 1e-12
    a, ab, ac, cross, area = a[flat], ab[flat], ac[flat], cross[flat], area[flat]
    if len(a) == 0:
        raise NoSupport("the path of the clubhead before impact is a straight line, so no arc can be fitted")
    to_centre = (
        np.cross(cross, ab) * (ac**2).sum(axis=1)[:, None]
        + np.cross(ac, cross) * (ab**2).sum(axis=1)[:, None]
    ) / (2 * area[:, None])
    centres = a + to_centre
    radii = np.linalg.norm(to_centre, axis=1)
    normals = cross / np.sqrt(area)[:, None]
    apart = seen[None] - centres[:, None]
    off_plane = np.einsum("tnk,tk->tn", apart, normals)
    in_plane = np.sqrt(np.maximum((apart**2).sum(axis=2) - off_plane**2, 0))
    distance = np.hypot(off_plane, in_plane - radii[:, None])
    best = int(np.argmin(np.median(distance, axis=1)))
    sound = np.zeros(len(points), dtype=bool)
    sound[index[distance[best] < max(GROSS_M, 4 * float(np.median(distance[best])))]] = True
    return sound
