"""An estimate with its standard error, test and confidence limits, in one record for all methods."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd
import scipy

_GONE = float("nan")
#: Levels of the further intervals: 90 % for an equivalence test, 80 % for weaker support of equivalence.
LEVELS = (0.95, 0.90, 0.80)


@dataclass(frozen=True, slots=True)
class Estimate:
    """A number with its standard error, degrees of freedom, two-sided p, and 95, 90 and 80 % limits.

    NaN marks what a method does not give.
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
        """Estimate with t limits and p from a standard error and its degrees of freedom (infinite: normal).

        If `p` is given, it replaces the p of the t test.

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
        """Estimate of one coefficient, with p and 95 % limits from the fit and the other limits from t."""
        names = ["estimate", "standard_error", "df", "p", "ci_low", "ci_high"]
        value, error, df, p, low, high = coefficients.loc[[term], names].to_numpy(float)[0]
        return replace(cls.by_t(value, error, df, p=p), ci_low=float(low), ci_high=float(high))

    def stretched(self, factor: float) -> Estimate:
        """The estimate with value, standard error and limits multiplied by a factor above 0; p is unchanged."""
        fixed = ("df", "p")
        return Estimate(
            **{name: getattr(self, name) * (1.0 if name in fixed else factor) for name in self.__slots__}
        )

    def moved(self, estimate: float, standard_error: float) -> Estimate:
        """Replace estimate and standard error.

        Each limit keeps its distance from the estimate in standard errors; df and p are unchanged.
        """
        ratio = standard_error / self.standard_error
        ends = {
            name: estimate + ratio * (getattr(self, name) - self.estimate)
            for name in self.__slots__
            if name.startswith("ci")
        }
        return replace(self, estimate=estimate, standard_error=standard_error, **ends)
