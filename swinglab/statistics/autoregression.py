"""Regression with first-order autoregressive errors, AR(1), by REML; inference allows for unknown autocorrelation."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import optimize, special

#: Autocorrelations over which the fit is averaged, and the width of the interval that each of them represents. At the
#: upper end the errors are nearly a random walk.
_GRID = np.concatenate([np.linspace(-0.9, 0.9, 91), np.linspace(0.91, 0.995, 18)])
_SHARE = np.gradient(_GRID)
#: Exponent of the prior: 0 gives a flat prior, 1 the probability-matching prior (see `_prior`).
PRIOR_POWER = 0.75


@dataclass(frozen=True, slots=True, eq=False)
class AutoregressiveFit:
    """A regression with k coefficients and AR(1) errors.

    b, standard_error : (k,) coefficients by generalised least squares at the REML estimate of the autocorrelation,
    and their standard errors. covariance : (k, k) of b. p, ci_low, ci_high : (k,) two-sided p values against 0 and
    95 % limits, averaged over the possible autocorrelations. df : (k,) degrees of freedom with which b -/+ t times
    standard_error is as wide as these limits. autocorrelation : between errors one step apart. variance : of an error.
    effective_n : number of independent swings that would estimate the mean with the same precision. log_likelihood :
    restricted log likelihood.
    """

    b: np.ndarray
    standard_error: np.ndarray
    df: np.ndarray
    p: np.ndarray
    ci_low: np.ndarray
    ci_high: np.ndarray
    covariance: np.ndarray
    autocorrelation: float
    variance: float
    effective_n: float
    log_likelihood: float


@dataclass(frozen=True, slots=True, eq=False)
class _At:
    """The fit at each of m given autocorrelations."""

    b: np.ndarray  # (m, p)
    inverse: np.ndarray  # (m, p, p), covariance of b per unit of error variance
    variance: np.ndarray  # (m,)
    criterion: np.ndarray  # (m,) -2 restricted log likelihood

    @property
    def errors(self) -> np.ndarray:
        """Standard errors of p coefficients at m autocorrelations, (m, p); each autocorrelation is taken as known."""
        return np.sqrt(self.variance[:, None] * np.diagonal(self.inverse, axis1=1, axis2=2))


def fit_ar1(x: np.ndarray, y: np.ndarray, steps: np.ndarray) -> AutoregressiveFit:
    """Fit the regression y = x b + error by REML, with errors that are correlated between neighbouring swings.

    The correlation of the errors of two swings that are d steps apart is autocorrelation^d.

    Parameters
    ----------
    x, y : numpy.ndarray, (n, k) and (n,)
        Predictors (including the column of ones for an intercept) and outcome, in the order of play.
    steps : numpy.ndarray, (n,)
        Number of steps from the previous swing to this one; infinite for the first swing of each session.

    Notes
    -----
    The estimates are those at the REML autocorrelation. With 20 to 80 swings the autocorrelation has a large
    uncertainty, and a fit that treats it as known has too many false positives (in simulations .13 at nominal .05,
    for a step in 20 swings with autocorrelation .6). Therefore the p value and the interval of a coefficient are
    averaged over all autocorrelations, each weighted by its restricted likelihood and by a prior density (see
    `_prior`). The result is a mixture of t distributions with n - k degrees of freedom.

    Where the distance d of two neighbours is not a whole number of steps, a negative autocorrelation -a gives
    the correlation -a^d, so that the likelihood is continuous through 0.

    References
    ----------
    Datta & Sweeting 2005 survey such priors and cite Datta & Mukerjee 2004; Mukerjee & Dey 1993 from memory.
    """
    n, p = x.shape
    z = np.column_stack([x, y])
    fits = _fit_at(_GRID, z, steps)
    phi = _best(_GRID, fits.criterion, z, steps)
    best = _fit_at(np.array([phi]), z, steps)
    weight = _SHARE * np.exp(-0.5 * (fits.criterion - fits.criterion.min()))
    weights = weight[:, None] * _prior(_GRID, x, steps)
    weights /= weights.sum(axis=0)
    error = best.errors[0]
    averaged = [_average(*each, n - p) for each in zip(fits.b.T, fits.errors.T, weights.T, strict=True)]
    p_value, low, high = np.array(averaged).T
    df = np.array([_df_for(ratio, n - p) for ratio in (high - low) / 2 / error])
    ones = _whiten(np.array([phi]), np.ones((n, 1)), steps)
    return AutoregressiveFit(
        best.b[0], error, df, p_value, low, high, best.variance[0] * best.inverse[0], phi, float(best.variance[0]),
        float(min(n, (ones**2).sum())), -float(best.criterion[0]) / 2,
    )  # fmt: skip


def estimate_autocorrelation(x: np.ndarray, y: np.ndarray, steps: np.ndarray) -> float:
    """Return the REML estimate of the autocorrelation of the errors of y = x b + error; arguments as in `fit_ar1`."""
    z = np.column_stack([x, y])
    return _best(_GRID, _fit_at(_GRID, z, steps).criterion, z, steps)


def whiten(autocorrelation: float, values: np.ndarray, steps: np.ndarray) -> np.ndarray:
    """Transform the columns of `values`, (n, k), so that AR(1) errors become independent with equal variance.

    `steps` : (n,) as in `fit_ar1`.
    """
    return _whiten(np.array([autocorrelation]), values, steps)[0]


def error_factor(autocorrelation: float, steps: np.ndarray) -> float:
    """Return the mean factor by which `whiten` multiplies the variance of errors that are independent between swings.

    Measurement errors are assumed to be independent between swings. `steps` : (n,) as in `fit_ar1`.
    """
    tie = _tie(np.array([autocorrelation]), steps)[0] ** 2
    return float(np.mean((1 + tie) / (1 - tie)))


def _prior(phi: np.ndarray, x: np.ndarray, steps: np.ndarray) -> np.ndarray:
    """Prior weight (m, p) of each autocorrelation for each coefficient: (1 + r phi) ** -3/4.

    r is the lag-one autocorrelation of the coefficient's predictor after regression on the other predictors:
    near 1 for a step or a trend, -1 for an alternating predictor, 0 for a random one. The interval of a mean
    has its nominal coverage to second order if the prior is the information on phi, 1 / (1 - phi^2), divided by
    the derivative of the log standard error, 1 / (1 - phi), which gives 1 / (1 + phi). For an alternating
    predictor it is 1 / (1 - phi) (Mukerjee & Dey 1993). With 20 swings, a prior with this exponent of 1 gives slightly
    too many false positives at phi = .6, and a flat prior (exponent 0) gives too few at phi = 0. The exponent 3/4 is
    a compromise; false-positive rates are in references/evidence/statistics_single.md.
    """
    tied = np.isfinite(steps[1:])
    fade = np.empty(x.shape[1])
    for j, column in enumerate(x.T):
        others = np.delete(x, j, axis=1)
        rest = column - others @ np.linalg.lstsq(others, column, rcond=None)[0]
        fade[j] = (rest[1:] * rest[:-1])[tied].sum() / (rest @ rest)
    return (1 + np.outer(phi, fade)) ** -PRIOR_POWER


def _tie(phi: np.ndarray, steps: np.ndarray) -> np.ndarray:
    """Correlation (m, n) of each swing's error with the previous one's; 0 where a series starts."""
    whole = np.isfinite(steps)
    distance, tie = steps[whole], np.zeros((len(phi), len(steps)))
    sign = np.where(phi < 0, -1.0, 1.0)[:, None]
    if np.allclose(distance, np.round(distance)):
        distance = np.round(distance)
        sign = sign**distance
    tie[:, whole] = sign * np.power(np.abs(phi)[:, None], distance)
    return tie


def _whiten(phi: np.ndarray, z: np.ndarray, steps: np.ndarray) -> np.ndarray:
    """Whitened rows (m, n, columns), independent with unit variance, for each given autocorrelation."""
    tie = _tie(phi, steps)[:, :, None]
    before = np.vstack([np.zeros((1, z.shape[1])), z[:-1]])
    return (z - tie * before) / np.sqrt(1 - tie**2)


def _fit_at(phi: np.ndarray, z: np.ndarray, steps: np.ndarray) -> _At:
    n, p = z.shape[0], z.shape[1] - 1
    # The last column of R holds the outcome's projections on the predictors; its last entry is the residual norm.
    r = np.asarray(np.linalg.qr(_whiten(phi, z, steps), mode="r"))
    back = np.linalg.inv(r[:, :p, :p])
    variance = r[:, p, p] ** 2 / (n - p)
    log_det = np.log1p(-(_tie(phi, steps) ** 2)).sum(axis=1)
    log_det += 2 * np.log(np.abs(np.diagonal(r, axis1=1, axis2=2)[:, :p])).sum(axis=1)
    criterion = (n - p) * (np.log(2 * np.pi * variance) + 1) + log_det
    return _At((back @ r[:, :p, p:])[:, :, 0], back @ np.swapaxes(back, 1, 2), variance, criterion)


def _best(grid: np.ndarray, criteria: np.ndarray, z: np.ndarray, steps: np.ndarray) -> float:
    place = int(np.argmin(criteria))
    found = optimize.minimize_scalar(
        lambda phi: float(_fit_at(np.array([phi]), z, steps).criterion[0]),
        bounds=(grid[max(place - 1, 0)], grid[min(place + 1, len(grid) - 1)]), method="bounded",
        options={"xatol": 1e-9},
    )  # fmt: skip
    return float(found.x) if found.fun < criteria[place] else float(grid[place])


def _average(b: np.ndarray, errors: np.ndarray, weight: np.ndarray, df: float) -> tuple[float, float, float]:
    """(p, ci_low, ci_high) of a coefficient under a weighted mixture of t distributions about b."""

    def below(value: float) -> float:
        return float(weight @ special.stdtr(df, (value - b) / errors))

    def quantile(share: float) -> float:
        ends = b + special.stdtrit(df, share) * errors
        low, high = float(ends.min()), float(ends.max())
        if high - low <= 1e-12 * max(abs(low), abs(high)):
            return low
        return float(optimize.brentq(lambda value: below(value) - share, low, high))

    tail = min(below(0.0), float(weight @ special.stdtr(df, b / errors)))
    return 2 * tail, quantile(0.025), quantile(0.975)


def _df_for(ratio: float, most: float) -> float:
    """Degrees of freedom, between 1 and `most`, at which the two-sided 95 % quantile of t equals `ratio`."""
    if ratio <= special.stdtrit(most, 0.975):
        return float(most)
    if ratio >= special.stdtrit(1, 0.975):
        return 1.0
    return float(optimize.brentq(lambda df: special.stdtrit(df, 0.975) - ratio, 1, most))
