"""Sensitivity to an unmeasured confounder: how strong it must be to reduce a slope to 0."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
import scipy

from swinglab.errors import BadRequest
from swinglab.statistics.candidates import moving_columns, without
from swinglab.statistics.golfer_means import fit_golfer_means


@dataclass(frozen=True, slots=True)
class Robustness:
    """Strength that an unmeasured confounder would need to explain a slope, as shares of residual variance.

    Residual variance is the variance that the other predictors do not explain. value : a confounder that explains
    this share of the predictor's and of the outcome's residual variance reduces the slope to 0. value_p : a confounder
    that explains this share of both raises p to alpha; 0 if p already exceeds alpha. partial_r2 : share of the
    outcome's residual variance that the predictor explains. If a confounder explained all remaining variance of the
    outcome, it would reduce the slope to 0 by explaining the share partial_r2 of the predictor's residual variance.
    t, df : test statistic of the slope and its degrees of freedom.
    """

    value: float
    value_p: float
    partial_r2: float
    t: float
    df: float


def robustness_value(t: float, df: float, *, alpha: float = 0.05) -> Robustness:
    """Return how strong an unmeasured confounder must be to explain a coefficient of a least-squares regression.

    Parameters
    ----------
    t : float
        The coefficient divided by its standard error.
    df : float
        Residual degrees of freedom, above 1.
    alpha : float
        Two-sided level of `value_p`.

    Raises
    ------
    BadRequest
        t is not a number, df is 1 or less, or alpha is not between 0 and 1.

    References
    ----------
    Cinelli & Hazlett 2020, sections 4.2 and 4.4.

    Examples
    --------
    >>> round(robustness_value(4.18445, 783).value, 3)
    0.139
    """
    if not (np.isfinite(t) and df > 1 and 0 < alpha < 1):
        raise BadRequest(
            "a robustness value needs a number t, degrees of freedom df above 1, and alpha between 0 and 1, but t is "
            f"{t}, df is {df} and alpha is {alpha}",
            do="correct the values",
        )
    f = abs(t) / np.sqrt(df)
    # A model that includes the confounder has one degree of freedom less.
    f_needed = float(scipy.stats.t.ppf(1 - alpha / 2, df - 1)) / np.sqrt(df - 1)
    return Robustness(_value(f), _value_at_level(f, f_needed), float(t**2 / (t**2 + df)), float(t), float(df))


def _value(f: float) -> float:
    return float((np.sqrt(f**4 + 4 * f**2) - f**2) / 2) if f > 0 else 0.0


def _value_at_level(f: float, needed: float) -> float:
    """Robustness value of the part of f beyond `needed` (Cinelli & Hazlett 2020, section 4.4)."""
    beyond = f - needed
    if beyond <= 0:
        return 0.0
    value = _value(beyond)
    return value if f < 1 / needed else float((f**2 - needed**2) / (1 + f**2))


def robustness_between(
    table: pd.DataFrame, outcome: str, predictor: str, *, adjust: tuple[str, ...] = (), golfer: str = "golfer"
) -> Robustness:
    """Return how strong an unmeasured confounder must be to explain a slope between golfers.

    The slope is that of a least-squares regression on golfer means. `table` : one row for each swing. `outcome`,
    `predictor`, `adjust` (covariates), `golfer` : columns.
    """
    fit = fit_golfer_means(table, outcome, [predictor, *adjust], golfer=golfer)
    row = fit.coefficients.loc[[predictor]].iloc[0]
    return robustness_value(float(row["t"]), float(row["df"]))


def robustness_within(
    table: pd.DataFrame,
    outcome: str,
    predictor: str,
    *,
    adjust: tuple[str, ...] = (),
    cell: str = "golfer",
    terms: int = 0,
) -> Robustness:
    """Return how strong an unmeasured confounder must be to explain the slope within golfers.

    The slope is that of a least-squares regression with an intercept for each golfer, or for each golfer's cell. This
    regression treats swings as independent and assumes the same slope for every golfer, unlike the answer to a hunch.
    Use it as a description of how strong a confounder would have to be, not as a test.

    Parameters
    ----------
    table : pandas.DataFrame
        One row for each swing; rows with a missing value are not used.
    outcome, predictor, adjust : str, str, tuple of str
        Numeric columns; `adjust` are the covariates.
    cell : str
        Column of the groups of swings that have an intercept each: a golfer's swings, or those of one session and club.
    terms : int
        Number of coefficients, such as those of drift, that were removed from the table before.

    Raises
    ------
    BadRequest
        There are too few swings, or the predictor does not vary within cells at constant covariates.
    """
    names = [outcome, predictor, *adjust]
    rows = table[[cell, *names]].dropna()
    own = (rows[names] - rows.groupby(cell)[names].transform("mean")).to_numpy(float)
    cells = rows[cell].nunique()
    z = moving_columns(own[:, 2:])
    y, x = without(z, own[:, :2]).T
    df = len(y) - cells - terms - (np.linalg.matrix_rank(z) if z.size else 0) - 1
    if df <= 1:
        raise BadRequest(
            f"{len(y)} swings in {cells} groups are too few for the standard error of a slope within golfers",
            do="use fewer covariates, or measure more swings",
        )
    if x @ x <= 1e-12 * (own[:, 1] @ own[:, 1]) or not x.any():
        raise BadRequest(
            f"{predictor} does not vary within golfers at constant covariates, so it has no slope within golfers",
            do="use other covariates",
        )
    b = x @ y / (x @ x)
    rest = y - b * x
    return robustness_value(float(b / np.sqrt(rest @ rest / df / (x @ x))), float(df))
