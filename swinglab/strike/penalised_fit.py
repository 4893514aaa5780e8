"""Penalised fit of a nearly circular curve: a circle plus a smooth deviation whose form and size the data determine.

The curve is described in polar coordinates about a reference circle: the radius and the distance from its plane, each
as a function of the angle along the arc. A displaced or larger circle is, to first order, a combination of 1, cos and
sin of this angle; their coefficients have no prior. The coefficients of all other terms have a normal prior, so that
the fit is a penalised regression, like a smoothing spline (Kimeldorf & Wahba 1970).

Two kinds of deviation are modelled. A bent circle is nearly an ellipse: a second harmonic, higher harmonics that become
smaller, and a small remainder that grows with the distance from impact. A growing deviation is a power series, with a
size (of the third derivative) and a growth (the ratio of successive derivatives); it describes a circle whose centre
moves. With bent circles only, the intervals for a moving centre would be too wide; with growing deviations only, a
nearly elliptical path would have a systematic error. Kind, size, growth and noise are not selected but averaged over,
weighted by their restricted likelihood, so that the standard error includes noise and model uncertainty (Wahba 1983).
"""

from __future__ import annotations

from dataclasses import dataclass
from math import factorial

import numpy as np

#: Number of unpenalised terms (1, cos, sin), which come first.
FREE = 3
#: The further terms: harmonics of an ellipse (cos and sin of each), and powers of the angle.
WAVES, POWERS = np.repeat([2, 3, 4], 2), np.arange(3, 9)
#: A bent circle: size of the second harmonic (m); each higher harmonic is smaller by a factor of five; the remainder
#: is a power series of a tenth of the size that varies over a third of a radian and so grows with distance.
BENT_M = np.geomspace(1e-3, 0.3, 11)
_FAINTER, _REST, _REST_RATE = 0.2, 0.1, 3.0
#: A growing departure: its third derivative (m) and the factor by which each further one is larger.
GROWING_M, GROWTHS = np.geomspace(1 / 64, 2.0, 8), np.geomspace(1.0, 6.0, 6)
#: Prior probability of a growing departure rather than a bent circle.
_GROWING_SHARE = 0.7
#: Prior standard deviation (m) of harmonics in a growing departure, which has none.
_NONE_M = 1e-7


def arc_terms(angle: np.ndarray | float, derivative: int = 0) -> np.ndarray:
    """Return the k terms of a nearly circular curve, or their derivatives by the angle, (..., k), at angles (...).

    The terms are 1, cos, sin, higher harmonics, and powers of the angle divided by their factorials. `angle` : rad.
    `derivative` : 0 for the terms, otherwise the order of the derivative.
    """
    angle = np.asarray(angle, dtype=float)[..., None]
    waves = _ALL_WAVES**derivative * np.cos(_ALL_WAVES * angle + (derivative * np.pi / 2 - _QUARTERS))
    powers = angle ** (POWERS - derivative) / _FACTORIALS[derivative]
    return np.concatenate([waves, powers], axis=-1)


def arc_terms_to(angle: np.ndarray | float, highest: int) -> np.ndarray:
    """Return the k terms of `arc_terms` and their derivatives up to order `highest`, (highest + 1, ..., k)."""
    angle = np.asarray(angle, dtype=float)
    order = np.arange(highest + 1).reshape(-1, *[1] * (angle.ndim + 1))
    waves = _ALL_WAVES**order * np.cos(_ALL_WAVES * angle[..., None] + (order * (np.pi / 2) - _QUARTERS))
    made = np.empty((highest + 1, *angle.shape, waves.shape[-1] + len(POWERS)))
    made[..., : waves.shape[-1]] = waves
    made[..., waves.shape[-1] :] = angle[..., None] ** (POWERS - order)
    for d, factorials in enumerate(_FACTORIALS[: highest + 1]):
        made[d, ..., waves.shape[-1] :] /= factorials
    return made


