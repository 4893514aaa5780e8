"""One golfer's swings as a time series: regression with AR(1) errors and a trend, and the estimate of a step."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from swinglab.errors import BadRequest, BadTable
from swinglab.finding_words import Note
from swinglab.statistics.autoregression import AutoregressiveFit, error_factor, fit_ar1, whiten
from swinglab.statistics.design import code_predictors, collinear_faults, refuse_faults
from swinglab.statistics.permutation import permute_blocks
from swinglab.statistics.rows import complete_rows, dropped_words, numbers_of

TREND = "trend"
_VALUE = "the value"
_FEW_EFFECTIVE = 10
#: A block has so many swings that the correlation of two swings one block apart is below this.
_FORGOTTEN = 0.2


@dataclass(frozen=True, slots=True, eq=False)
class SeriesFit:
    """A regression with AR(1) errors over one golfer's series of swings.

    coefficients : one row for the intercept, each predictor and the trend (per swing), with estimate, standard_error,
    df, t, p, ci_low, ci_high (95 %). autocorrelation : between the errors of neighbouring swings. effective_n : number
    of independent swings that would estimate the mean with the same precision. residual_variance : of a single error.
    log_likelihood : restricted log likelihood. fitted, residuals : one value for each swing used, in the order of play,
    with the index of the table. design : columns of the regression, one row for each swing used. whitened : the same
    columns after the transformation that makes the errors uncorrelated (whitening). error_factor : factor by which this
    transformation multiplies the variance of errors that are independent between swings, such as measurement errors.
    """

    outcome: str
    coefficients: pd.DataFrame
    covariance: pd.DataFrame
    autocorrelation: float
    effective_n: float
    residual_variance: float
    log_likelihood: float
    warnings: tuple[Note, ...]
    n_rows: int
    n_sessions: int
    dropped: int
    fitted: pd.Series
    residuals: pd.Series
    design: pd.DataFrame
    whitened: pd.DataFrame
    error_factor: float


@dataclass(frozen=True, slots=True, eq=False)
class StepFit:
    """Change of level (step) of a series from before to after, in the unit of the values.

    estimate, standard_error, df, t, p, ci_low, ci_high : of the step, with 95 % limits. autocorrelation : between the
    errors of neighbouring swings. effective_n : number of independent swings with the same information about the mean.
    block_p : p of a permutation test that exchanges blocks of block_length swings. block_arrangements : number of
    permutations used. block_p is a rough check of p: with 20 swings there are too few blocks for block_p below .05, and
    at an autocorrelation of .6 it rejects too often (in simulations .09 for 40 swings at nominal .05).
    """

    estimate: float
    standard_error: float
    df: float
    t: float
    p: float
    ci_low: float
    ci_high: float
    autocorrelation: float
    effective_n: float
    block_p: float
    block_length: int
    block_arrangements: int
    n: int
    warnings: tuple[Note, ...] = ()


def fit_series(
    table: pd.DataFrame,
    outcome: str,
    predictors: Sequence[str],
    *,
    order: str,
    trend: bool = True,
    session: str | None = None,
) -> SeriesFit:
    """Regress one golfer's outcome on predictors over the swings, with AR(1) errors and a trend, by REML.

    A model without AR(1) errors and trend can mistake correlated neighbouring swings, or a drift, for an effect.
    The result is valid for this player and these sessions only.

    Parameters
    ----------
    table : pandas.DataFrame
        One golfer's swings, one row each.
    outcome, predictors : str, sequence of str
        Columns; text predictors are coded as ``column[level]``.
    order : str
        Numeric column with the position (or time) of the swing. Missing swings remain as gaps in the order.
    trend : bool
        Whether the model includes a linear drift over the whole series, the coefficient ``trend``, per swing.
    session : str, optional
        Column of the session. Errors of different sessions are independent. If `order` restarts in each session,
        the sessions follow one another in the order in which they first appear in the table.

    Returns
    -------
    SeriesFit

    Raises
    ------
    BadTable
        Swings of more than one golfer, two swings with the same order, a predictor that is a linear combination of
        the trend and other predictors, or too few swings.

    Notes
    -----
    The autocorrelation is not treated as known: p and the confidence limits are averaged over its possible values,
    each weighted by its restricted likelihood and a weak prior (`autoregression.fit_ar1`). `df` are the degrees of
    freedom with which estimate -/+ t times the standard error is as wide as these limits.

    Examples
    --------
    >>> rng = np.random.default_rng(1)
    >>> swings = pd.DataFrame({"order": range(1, 41), "tilt": rng.normal(30, 3, 40)})
    >>> swings["angle"] = -4 + 0.3 * (swings["tilt"] - 30) + rng.normal(0, 1, 40)
    >>> fit = fit_series(swings, "angle", ["tilt"], order="order")
    >>> list(fit.coefficients.index), bool(fit.coefficients.loc["tilt", "p"] < 0.05)
    (['intercept', 'tilt', 'trend'], True)
    """
    names = [predictors] if isinstance(predictors, str) else list(predictors)
    _check_request(table, outcome, names, order)
    others = [*names, *([session] if session else [])]
    rows, dropped = complete_rows(table, numeric=[outcome, order], other=others)
    rows, place, steps = _in_order(rows, order, session)
    x, coded, _, faults = code_predictors(rows, names)
    if trend:
        x, coded = np.column_stack([x, place - place.mean()]), (*coded, TREND)
    n, p = x.shape
    if not faults and n < p + 3:
        faults.append(
            f"{n} swings without missing values are too few for {p} coefficients and an autocorrelation"
        )
    if not faults:
        faults += collinear_faults(x, coded)
    refuse_faults(faults)
    y = rows[outcome].to_numpy(float)
    if np.ptp(y) <= 1e-12 * max(np.abs(y).max(), 1e-300):
        raise BadTable(
            f"every swing has the same {outcome}, so there is no variation to explain",
            do="check the values of the column",
        )
    rest = y - x @ np.linalg.lstsq(x, y, rcond=None)[0]
    if rest @ rest <= 1e-24 * (y @ y):
        raise BadTable(
            f"{outcome} is fitted without any error (all residuals are 0), so no standard error can be estimated",
            do=f"check that {outcome} was not computed from the predictors",
        )
    fit = fit_ar1(x, y, steps)
    table_out = pd.DataFrame(
        {"estimate": fit.b, "standard_error": fit.standard_error, "df": fit.df,
         "t": fit.b / fit.standard_error, "p": fit.p, "ci_low": fit.ci_low, "ci_high": fit.ci_high},
        index=pd.Index(coded, name="term"),
    )  # fmt: skip
    notes = (*dropped_words(dropped), *_warnings(fit, n, p), *_drift_words(table_out, outcome))
    return SeriesFit(
        outcome, table_out, pd.DataFrame(fit.covariance, index=list(coded), columns=list(coded)),
        fit.autocorrelation, fit.effective_n, fit.variance, fit.log_likelihood, notes, n,
        int(np.isinf(steps).sum()), dropped, pd.Series(x @ fit.b, rows.index), pd.Series(y - x @ fit.b, rows.index),
        pd.DataFrame(x, rows.index, list(coded)),
        pd.DataFrame(whiten(fit.autocorrelation, x, steps), rows.index, list(coded)),
        error_factor(fit.autocorrelation, steps),
    )  # fmt: skip


def fit_step(
    values: Sequence[float] | np.ndarray | pd.Series,
    after: Sequence[float] | np.ndarray | pd.Series,
    *,
    trend: bool = False,
    order: Sequence[float] | np.ndarray | pd.Series | None = None,
    session: Sequence | np.ndarray | pd.Series | None = None,
) -> StepFit:
    """Estimate the change of level (step) of one golfer's series from before to after; positive if the values rise.

    Parameters
    ----------
    values : sequence of float, (n,)
        One value for each swing, in the order of play.
    after : sequence, (n,)
        0 for a swing before the change, 1 for a swing after it.
    trend : bool
        Whether to include a linear trend, so that a gradual drift is not mistaken for a step.
    order, session : sequence, (n,), optional
        Position and session of each swing, as in `fit_series`; default: one session, evenly spaced.

    Returns
    -------
    StepFit

    Raises
    ------
    BadRequest
        Values other than 0 and 1 in `after`, or unequal lengths.
    BadTable
        Fewer than two swings before or after the change, or too few swings in total.

    Examples
    --------
    >>> rng = np.random.default_rng(1)
    >>> after = np.repeat([0, 1], 20)
    >>> step = fit_step(rng.normal(0, 1, 40) + 2 * after, after)
    >>> step.ci_low < 2 < step.ci_high
    True
    """
    y, indicator = numbers_of(values, "values"), numbers_of(after, "after")
    place = np.arange(1.0, len(y) + 1) if order is None else numbers_of(order, "order")
    if not len(y) == len(indicator) == len(place):
        raise BadRequest(
            "values, after and order must have the same length, one value for each swing",
            do="give arrays of the same length",
        )
    if not np.isin(indicator, (0.0, 1.0)).all():
        raise BadRequest(
            "after must be 0 for swings before the change and 1 for swings after it; it has other values",
            do="replace the other values by 0 or 1",
        )
    rows = pd.DataFrame({_VALUE: y, "after": indicator, "order": place})
    if session is not None:
        rows["session"] = np.asarray(session)
    known = rows.dropna()
    counts = [int((known["after"] == side).sum()) for side in (0, 1)]
    if min(counts) < 2:
        raise BadTable(
            f"a step needs two swings before the change and two after it, but there are {counts[0]} and {counts[1]}",
            do="give more swings before and after the change",
        )
    named = "session" if session is not None else None
    fit = fit_series(rows, _VALUE, ["after"], order="order", trend=trend, session=named)
    known, place, _ = _in_order(known, "order", named)
    length = _block_length(fit.autocorrelation, len(known))
    taken = 2 if trend else 1
    blocks = permute_blocks(*_free_of_trend(known, place, trend), length=length, fitted=taken)
    warnings = list(fit.warnings)
    if (
        named
        and len(set(known.loc[known["after"] == 0, named]) & set(known.loc[known["after"] == 1, named])) == 0
    ):
        warnings.append(Note("other_sessions"))
    names = ("estimate", "standard_error", "df", "t", "p", "ci_low", "ci_high")
    estimate, error, df, t, p, low, high = (float(fit.coefficients.loc["after", name]) for name in names)  # type: ignore[arg-type]
    return StepFit(
        estimate, error, df, t, p, low, high, fit.autocorrelation, fit.effective_n, blocks.p, length,
        blocks.arrangements, fit.n_rows, tuple(warnings),
    )  # fmt: skip


def _check_request(table: pd.DataFrame, outcome: str, predictors: list[str], order: str) -> None:
    if outcome in predictors or outcome == order:
        raise BadTable(
            f"{outcome} is the outcome, and also a predictor or the order",
            do="give different columns for outcome, predictors and order",
        )
    if TREND in predictors:
        raise BadTable(
            f"a predictor cannot have the name {TREND}, because this is the name of the coefficient for the drift",
            do="rename the column",
        )
    if "golfer" in table.columns and table["golfer"].nunique() > 1:
        raise BadTable(
            f"the table has swings of {table['golfer'].nunique()} golfers, but this regression is for one golfer",
            do="keep the rows of one golfer",
        )


def _in_order(
    rows: pd.DataFrame, order: str, session: str | None
) -> tuple[pd.DataFrame, np.ndarray, np.ndarray]:
    """Rows in the order of play, their positions along the series, and steps since the previous swing."""
    visit = pd.factorize(rows[session])[0] if session else np.zeros(len(rows), int)
    place = rows[order].to_numpy(float)
    by = np.lexsort((place, visit))
    rows, visit, place = rows.iloc[by], visit[by], place[by]
    new = np.r_[True, visit[1:] != visit[:-1]]
    gap = np.r_[np.nan, np.diff(place)]
    if (gap[~new] <= 0).any():
        again = sorted(set(place[1:][(gap[1:] <= 0) & ~new[1:]]))
        raise BadTable(
            f"several swings have the same value in the column {order} "
            f"({', '.join(f'{value:g}' for value in again[:5])})",
            do="give each swing its own number, or name the column of sessions in the argument session",
        )
    unit = float(np.median(gap[~new])) if (~new).any() else 1.0
    steps = np.where(new, np.inf, gap / unit)
    if (np.diff(place) > 0).all():
        return rows, place / unit, steps
    # If the order restarts in each session, the next session begins one step after the end of the previous one.
    return rows, np.cumsum(np.where(new, 1.0, gap / unit)), steps


def _warnings(fit: AutoregressiveFit, n: int, p: int) -> list[Note]:
    notes = []
    if fit.effective_n < _FEW_EFFECTIVE and fit.autocorrelation > 0:
        notes.append(
            Note("few_effective", autocorrelation=fit.autocorrelation, swings=n, effective=fit.effective_n)
        )
    if fit.autocorrelation > 0.9:
        notes.append(Note("slow_drift"))
    if n < 20:
        notes.append(Note("few_swings", swings=n, coefficients=p))
    return notes


def _drift_words(coefficients: pd.DataFrame, outcome: str) -> list[Note]:
    if TREND not in coefficients.index or not coefficients.loc[[TREND], "p"].item() < 0.05:
        return []
    drift = coefficients.loc[[TREND], "estimate"].item()
    return [Note("drift", outcome=outcome, drift=drift)]


def _block_length(autocorrelation: float, n: int) -> int:
    """Swings in a block: the square root of their number, or more if the autocorrelation decays slowly."""
    length = int(np.ceil(np.sqrt(n)))
    if autocorrelation > 0:
        length = max(length, int(np.ceil(np.log(_FORGOTTEN) / np.log(autocorrelation))))
    return max(1, min(length, n // 4))


def _free_of_trend(rows: pd.DataFrame, place: np.ndarray, trend: bool) -> tuple:
    """Values after removing mean (and trend), and a function that gives the least-squares step of a series."""
    others = np.ones((len(rows), 1))
    if trend:
        others = np.column_stack([others, place - place.mean()])
    both = rows[[_VALUE, "after"]].to_numpy(float)
    rest = both - others @ np.linalg.lstsq(others, both, rcond=None)[0]
    weights = rest[:, 1] / (rest[:, 1] @ rest[:, 1])
    return rest[:, 0], lambda series: series @ weights
