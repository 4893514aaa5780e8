"""A plane curve as a circle plus a smooth departure from it, whose size the data choose.

The curve is told in polar coordinates about a reference circle: the radius and the distance off the plane,
each as a function of the angle along the arc. A displaced or larger circle is, to first order, a
combination of 1, cos and sin of that angle: these are free. An ellipse adds the second harmonic and fainter
higher ones; whatever else a moving hub or a late release does to the path grows from the angle 0 (impact)
outward. Both carry a normal prior of one common size, so that the fit is a penalised regression of the
kind in which a smoothing spline is the best known (Kimeldorf & Wahba 1970). Size of the departure and noise
are not picked but averaged over, by their restricted likelihood; the standard error therefore holds the
noise and what the model does not know (Wahba 1983).
"""

from __future__ import annotations

from dataclasses import dataclass
from math import factorial

import numpy as np

#: Harmonics of an ellipse: the second, and each next one fainter by this factor.
HIGHEST, FAINTER = 4, 0.2
#: The rest, as a share of the second harmonic, by powers of the angle; it varies over 1/3 rad.
POWERS = np.arange(3, 9)
REST_SHARE, REST_RATE = 0.1, 3.0
#: Sizes of the departure that are averaged over, in metres.
SIZES_M = np.geomspace(3e-4, 0.3, 13)

_WAVES = np.arange(1, HIGHEST + 1)
_WAVE_SHARE = np.r_[1.0, FAINTER ** np.arange(HIGHEST - 1)]
#: Terms that are free: 1, cos, sin; they stand first.
FREE = 3


def arc_terms(angle: np.ndarray | float, derivative: int = 0) -> np.ndarray:
    """(..., k) terms of a nearly circular curve: 1, cos, sin, then the departures, each scaled to its prior.

    derivative : 0 for the terms, else their derivative of that order by the angle.
    """
    angle = np.asarray(angle, dtype=float)[..., None]
    phase = _WAVES * angle + derivative * np.pi / 2
    share = _WAVE_SHARE * _WAVES**derivative
    cosine, sine = share * np.cos(phase), share * np.sin(phase)
    powers = _POWER_SHARE[derivative] * angle ** (POWERS - derivative)
    one = np.full(angle.shape, 1.0 if derivative == 0 else 0.0)
    parts = (one, cosine[..., :1], sine[..., :1], cosine[..., 1:], sine[..., 1:], powers)
    return np.concatenate(parts, axis=-1)


_POWER_SHARE = [
    REST_SHARE * REST_RATE**POWERS / np.array([factorial(j - d) for j in POWERS]) for d in range(4)
]


@dataclass(frozen=True, slots=True)
class Smooth:
    """Coefficients of a penalised regression, size of the departure and noise averaged over.

    mean : (n_components, n_terms). covariance : (n_components, n_terms, n_terms). noise : standard deviation
    of one observation of weight 1. leverage : (n_observations, n_components).
    """

    mean: np.ndarray
    covariance: np.ndarray
    noise: float
    leverage: np.ndarray


@dataclass(frozen=True, slots=True)
class NoisePrior:
    """What is known of the noise before the fit: a value, and what it is worth in degrees of freedom."""

    value: float
    worth: float


def fit_smooth(
    free: np.ndarray,
    penalised: np.ndarray,
    observed: np.ndarray,
    *,
    jumps: np.ndarray | None = None,
    jump_sd: np.ndarray | None = None,
    weights: np.ndarray,
    noise: NoisePrior,
    usual_size: tuple[float, ...],
    size_spread: float = 1.0,
    sizes: np.ndarray = SIZES_M,
) -> Smooth:
    """Penalised regression of each column of `observed` on the same terms, with one noise for all.

    free : (n, a) terms without a prior. penalised : (n, m) terms of one common prior size. jumps : (n, b)
    terms with a prior standard deviation of their own, `jump_sd`. usual_size : the size to expect for each
    column, to within a factor exp(size_spread). Terms come back in the order free, penalised, jumps.
    """
    n, components = observed.shape
    jumps = np.zeros((n, 0)) if jumps is None else jumps
    jump_sd = np.zeros(0) if jump_sd is None else jump_sd
    root = np.sqrt(weights)[:, None]
    design, seen = root * np.hstack([free, penalised, jumps]), root * observed
    a, m = free.shape[1], penalised.shape[1]
    # Everything is in units of the expected noise, so that prior precisions are ratios.
    precision = np.zeros((len(sizes), design.shape[1]))
    precision[:, a : a + m] = (noise.value / sizes[:, None]) ** 2
    precision[:, a + m :] = (noise.value / jump_sd) ** 2
    inverse, coefficients, misfit, volume = _solve(design, seen, precision)
    volume = volume + 2 * m * np.log(sizes / noise.value)

    # Restricted likelihood over the grid of sizes, one for each component, the noise integrated out.
    dof = components * (n - a) + noise.worth
    total = noise.worth * noise.value**2
    log_weight = np.zeros(())
    for c in range(components):
        prior = -0.5 * (np.log(sizes / usual_size[c]) / size_spread) ** 2
        total = np.add.outer(total, misfit[:, c])
        log_weight = np.add.outer(log_weight, prior - 0.5 * volume)
    log_weight = log_weight - 0.5 * dof * np.log(total)
    share = np.exp(log_weight - log_weight.max())
    share /= share.sum()
    variance = total / max(dof - 2, 1.0)

    means, covariances, leverages = [], [], []
    for c in range(components):
        others = tuple(k for k in range(components) if k != c)
        weight = share.sum(axis=others)
        scale = (share * variance).sum(axis=others)
        mean = weight @ coefficients[:, :, c]
        apart = coefficients[:, :, c] - mean
        means.append(mean)
        covariances.append(np.tensordot(scale, inverse, axes=1) + (apart.T * weight) @ apart)
        leverages.append(((design @ np.tensordot(weight, inverse, axes=1)) * design).sum(axis=1))
    return Smooth(
        np.array(means),
        np.array(covariances),
        float(np.sqrt((share * variance).sum())),
        np.array(leverages).T,
    )


def _solve(
    design: np.ndarray, seen: np.ndarray, precision: np.ndarray
) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """For every row of prior precisions: inverse of the normal matrix, coefficients (terms, components),
    penalised misfit (components) and the logarithm of the matrix's determinant."""
    normal = design.T @ design + precision[:, :, None] * np.eye(design.shape[1])
    inverse = np.linalg.inv(normal)
    coefficients = inverse @ (design.T @ seen)
    misfit = (seen**2).sum(axis=0) - ((design.T @ seen) * coefficients).sum(axis=1)
    return inverse, coefficients, np.maximum(misfit, 0.0), np.linalg.slogdet(normal)[1]
