"""Record of an estimate with its standard error, p value and confidence limits, used for all methods."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd
import scipy

_GONE = float("nan")
#: Confidence levels of the limits: 95 % as usual, 90 % for an equivalence test, 80 % for weaker support of equivalence.
LEVELS = (0.95, 0.90, 0.80)


@dataclass(frozen=True, slots=True)
class Estimate:
    """An estimate with its standard error, degrees of freedom, two-sided p, and 95, 90 and 80 % confidence limits.

    A value that a method does not provide is NaN.
    """

    estimate: float = _GONE
    standard_error: float = _GONE
    df: float = _GONE
    p: float = _GONE
    ci_low: float = _GONE
    ci_high: float = _GONE
    ci90_low: float = _GONE
    ci90_high: float = _GONE
    ci80_low: float = _GONE
    ci80_high: float = _GONE

    @classmethod
    def by_t(cls, estimate: float, standard_error: float, df: float, *, p: float | None = None) -> Estimate:
        """Return an estimate with p and limits from the t distribution.

        `df` : degrees of freedom of the standard error; infinite for the normal distribution (stored as NaN). If `p` is
        given, it replaces the p of the t test.

        Examples
        --------
        >>> answer = Estimate.by_t(1.0, 0.5, 10)
        >>> round(answer.p, 3), round(answer.ci_low, 2), round(answer.ci90_low, 2)
        (0.073, -0.11, 0.09)
        """
        estimate, error, df = float(estimate), float(standard_error), float(df)
        half = [float(scipy.stats.t.ppf((1 + level) / 2, df)) * error for level in LEVELS]
        if p is None:
            p = float(2 * scipy.stats.t.sf(abs(estimate) / error, df)) if error > 0 else _GONE
        limits = [end for width in half for end in (estimate - width, estimate + width)]
        return cls(estimate, error, df if np.isfinite(df) else _GONE, float(p), *limits)

    @classmethod
    def of_term(cls, coefficients: pd.DataFrame, term: str) -> Estimate:
        """Return the estimate of one coefficient of a fit.

        p and the 95 % limits are taken from the table `coefficients`; the 90 and 80 % limits are computed from t.
        """
        names = ["estimate", "standard_error", "df", "p", "ci_low", "ci_high"]
        value, error, df, p, low, high = coefficients.loc[[term], names].to_numpy(float)[0]
        return replace(cls.by_t(value, error, df, p=p), ci_low=float(low), ci_high=float(high))

    def stretched(self, factor: float) -> Estimate:
        """Return a copy with estimate, standard error and limits multiplied by a factor above 0; p is unchanged."""
        fixed = ("df", "p")
        return Estimate(
            **{name: getattr(self, name) * (1.0 if name in fixed else factor) for name in self.__slots__}
        )

    def moved(self, estimate: float, standard_error: float) -> Estimate:
        """Return a copy with another estimate and standard error.

        The distance of each limit from the estimate, in standard errors, is unchanged; so are df and p.
        """
        ratio = standard_error / self.standard_error
        ends = {
            name: estimate + ratio * (getattr(self, name) - self.estimate)
            for name in self.__slots__
            if name.startswith("ci")
        }
        return replace(self, estimate=estimate, standard_error=standard_error, **ends)
