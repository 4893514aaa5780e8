"""Least-squares polynomials in time through a few samples, with standard errors of their values and derivatives."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from math import perm

import numpy as np

from swinglab.signals.vectors import middle_value


@dataclass(frozen=True, slots=True, eq=False)
class LocalPolynomial:
    """Least-squares polynomial in time t through samples of one or several signals.

    coefficients : (order + 1, n_signals), in powers of (t - centre_s) / scale_s. noise : median standard deviation of
    the samples, in the unit of the signal. unit_covariance : square matrix, the covariance of the coefficients of one
    signal in units of noise**2. first_s, last_s : times of the first and last sample used. n : number of samples used.
    """

    centre_s: float
    scale_s: float
    coefficients: np.ndarray
    unit_covariance: np.ndarray
    noise: float
    first_s: float
    last_s: float
    n: int

    @property
    def order(self) -> int:
        """Order (highest power) of the polynomial."""
        return len(self.coefficients) - 1

    def _powers(self, time_s: float | np.ndarray, derivative: int) -> np.ndarray:
        x = (np.asarray(time_s)[..., None] - self.centre_s) / self.scale_s
        factors, exponents = _derivative_of_powers(self.order, derivative)
        return factors * x**exponents / self.scale_s**derivative

    def at(self, time_s: float | np.ndarray, derivative: int = 0) -> np.ndarray:
        """Return values (derivative 0) or derivatives by time in s, at times (...,); shape (..., n_signals)."""
        return self._powers(time_s, derivative) @ self.coefficients

    def error_at(self, time_s: float, derivative: int = 0) -> float:
        """Return the standard error due to noise of the value, or of a derivative, of one signal at a time."""
        return self.noise * float(np.sqrt(self.unit_variance_at(np.array([time_s]), derivative)[0]))

    def unit_variance_at(self, time_s: np.ndarray, derivative: int = 0) -> np.ndarray:
        """Return the variance (n_times,) of the value, or of a derivative, of one signal, in units of noise**2."""
        rows = self._powers(time_s, derivative)
        return np.maximum(((rows @ self.unit_covariance) * rows).sum(axis=-1), 0.0)

    def root(self, level: float, near_s: float, derivative: int = 0) -> float:
        """Return the time (s) nearest to `near_s` at which the first signal, or its derivative, equals `level`.

        The search is limited to the samples used and one sample interval on either side. NaN if there is no such time.
        """
        factors, _ = _derivative_of_powers(self.order, derivative)
        wanted = (factors * self.coefficients[:, 0])[derivative:] / self.scale_s**derivative
        if not len(wanted):
            return float("nan")
        wanted[0] -= level
        roots = np.roots(wanted[::-1])
        real = roots.real[np.abs(roots.imag) < 1e-9 * (1 + np.abs(roots.real))]
        times = self.centre_s + self.scale_s * real
        margin = (self.last_s - self.first_s) / max(self.n - 1, 1)
        times = times[(times >= self.first_s - margin) & (times <= self.last_s + margin)]
        return float(times[np.argmin(np.abs(times - near_s))]) if len(times) else float("nan")


@lru_cache(maxsize=64)
def _derivative_of_powers(order: int, derivative: int) -> tuple[np.ndarray, np.ndarray]:
    """Factor and exponent of each power up to `order` after differentiation."""
    powers = np.arange(order + 1)
    return np.array([float(perm(power, derivative)) for power in powers]), np.maximum(powers - derivative, 0)


def fit_local_polynomial(
    time_s: np.ndarray, signals: np.ndarray, noise: np.ndarray, centre_s: float, order: int
) -> LocalPolynomial:
    """Fit a polynomial in time to samples by weighted least squares.

    `time_s` : (n,). `signals` : (n,) or (n, k). `noise` : (n,) standard deviation of each sample; residuals are
    weighted by 1 / noise. `centre_s` : time about which the polynomial is expanded. `order` : at most n - 1 is used.
    """
    return fit_local_polynomials(time_s, signals, noise, centre_s, (order,))[0]


def fit_local_polynomials(
    time_s: np.ndarray, signals: np.ndarray, noise: np.ndarray, centre_s: float, orders: tuple[int, ...]
) -> list[LocalPolynomial]:
    """Fit one polynomial of each of these orders to the same samples; arguments as in `fit_local_polynomial`.

    One call is faster than separate calls of `fit_local_polynomial`.
    """
    signals = signals.reshape(len(time_s), -1)
    scale = max(float(np.abs(time_s - centre_s).max()), 1e-9)
    highest = min(max(orders), len(time_s) - 1)
    design = np.vander((time_s - centre_s) / scale, highest + 1, increasing=True)
    typical = middle_value(noise)
    weight = np.where(noise > 0, typical / np.where(noise > 0, noise, 1.0), 1.0) if typical > 0 else 1.0
    weight = np.broadcast_to(weight, time_s.shape)[:, None]
    q, r = np.linalg.qr(design * weight)
    rotated = q.T @ (signals * weight)
    fits = []
    for order in orders:
        k = min(order, highest) + 1  # the leading block factorises the lower powers
        inverse = np.linalg.inv(r[:k, :k])
        fits.append(LocalPolynomial(
            centre_s, scale, inverse @ rotated[:k], inverse @ inverse.T, typical, float(time_s[0]), float(time_s[-1]),
            len(time_s),
        ))  # fmt: skip
    return fits