#: Frequencies of the free terms 1, cos, sin, and of the harmonics.
_ALL_WAVES = np.concatenate([[0, 1, 1], WAVES])
_QUARTERS = np.array([0.0, *[0.0, np.pi / 2] * (len(_ALL_WAVES) // 2)])
_FACTORIALS = [np.array([float(factorial(j - d)) for j in POWERS]) for d in range(4)]


def departures() -> np.ndarray:
    """Return the prior SDs (n_priors, n_terms), in m, of the terms that describe deviations from a circle.

    Each row is one prior. The first rows are for bent circles (nearly ellipses) of different sizes, the others for
    deviations that grow with the angle (as when the centre of the circle moves), of different sizes and growth rates.
    """
    bent = BENT_M[:, None] * np.r_[_FAINTER ** (WAVES - 2.0), _REST * _REST_RATE**POWERS]
    growing = (GROWING_M[:, None, None] * GROWTHS[:, None] ** (POWERS - POWERS[0])).reshape(-1, len(POWERS))
    none = np.full((len(growing), len(WAVES)), _NONE_M)
    return np.vstack([bent, np.hstack([none, growing])])


def log_prior(sizes: np.ndarray, usual: float, smaller: float, larger: float) -> np.ndarray:
    """Return the log prior density, up to a constant, of sizes of a deviation: two-piece log-normal about `usual`.

    `smaller`, `larger` : SD of the natural logarithm of the size below and above `usual`.
    """
    off = np.log(sizes / usual)
    return -0.5 * (off / np.where(off < 0, smaller, larger)) ** 2


def departures_log_prior(bent: tuple[float, float, float], growing: tuple[float, float, float]) -> np.ndarray:
    """Return the log prior probability of each row of `departures`, (n_priors,).

    `bent`, `growing` : for bent circles and for growing deviations, the arguments `usual` (m), `smaller` and `larger`
    of `log_prior`. All growth rates of a growing deviation are equally probable.
    """
    of_bent = log_prior(BENT_M, *bent)
    of_growing = np.repeat(log_prior(GROWING_M, *growing), len(GROWTHS))
    shares = ((1 - _GROWING_SHARE, of_bent), (_GROWING_SHARE, of_growing))
    return np.concatenate([np.log(share) + kind - np.log(np.exp(kind).sum()) for share, kind in shares])


@dataclass(frozen=True, slots=True)
class Smooth:
    """Coefficients of a penalised regression, averaged over priors and noise levels.

    A component is one column of `observed` in `fit_smooth`. mean : (n_components, n_terms) coefficients. covariance :
    (n_components, n_terms, n_terms) of the coefficients. noise : SD of one observation with weight 1. leverage :
    (n_observations, n_components) derivative of each fitted value by its observation.
    """

    mean: np.ndarray
    covariance: np.ndarray
    noise: float
    leverage: np.ndarray


@dataclass(frozen=True, slots=True)
class NoisePrior:
    """Prior of the SD of the noise: its typical value, and its weight (`worth`) as a number of degrees of freedom."""

    value: float
    worth: float


def fit_smooth(
    free: np.ndarray,
    penalised: np.ndarray,
    observed: np.ndarray,
    *,
    prior_sd: np.ndarray,
    prior_log: np.ndarray,
    weights: np.ndarray,
    noise: NoisePrior,
) -> Smooth:
    """Fit a penalised regression of each column of `observed` on the same terms, with a common noise variance.

    `free` : (n, a) terms without a prior. `penalised` : (n, m) terms whose coefficients have a normal prior about 0.
    `observed` : (n, n_components). `prior_sd` : (g, m) SDs of g alternative priors; the fit is averaged over the
    priors, with separate weights for each column. `prior_log` : (n_components, g) log prior probability of each
    alternative. `weights` : (n,) of the observations. `noise` : prior of the noise. The coefficients are in the order
    free, penalised.
    """
    n, components = observed.shape
    root = np.sqrt(weights)[:, None]
    free, penalised, seen = root * free, root * penalised, root * observed
    a, m = free.shape[1], penalised.shape[1]
    # The free terms are removed first. Otherwise rounding could hide a small departure from a long steady motion.
    across, upper = np.linalg.qr(free)
    explained = np.linalg.solve(upper, across.T @ np.hstack([seen, penalised]))
    by_free, by_penalised = explained[:, :components], explained[:, components:]
    rest = penalised - free @ by_penalised
    inverse, departure, misfit, volume = _solve(rest, seen - free @ by_free, prior_sd / noise.value)

    # Restricted likelihood for each combination of prior rows (one for each component), with the noise integrated out.
    dof = components * (n - a) + noise.worth
    total = noise.worth * noise.value**2
    log_weight = np.zeros(())
    for c in range(components):
        total = np.add.outer(total, misfit[:, c])
        log_weight = np.add.outer(log_weight, prior_log[c] - 0.5 * volume)
    log_weight = log_weight - 0.5 * dof * np.log(total)
    share = np.exp(log_weight - log_weight.max())
    share /= share.sum()
    variance = total / max(dof - 2, 1.0)

    # Each penalised term affects the curve directly and through its projection on the free terms.
    whole = np.vstack([-by_penalised, np.eye(m)])
    free_root = np.vstack([np.linalg.inv(upper), np.zeros((m, a))])
    noise_square = float((share * variance).sum())
    means, covariances, leverages = [], [], []
    for c in range(components):
        others = tuple(k for k in range(components) if k != c)
        weight = share.sum(axis=others)
        scale = (share * variance).sum(axis=others)
        mean = weight @ departure[:, :, c]
        apart = departure[:, :, c] - mean
        unsure = np.tensordot(scale, inverse, axes=1) + (apart.T * weight) @ apart
        means.append(whole @ mean + np.r_[by_free[:, c], np.zeros(m)])
        covariances.append(whole @ unsure @ whole.T + noise_square * free_root @ free_root.T)
        own = ((rest @ np.tensordot(weight, inverse, axes=1)) * rest).sum(axis=1)
        leverages.append(own + (across**2).sum(axis=1))
    return Smooth(
        np.array(means),
        np.array(covariances),
        float(np.sqrt(noise_square)),
        np.array(leverages).T,
    )


def _solve(
    terms: np.ndarray, seen: np.ndarray, prior: np.ndarray
) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Solve the penalised regression for each row of `prior`, (g, m) standard deviations in units of the noise.

    Returns for each row the covariance of the terms divided by the noise variance, the coefficients (m, components),
    the penalised misfit (components,) and the log determinant. Each term is scaled by its prior, which keeps the
    matrix well conditioned.
    """
    both = prior[:, :, None] * prior[:, None, :]
    normal = both * (terms.T @ terms) + np.eye(terms.shape[1])
    inverse = both * np.linalg.inv(normal)
    by_seen = terms.T @ seen
    coefficients = inverse @ by_seen
    misfit = (seen**2).sum(axis=0) - (by_seen * coefficients).sum(axis=1)
    return inverse, coefficients, np.maximum(misfit, 0.0), np.linalg.slogdet(normal)[1]
