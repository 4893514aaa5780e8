"""Reliability of a measurement (intraclass correlation, minimal detectable change) and agreement of two methods."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd
import scipy
from scipy import optimize, special

from swinglab.errors import BadTable
from swinglab.finding_words import Note
from swinglab.statistics.design import NO_ERROR
from swinglab.statistics.rows import complete_rows, dropped_words, numbers_of

_Z = float(special.ndtri(0.975))


@dataclass(frozen=True, slots=True)
class Reliability:
    """Reliability of single swings.

    icc, ci_low, ci_high : intraclass correlation of single swings, one-way random model, ICC(1), with 95 % limits.
    sem : standard error of measurement, the SD of a golfer's swings about the golfer's mean. mdc : minimal
    detectable change between two single swings (95 %). between_sd : SD of golfers' true means. sem, mdc and
    between_sd are in the unit of the value.
    """

    icc: float
    ci_low: float
    ci_high: float
    sem: float
    mdc: float
    between_sd: float
    n_golfers: int
    n_swings: int
    warnings: tuple[Note, ...] = ()

    def of_mean(self, swings: int) -> float:
        """Return the intraclass correlation of means of this number of swings."""
        return swings * self.icc / (1 + (swings - 1) * self.icc)


def reliability(table: pd.DataFrame, value: str, *, golfer: str = "golfer") -> Reliability:
    """Return intraclass correlation ICC(1), standard error of measurement and minimal detectable change of a column.

    Variance components are estimated by restricted maximum likelihood; the component between golfers may be negative.
    If all golfers have the same number of swings, the result is the ICC(1) of the analysis of variance; otherwise the
    likelihood uses each golfer's own number, not an average number. The limits are found by inverting Wald's exact F
    test; with equal numbers they are the F limits of Shrout & Fleiss. The ICC depends on the sample: in a homogeneous
    group of golfers it is low even if the measurement is precise.

    Parameters
    ----------
    table : pandas.DataFrame
        One row for each swing.
    value : str
        Numeric column.
    golfer : str
        Column of golfers' codes: which golfer made the swing.

    Raises
    ------
    BadTable
        Only one golfer, no golfer with two swings, or no variation within golfers.

    References
    ----------
    Shrout & Fleiss 1979; Wald 1940; Weir 2005.

    Examples
    --------
    >>> swings = pd.DataFrame({"golfer": list("AAABBBCCC"), "tilt": [20, 21, 22, 30, 29, 31, 25, 26, 24]})
    >>> answer = reliability(swings, "tilt")
    >>> round(answer.icc, 3), round(answer.sem, 2), round(answer.mdc, 2)
    (0.952, 1.0, 2.77)
    """
    rows, dropped = complete_rows(table, numeric=[value], other=[golfer])
    each = rows[value].astype(float).groupby(rows[golfer].to_numpy())
    n, mean = each.size().to_numpy(float), each.mean().to_numpy()
    within = float(((rows[value].astype(float) - each.transform("mean")) ** 2).sum())
    if len(n) < 2 or n.max() < 2:
        raise BadTable(
            "reliability needs two golfers or more, and two swings or more of at least one of them",
            do="measure more golfers or swings",
        )
    if not within > NO_ERROR * float((rows[value].astype(float) ** 2).sum()):
        raise BadTable(
            f"each golfer has the same {value} in all swings, so there is no variation within golfers to estimate",
            do="check the values of the column",
        )
    oneway = _OneWay(n, mean, within)
    icc = oneway.reml()
    ci_low, ci_high = oneway.limits()
    ratio = icc / (1 - icc)
    variance = oneway.residual_variance(ratio)
    sem = float(np.sqrt(variance))
    warnings = dropped_words(dropped)
    if icc <= 0:
        warnings.append(Note("icc_not_positive"))
    single = int((n == 1).sum())
    if single:
        warnings.append(Note("single_swings", golfers=single))
    between = float(np.sqrt(max(ratio, 0.0) * variance))
    return Reliability(
        icc,
        ci_low,
        ci_high,
        sem,
        float(_Z * np.sqrt(2) * sem),
        between,
        len(n),
        int(n.sum()),
        tuple(warnings),
    )


@dataclass(frozen=True, slots=True, eq=False)
class _OneWay:
    """One-way random model in terms of golfer means; ratio = variance between golfers / variance within.

    n : (G,) swings of each golfer. mean : (G,) golfer means. within : sum of squares about them.
    """

    n: np.ndarray
    mean: np.ndarray
    within: float

    def parts(self, ratio: float) -> tuple[np.ndarray, np.ndarray]:
        """Return weights of the means of G golfers, (G,), and the means' squared deviations from their weighted mean.

        `ratio` : variance between golfers divided by variance within golfers.
        """
        w = self.n / (1 + self.n * ratio)
        return w, (self.mean - np.average(self.mean, weights=w)) ** 2

    def residual_variance(self, ratio: float) -> float:
        w, square = self.parts(ratio)
        return float((self.within + (w * square).sum()) / (self.n.sum() - 1))

    def criteria(self, icc: np.ndarray) -> np.ndarray:
        """Return -2 log restricted likelihood, up to a constant, for m values of the intraclass correlation, (m,)."""
        tied = 1 + self.n * (icc / (1 - icc))[:, None]
        w = self.n / tied
        centre = (w @ self.mean) / w.sum(axis=1)
        total = self.within + (w * (self.mean - centre[:, None]) ** 2).sum(axis=1)
        return (self.n.sum() - 1) * np.log(total) + np.log(tied).sum(axis=1) + np.log(w.sum(axis=1))

    def slope(self, icc: float) -> float:
        """Return the derivative of `criteria` at `icc` with respect to (variance between / variance within golfers)."""
        w, square = self.parts(icc / (1 - icc))
        lost = (w**2 * square).sum() / self.residual_variance(icc / (1 - icc))
        return float(w.sum() - (w**2).sum() / w.sum() - lost)

    @property
    def lowest(self) -> float:
        """Lowest possible intraclass correlation with these numbers of swings."""
        return -1 / (self.n.max() - 1)

    def reml(self) -> float:
        margin = 1e-9
        grid = np.linspace(self.lowest + margin, 1 - margin, 401)
        place = int(np.argmin(self.criteria(grid)))
        low, high = grid[max(place - 1, 0)], grid[min(place + 1, len(grid) - 1)]
        if self.slope(low) < 0 < self.slope(high):
            return float(optimize.brentq(self.slope, low, high, xtol=1e-14))
        return float(grid[place])

    def limits(self) -> tuple[float, float]:
        golfers, swings = len(self.n), self.n.sum()
        mean_square = self.within / (swings - golfers)

        def f(icc: float) -> float:
            w, square = self.parts(icc / (1 - icc))
            return float((w * square).sum() / (golfers - 1) / mean_square)

        return tuple(  # type: ignore[return-value]
            _crossing(f, scipy.stats.f.ppf(q, golfers - 1, swings - golfers), self.lowest)
            for q in (0.975, 0.025)
        )


def _crossing(f: Callable[[float], float], target: float, lowest: float) -> float:
    """ICC at which a decreasing function equals the target; the end of the range if it never does."""
    low, high = lowest + 1e-12, 1 - 1e-12
    if f(low) <= target:
        return lowest
    if f(high) >= target:
        return 1.0
    return float(optimize.brentq(lambda icc: f(icc) - target, low, high, xtol=1e-14))


@dataclass(frozen=True, slots=True)
class Agreement:
    """Bias and limits of agreement of two methods a and b, in their unit; positive if a is larger.

    bias : mean of a - b. sd : SD of a - b. lower, upper : 95 % limits of agreement, bias - 1.96 sd and bias + 1.96 sd.
    bias_low, bias_high and so on : limits of the 95 % confidence intervals of bias, lower and upper. n : number of
    pairs.
    """

    bias: float
    bias_low: float
    bias_high: float
    sd: float
    lower: float
    lower_low: float
    lower_high: float
    upper: float
    upper_low: float
    upper_high: float
    n: int
    warnings: tuple[Note, ...] = ()


def agreement(
    a: Sequence[float] | np.ndarray | pd.Series, b: Sequence[float] | np.ndarray | pd.Series
) -> Agreement:
    """Return bias and limits of agreement of two methods on the same cases; the bias is positive if a is larger.

    `a`, `b` : (n,) values of the two methods, in the same unit and order. The confidence intervals use t with n - 1
    degrees of freedom and, for a limit of agreement, the variance sd^2 (1/n + 1.96^2 / (2 (n - 1))). The pairs must be
    independent, for instance one for each golfer; use `agreement_by_golfer` for repeated swings.

    Raises
    ------
    BadTable
        Unequal lengths, or fewer than three pairs.

    References
    ----------
    Bland & Altman 1986, 1995, 1999.

    Examples
    --------
    >>> answer = agreement([10.0, 12.0, 15.0, 11.0], [9.0, 12.5, 14.0, 10.0])
    >>> answer.bias, round(answer.lower, 2), round(answer.upper, 2)
    (0.625, -0.84, 2.09)
    """
    first, second = numbers_of(a, "a"), numbers_of(b, "b")
    if len(first) != len(second):
        raise BadTable(
            f"two methods must have measured the same cases, but there are {len(first)} and {len(second)} values",
            do="give one value of each method for every case",
        )
    whole = np.isfinite(first) & np.isfinite(second)
    difference, level = (first - second)[whole], (first + second)[whole] / 2
    n = len(difference)
    if n < 3:
        raise BadTable(
            f"limits of agreement need three pairs of values or more, but there are {n}", do="give more pairs"
        )
    bias, sd = float(difference.mean()), float(difference.std(ddof=1))
    t = float(scipy.stats.t.ppf(0.975, n - 1))
    half_bias = t * sd / float(np.sqrt(n))
    half_limit = t * sd * float(np.sqrt(1 / n + _Z**2 / (2 * (n - 1))))
    lower, upper = bias - _Z * sd, bias + _Z * sd
    warnings = dropped_words(int((~whole).sum()))
    if sd > 0 and np.ptp(level) > 0:
        trend = scipy.stats.linregress(level, difference)
        if trend.pvalue < 0.05:
            warnings.append(Note("difference_changes", slope=float(trend.slope), p=float(trend.pvalue)))
    return Agreement(
        bias, bias - half_bias, bias + half_bias, sd, lower, lower - half_limit, lower + half_limit, upper,
        upper - half_limit, upper + half_limit, n, tuple(warnings),
    )  # fmt: skip
