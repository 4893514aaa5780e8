"""Slopes corrected for the measurement error of the predictor."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd
import scipy

from swinglab.errors import BadRequest, BadTable
from swinglab.finding_words import Note
from swinglab.statistics.rows import dropped_words, numbers_of

#: No correction is made where the error is this share of the observed variance or more.
MOST_ERROR = 0.8


@dataclass(frozen=True, slots=True)
class CorrectedSlope:
    """A slope corrected for measurement error of the predictor, in outcome units per predictor unit.

    estimate, standard_error, df, p, ci_low, ci_high : after the correction (95 % limits). observed,
    observed_standard_error : before the correction. reliability : share of the predictor's observed variance that is
    not measurement error. corrected : False if this share is too small for a correction; the estimate is then the
    observed slope.
    """

    estimate: float
    standard_error: float
    df: float
    p: float
    ci_low: float
    ci_high: float
    observed: float
    observed_standard_error: float
    reliability: float
    corrected: bool
    warnings: tuple[Note, ...] = ()


def correct_observed_slope(
    observed: float,
    standard_error: float,
    df: float,
    *,
    predictor_variance: float,
    predictor_df: float,
    error_variance: float,
    error_covariance: float = 0.0,
) -> CorrectedSlope:
    """Correct a fitted slope for the known measurement error of its predictor (regression dilution).

    The corrected slope is (b s^2 - c) / (s^2 - v), with observed slope b, observed variance s^2 of the predictor,
    error variance v, and covariance c of the errors of predictor and outcome. The standard error (delta method)
    includes the uncertainty of b and of s^2. With one predictor and n cases, it agrees with Fuller's standard error
    for a known error variance up to terms of order 1/n^2.

    Parameters
    ----------
    observed, standard_error, df : float
        The slope as fitted, by any method, with its standard error and degrees of freedom.
    predictor_variance, predictor_df : float
        Observed variance of the predictor at the level of the slope (within or between golfers), and its
        degrees of freedom.
    error_variance : float
        Variance of the predictor's error at that level.
    error_covariance : float
        Covariance of the errors of predictor and outcome at that level; 0 where the errors are independent.

    Raises
    ------
    BadRequest
        A negative error variance, or an observed variance that is not above 0.

    References
    ----------
    Fuller 1987, section 1.2; Hutcheon, Chiolero & Hanley 2010.

    Examples
    --------
    >>> answer = correct_observed_slope(0.345, 0.05, 200, predictor_variance=13.0, predictor_df=200,
    ...                                 error_variance=4.0)
    >>> round(answer.reliability, 3), round(answer.estimate, 2)
    (0.692, 0.5)
    """
    if not error_variance >= 0 or not np.isfinite(error_variance):
        raise BadRequest(
            f"error_variance must be a number of 0 or more, not {error_variance}",
            do="give the variance of the measurement error of the predictor, at the level of the slope",
        )
    if not predictor_variance > 0:
        raise BadRequest(
            f"predictor_variance must be above 0, not {predictor_variance}",
            do="give the variance of the predictor over the rows of the regression",
        )
    true_variance = predictor_variance - error_variance
    share = error_variance / predictor_variance
    warnings = []
    corrected = share < MOST_ERROR
    estimate, error = observed, standard_error
    if corrected:
        estimate = (observed * predictor_variance - error_covariance) / true_variance
        by_slope = predictor_variance / true_variance
        by_variance = (error_covariance - observed * error_variance) / true_variance**2
        spread = 2 * predictor_variance**2 / predictor_df
        error = float(np.sqrt((by_slope * standard_error) ** 2 + by_variance**2 * spread))
    else:
        warnings.append(Note("too_much_error", share=share))
    if corrected and share > 0.5:
        warnings.append(Note("much_error_few" if predictor_df < 50 else "much_error", share=share))
    half = float(scipy.stats.t.ppf(0.975, df)) * error
    p = float(2 * scipy.stats.t.sf(abs(estimate) / error, df)) if error > 0 else np.nan
    return CorrectedSlope(
        float(estimate), error, df, p, float(estimate - half), float(estimate + half), observed, standard_error,
        1 - share, corrected, tuple(warnings),
    )  # fmt: skip


def correct_slope(
    x: Sequence[float] | np.ndarray | pd.Series,
    y: Sequence[float] | np.ndarray | pd.Series,
    *,
    error_variance: float | Sequence[float] | np.ndarray | pd.Series,
    error_covariance: float = 0.0,
) -> CorrectedSlope:
    """Return the least-squares slope of y on x, corrected for the measurement error of x.

    Error in x multiplies a slope by the reliability of x (variance of the true values / observed variance).

    Parameters
    ----------
    x, y : sequence of float, (n,)
        Independent cases; pairs with a missing value are left out.
    error_variance : float or sequence of float, (n,)
        Variance of the error of x, known from another source. If one value is given for each case, their mean is used.
    error_covariance : float
        Covariance of the errors of x and y, for instance because both use the same markers.

    Returns
    -------
    CorrectedSlope
        In units of y per unit of x; t with n - 2 degrees of freedom.

    Raises
    ------
    BadRequest
        A negative error variance.
    BadTable
        Unequal lengths, fewer than four pairs, or x or y without any variation.

    References
    ----------
    Fuller 1987, section 1.2.

    Examples
    --------
    >>> rng = np.random.default_rng(1)
    >>> true = rng.normal(0, 3, 400)
    >>> answer = correct_slope(true + rng.normal(0, 2, 400), 0.5 * true, error_variance=4.0)
    >>> 0.45 < answer.estimate < 0.55
    True
    """
    given, outcome = numbers_of(x, "x"), numbers_of(y, "y")
    if len(given) != len(outcome):
        raise BadTable(
            f"x and y must have the same length, but they have {len(given)} and {len(outcome)} values",
            do="give one value of x and one of y for each case",
        )
    whole = np.isfinite(given) & np.isfinite(outcome)
    errors = numbers_of(np.atleast_1d(error_variance), "error_variance")
    if len(errors) not in (1, len(given)):
        raise BadTable(
            f"error_variance must be one number, or one for each of the {len(given)} pairs of x and y, but it has "
            f"{len(errors)} numbers",
            do="give one number",
        )
    variance = np.broadcast_to(errors, given.shape)[whole]
    seen, answers = given[whole], outcome[whole]
    if len(seen) < 4 or not min(np.var(seen), np.var(answers)) > 0:
        raise BadTable(
            f"a slope needs four pairs of x and y or more, in which neither x nor y is constant; {len(seen)} pairs are "
            "given",
            do="give more pairs with different values",
        )
    fit = scipy.stats.linregress(seen, answers)
    answer = correct_observed_slope(
        float(fit.slope),
        float(fit.stderr),
        len(seen) - 2.0,
        predictor_variance=float(seen.var(ddof=1)),
        predictor_df=len(seen) - 1.0,
        error_variance=float(variance.mean()),
        error_covariance=error_covariance,
    )
    return _with_words(answer, dropped_words(int((~whole).sum())))


def _with_words(answer: CorrectedSlope, words: Sequence[Note]) -> CorrectedSlope:
    values = {name: getattr(answer, name) for name in answer.__slots__}
    return CorrectedSlope(**{**values, "warnings": (*words, *answer.warnings)})
