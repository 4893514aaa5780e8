"""Least-squares regression on golfer means, in which every golfer counts once."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np
import pandas as pd

from swinglab.errors import BadTable
from swinglab.finding_words import Note
from swinglab.statistics.design import (
    INTERCEPT,
    NO_ERROR,
    Design,
    build_design,
    collinear_faults,
    refuse_faults,
)
from swinglab.statistics.mixed import FEW_GOLFERS, coefficient_table

#: Values of a coefficient that `means_without_each` returns.
_TERM = ["estimate", "standard_error", "p"]


@dataclass(frozen=True, slots=True, eq=False)
class GolferMeansFit:
    """A regression on golfer means.

    coefficients : one row for the intercept and each predictor, with estimate, standard_error, df, t, p, ci_low,
    ci_high (95 %). covariance : of the coefficients. residual_variance : of a golfer's mean about the regression.
    means : one row for each golfer, with the means of the outcome and of the predictors after dummy coding. fitted,
    residuals, leverage : one value for each golfer; leverage is the diagonal of the hat matrix. dropped : number of
    rows that are not used because of a missing value.
    """

    outcome: str
    coefficients: pd.DataFrame
    covariance: pd.DataFrame
    residual_variance: float
    means: pd.DataFrame
    warnings: tuple[Note, ...]
    n_golfers: int
    n_rows: int
    dropped: int
    fitted: pd.Series
    residuals: pd.Series
    leverage: pd.Series


def fit_golfer_means(
    table: pd.DataFrame, outcome: str, predictors: Sequence[str], *, golfer: str = "golfer"
) -> GolferMeansFit:
    """Regress the golfers' mean outcomes on their mean predictors by least squares; every golfer counts once.

    t has G - p degrees of freedom, for G golfers and p coefficients.

    Parameters
    ----------
    table : pandas.DataFrame
        One row for each swing; rows with a missing value are not used.
    outcome, predictors : str, sequence of str
        Columns. A text predictor becomes the share of the golfer's swings at each level. For a property of the
        golfer, such as sex, the share is 0 or 1.
    golfer : str
        Column of golfers' codes: which golfer made the swing.

    Returns
    -------
    GolferMeansFit

    Raises
    ------
    BadTable
        A table to which the model cannot be fitted; one message lists all faults.

    Examples
    --------
    >>> swings = pd.DataFrame({
    ...     "golfer": list("AABBCCDD"), "tilt": [1.0, 2, 2, 4, 1, 3, 2, 5], "angle": [0.0, 1, 2, 3, 0, 2, 1, 4]})
    >>> fit_golfer_means(swings, "angle", ["tilt"]).coefficients.loc["tilt", "df"].item()
    2.0
    """
    design = build_design(table, outcome, predictors, golfer=golfer)
    x, y = golfer_means(design)
    G, p = x.shape
    fit = _fit(design, x, y)
    covariance = fit.variance * fit.back @ fit.back.T
    names = list(design.names)
    few = G < FEW_GOLFERS
    golfers = pd.Index(design.golfers, name="golfer")
    return GolferMeansFit(
        outcome=outcome,
        coefficients=coefficient_table(
            names, fit.beta, np.sqrt(np.diag(covariance)), np.full(p, float(G - p))
        ),
        covariance=pd.DataFrame(covariance, index=names, columns=names),
        residual_variance=fit.variance,
        means=pd.DataFrame(
            np.column_stack([y, x[:, 1:]]),
            index=golfers,
            columns=[outcome, *names[1:]],
        ),
        warnings=(Note("few_golfers_means", golfers=G),) if few else (),
        n_golfers=G,
        n_rows=design.n_rows,
        dropped=design.dropped,
        fitted=pd.Series(x @ fit.beta, golfers),
        residuals=pd.Series(y - x @ fit.beta, golfers),
        leverage=pd.Series(((x @ fit.back) ** 2).sum(axis=1), golfers),
    )


def means_without_each(
    table: pd.DataFrame, outcome: str, predictors: Sequence[str], *, term: str, golfer: str = "golfer"
) -> dict[Any, dict[str, float]]:
    """Return the coefficient `term` of `fit_golfer_means` with each golfer left out in turn.

    The result maps each golfer to estimate, standard_error and p of the fit without that golfer. A golfer is missing
    from the result if the other golfers do not allow a fit with the same coefficients, for instance because only this
    golfer has a level of a text predictor; such a case needs a separate call of `fit_golfer_means`.
    """
    design = build_design(table, outcome, predictors, golfer=golfer)
    x, y = golfer_means(design)
    place, left = design.place(term), x.shape[0] - 1 - x.shape[1]
    estimates, errors, able = [], [], []
    for row, one in enumerate(design.golfers):
        with suppress(BadTable):
            fit = _fit(design, np.delete(x, row, axis=0), np.delete(y, row))
            estimates.append(fit.beta[place])
            errors.append(np.sqrt(fit.variance * (fit.back[place] @ fit.back[place])))
            able.append(one)
    fits = coefficient_table(able, np.array(estimates), np.array(errors), np.full(len(able), float(left)))
    return {
        one: dict(zip(_TERM, row, strict=True)) for one, row in zip(able, fits[_TERM].to_numpy(), strict=True)
    }


class _Fit(NamedTuple):
    """Least squares on golfers' means: coefficients (p,), residual variance, inverse (p, p) of the QR factor R."""

    beta: np.ndarray
    variance: float
    back: np.ndarray


def _fit(design: Design, x: np.ndarray, y: np.ndarray) -> _Fit:
    _check_means(design, x)
    beta, *_ = np.linalg.lstsq(x, y, rcond=None)
    rest = y - x @ beta
    variance = float(rest @ rest) / (len(x) - x.shape[1])
    if variance <= NO_ERROR * float(y @ y):
        raise BadTable(
            f"the golfers' means of {design.outcome} are fitted without any error (all residuals are 0), so no "
            "standard error can be estimated",
            do=f"check that {design.outcome} was not computed from the predictors",
        )
    return _Fit(beta, variance, np.linalg.inv(np.linalg.qr(x)[1]))


def golfer_means(design: Design) -> tuple[np.ndarray, np.ndarray]:
    """Return each of G golfers' means of the p predictors, (G, p), and of the outcome, (G,)."""
    number = np.bincount(design.codes, minlength=design.n_golfers)
    sums = np.zeros((design.n_golfers, design.x.shape[1] + 1))
    np.add.at(sums, design.codes, np.column_stack([design.x, design.y]))
    means = sums / number[:, None]
    return means[:, :-1], means[:, -1]


def _check_means(design: Design, x: np.ndarray) -> None:
    G, p = x.shape
    if p >= G:
        raise BadTable(
            f"{G} golfers for {p} coefficients are too few: a regression on golfer means needs more golfers than "
            "coefficients",
            do="use fewer predictors, or measure more golfers",
        )
    flat = [
        name
        for name, column in zip(design.names, x.T, strict=True)
        if name != INTERCEPT and np.ptp(column) <= 1e-12 * max(np.abs(column).max(), 1e-300)
    ]
    faults = [f"the golfers' means of {name} are all the same" for name in flat]
    faults += [] if faults else [f"in golfers' means, {fault}" for fault in collinear_faults(x, design.names)]
    refuse_faults(faults)
