"""A polynomial in time, fitted to a few frames, with the covariance of what is read from it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True, slots=True, eq=False)
class LocalPolynomial:
    """Least-squares polynomial of one or several signals about `centre_s`.

    coefficients : (order + 1, n_signals), in powers of (t - centre) / scale. unit_covariance : of the
    coefficients for noise of 1. noise : standard deviation of one sample, in the signal's unit.
    first_s, last_s : the time of the first and last sample that was used. n : how many there were.
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
        """Highest power in the polynomial."""
        return len(self.coefficients) - 1

    def _powers(self, time_s: float, derivative: int) -> np.ndarray:
        x = (time_s - self.centre_s) / self.scale_s
        row = np.zeros(self.order + 1)
        for power in range(derivative, self.order + 1):
            factor = np.prod(np.arange(power - derivative + 1, power + 1))
            row[power] = factor * x ** (power - derivative)
        return row / self.scale_s**derivative

    def at(self, time_s: float, derivative: int = 0) -> np.ndarray:
        """(n_signals,) value, or its derivative, at a time."""
        return self._powers(time_s, derivative) @ self.coefficients

    def error_at(self, time_s: float, derivative: int = 0) -> float:
        """Standard error, from noise alone, of one signal's value or derivative at a time."""
        row = self._powers(time_s, derivative)
        return self.noise * float(np.sqrt(max(row @ self.unit_covariance @ row, 0.0)))

    def root(self, level: float, near_s: float, derivative: int = 0) -> float:
        """The time nearest `near_s` at which the first signal (or its derivative) is `level`; NaN if none."""
        wanted = np.polynomial.Polynomial(self.coefficients[:, 0])
        if derivative:
            wanted = wanted.deriv(derivative) / self.scale_s**derivative
        roots = (wanted - level).roots()
        real = roots.real[np.abs(roots.imag) < 1e-9 * (1 + np.abs(roots.real))]
        times = self.centre_s + self.scale_s * real
        margin = (self.last_s - self.first_s) / max(self.n - 1, 1)
        times = times[(times >= self.first_s - margin) & (times <= self.last_s + margin)]
        return float(times[np.argmin(np.abs(times - near_s))]) if len(times) else float("nan")


def fit_local_polynomial(
    time_s: np.ndarray, signals: np.ndarray, noise: np.ndarray, centre_s: float, order: int
) -> LocalPolynomial:
    """Fit a polynomial of this order, at most one below the number of samples.

    time_s : (n,). signals : (n,) or (n, k). noise : (n,) standard deviation of each sample; samples with
    more noise weigh less.
    """
    signals = signals.reshape(len(time_s), -1)
    order = min(order, len(time_s) - 1)
    scale = max(float(np.abs(time_s - centre_s).max()), 1e-9)
    design = np.vander((time_s - centre_s) / scale, order + 1, increasing=True)
    typical = float(np.median(noise))
    weight = np.where(noise > 0, typical / np.where(noise > 0, noise, 1.0), 1.0) if typical > 0 else 1.0
    weight = np.broadcast_to(weight, time_s.shape)[:, None]
    q, r = np.linalg.qr(design * weight)
    inverse = np.linalg.inv(r)
    coefficients = inverse @ (q.T @ (signals * weight))
    return LocalPolynomial(
        centre_s, scale, coefficients, inverse @ inverse.T, typical, float(time_s[0]), float(time_s[-1]),
        len(time_s),
    )  # fmt: skip
