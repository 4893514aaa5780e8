"""Signal processing without a word of golf: filters, local polynomials, noise, stretches of a mask, planes."""

from swinglab.signals.local_polynomial import LocalPolynomial, fit_local_polynomial

__all__ = ["LocalPolynomial", "fit_local_polynomial"]
