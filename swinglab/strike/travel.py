"""Position of the clubhead along the arc (as an angle) as a function of time, and its angular velocity."""

from __future__ import annotations

from dataclasses import dataclass
from math import factorial

import numpy as np

from swinglab.strike.arc import Arc
from swinglab.strike.penalised_fit import NoisePrior, fit_smooth, log_prior

#: Sizes of the change of angular velocity over which the fit is averaged, in radians of arc, and their prior: usual
#: size and SD of its logarithm. Then the powers of time whose coefficients have a prior.
SIZES_RAD = np.geomspace(1e-2, 5.0, 11)
USUAL_SIZE_RAD, SIZE_SPREAD = 0.3, 0.7
POWERS = np.arange(3, 8)
#: The angular velocity changes over half a radian of travel. This scale is fixed: if it was averaged over as well,
#: noise favoured slow changes, and the standard error of the speed of a two-lever swing became too small.
RATE = 2.0


@dataclass(frozen=True, slots=True)
class Travel:
    """Angle along the arc as a smooth function of time before impact.

    The terms of the function are powers of pace * (t - middle_s), where t is the time in s. pace : typical angular
    velocity, rad/s. mean, covariance : coefficients of the terms and their covariance.
    """

    pace: float
    middle_s: float
    mean: np.ndarray
    covariance: np.ndarray

    def angle(self, time_s: float, derivative: int = 0) -> float:
        """Return the angle along the arc (rad), or its first derivative (rad/s), at a time."""
        u = np.array([self.pace * (time_s - self.middle_s)])
        return float((_terms(u, derivative) @ self.mean)[0]) * self.pace**derivative

    def rate_error(self, time_s: float) -> float:
        """Return the standard error of the angular velocity along the arc (rad/s) at a time."""
        terms = _terms(np.array([self.pace * (time_s - self.middle_s)]), 1)[0]
        return float(np.sqrt(terms @ self.covariance @ terms)) * self.pace

    def time_s(self, angle: float) -> float:
        """Return the time (s) at which the clubhead would be at an angle along the arc (rad) if there were no ball."""
        time = self.middle_s
        for _ in range(20):
            step = (angle - self.angle(time)) / max(self.angle(time, 1), 0.2 * self.pace)
            time += float(np.clip(step, -0.05, 0.05))
            if abs(step) < 1e-9:
                break
        return time


def fit_travel(arc: Arc, time_s: np.ndarray, points: np.ndarray, extra_sd: np.ndarray) -> Travel:
    """Fit the angle along the arc as a function of time to the points before impact that were used for the arc.

    `points` : (n, 3) m. `extra_sd` : (n,) SD in m of an error in addition to the noise.
    """
    use = arc.used > 0
    angle, when = arc.angle_of(points[use]), time_s[use]
    late = max(len(when) // 2, 4)
    pace = float(np.polyfit(when[-late:], angle[-late:], 1)[0])
    middle = float(when[-1])
    u = pace * (when - middle)
    noise = arc.noise_m / arc.radius
    terms = _terms(u)
    fit = fit_smooth(
        terms[:, :3], terms[:, 3:], angle[:, None], weights=1 / (1 + (extra_sd[use] / arc.noise_m) ** 2),
        noise=NoisePrior(noise, 8.0), prior_sd=np.tile(SIZES_RAD[:, None], len(POWERS)),
        prior_log=log_prior(SIZES_RAD, USUAL_SIZE_RAD, SIZE_SPREAD, SIZE_SPREAD)[None],
    )  # fmt: skip
    return Travel(pace, middle, fit.mean[0], fit.covariance[0])


def _terms(u: np.ndarray, derivative: int = 0) -> np.ndarray:
    """Powers of time (n, k), or their first derivative; those up to the quadratic have no prior, higher ones have one.

    `u` : (n,) time, multiplied by the pace. `derivative` : 0 or 1.
    """
    if derivative:
        free = np.stack([0 * u, np.ones_like(u), u], axis=-1)
    else:
        free = np.stack([np.ones_like(u), u, u**2 / 2], axis=-1)
    share = RATE**POWERS / np.array([factorial(j - derivative) for j in POWERS])
    return np.concatenate([free, share * u[..., None] ** (POWERS - derivative)], axis=-1)
