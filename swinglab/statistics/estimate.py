"""An estimate with its error, test and intervals, however it was fitted."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd
import scipy

_GONE = float("nan")
#: Levels of the intervals kept beside the one of 95 %: equivalence needs 90 %, its support 80 %.
LEVELS = (0.95, 0.90, 0.80)


@dataclass(frozen=True, slots=True)
class Estimate:
    """A number with its standard error, degrees of freedom, two-sided p, and 95, 90 and 80 % limits.

    NaN stands for what a method does not give.
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
        """From an error and its degrees of freedom (infinite: normal), by t; `p` from elsewhere where given.

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
        """A coefficient of a fit, its p and 95 % limits as the fit has them, the other limits by t."""
        names = ["estimate", "standard_error", "df", "p", "ci_low", "ci_high"]
        value, error, df, p, low, high = coefficients.loc[[term], names].to_numpy(float)[0]
        return replace(cls.by_t(value, error, df, p=p), ci_low=float(low), ci_high=float(high))

    def stretched(self, factor: float) -> Estimate:
        """The estimate, its error and its limits times a factor above 0; the test stays."""
        fixed = ("df", "p")
        return Estimate(
            **{name: getattr(self, name) * (1.0 if name in fixed else factor) for name in self.__slots__}
        )

    def moved(self, estimate: float, standard_error: float) -> Estimate:
        """Another estimate and error; the limits keep their shape in units of the error, df and p stay."""
        ratio = standard_error / self.standard_error
        ends = {
            name: estimate + ratio * (getattr(self, name) - self.estimate)
            for name in self.__slots__
            if name.startswith("ci")
        }
        return replace(self, estimate=estimate, standard_error=standard_error, **ends)
