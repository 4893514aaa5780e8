"""General signal processing: filters, local polynomials, noise level, periods of a mask, vectors and planes."""

from swinglab.signals.departure import Departure, find_departure
from swinglab.signals.filters import design_frequency, filter_stretches, gain, smooth, white_noise_passed
from swinglab.signals.local_polynomial import LocalPolynomial, fit_local_polynomial, fit_local_polynomials
from swinglab.signals.noise_level import noise_from_differences, robust_sd
from swinglab.signals.sliding_polynomial import polynomial_weights, sliding_polynomial
from swinglab.signals.stretches import stretches
from swinglab.signals.vectors import cross, middle_value, principal_axes, unit

__all__ = [
    "Departure",
    "LocalPolynomial",
    "cross",
    "design_frequency",
    "filter_stretches",
    "find_departure",
    "fit_local_polynomial",
    "fit_local_polynomials",
    "gain",
    "middle_value",
    "noise_from_differences",
    "polynomial_weights",
    "principal_axes",
    "robust_sd",
    "sliding_polynomial",
    "smooth",
    "stretches",
    "unit",
    "white_noise_passed",
]  # fmt: skip
