"""Logistic regression with few golfers: generalised estimating equations (GEE), or Firth's penalised likelihood."""

from __future__ import annotations

import warnings
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd
import scipy
from scipy import linalg, optimize, special

from swinglab.errors import BadRequest, BadTable
from swinglab.finding_words import Note
from swinglab.statistics.design import INTERCEPT, Design, build_design, is_number
from swinglab.statistics.rows import dropped_words, levels_of, listed

_SEPARATED = 1e-6
#: Log odds beyond which a fit counts as divergent.
_ENDLESS = 30.0
#: Covariances for few golfers, each with the power of I - H (H: a golfer's block of the hat matrix) by which the
#: golfer's residuals are multiplied.
_POWERS = {"mancl_derouen": -1.0, "kauermann_carroll": -0.5}


@dataclass(frozen=True, slots=True, eq=False)
class BinaryFit:
    """A logistic regression of an outcome with two levels, averaged over golfers (marginal model).

    coefficients : one row for the intercept and each predictor, with estimate (log odds of `event` per unit of the
    predictor), standard_error, df, t, p, ci_low, ci_high (95 %), odds_ratio. event : the level of the outcome whose
    odds are modelled. correlation : working correlation between swings of one golfer. penalised : whether Firth's
    penalised likelihood was used, because the predictors separate the two levels perfectly. n_golfers, n_rows : numbers
    used. dropped : number of rows that are not used because of a missing value.
    """

    outcome: str
    event: object
    coefficients: pd.DataFrame
    correlation: float
    penalised: bool
    warnings: tuple[Note, ...]
    n_golfers: int
    n_rows: int
    dropped: int


def fit_binary(
    table: pd.DataFrame,
    outcome: str,
    predictors: Sequence[str],
    *,
    golfer: str = "golfer",
    covariance: str = "mancl_derouen",
) -> BinaryFit:
    """Fit a logistic regression of an outcome with two levels, allowing for the correlation of a golfer's swings.

    The fit uses generalised estimating equations, with the same correlation between any two swings of a golfer and a
    bias-reduced covariance for few golfers. If the predictors separate the two levels perfectly (for example because
    one level never occurs in a group), this estimate would be infinite. Firth's penalised likelihood with independent
    swings is used instead; the standard error is then the larger of the robust and the model-based one, and a warning
    gives the reason.

    Parameters
    ----------
    table : pandas.DataFrame
        One row for each swing.
    outcome : str
        0 and 1, true and false, or two words. The odds are those of 1, of true, or of the second word in the order
        of the Categorical or, for plain text, in alphabetical order.
    predictors : sequence of str
        Columns; text ones are coded as ``column[level]``.
    golfer : str
        Column of golfers' codes: which golfer made the swing.
    covariance : str
        Method of the bias-reduced covariance: "mancl_derouen", with t on (number of golfers - number of coefficients)
        degrees of freedom; or "kauermann_carroll", with Bell & McCaffrey's degrees of freedom, as in
        `fit_cluster_robust`.

    Returns
    -------
    BinaryFit

    Raises
    ------
    BadRequest
        An unknown covariance.
    BadTable
        An outcome that does not have exactly two levels, no more golfers than coefficients, or a fit that does not
        converge.

    Notes
    -----
    In simulations with 8 golfers, the rate of false positives at nominal .05 was .02 with "mancl_derouen" and .04 to
    .05 with "kauermann_carroll". A hunch about contact uses "kauermann_carroll".

    References
    ----------
    Mancl & DeRouen 2001; Kauermann & Carroll 2001; Bell & McCaffrey 2002; Firth 1993; Konis 2007.

    Examples
    --------
    >>> rng = np.random.default_rng(4)
    >>> golfer, tilt = np.repeat(list("ABCDEFGHIJ"), 20), rng.normal(0, 3, 200)
    >>> clean = rng.random(200) < 1 / (1 + np.exp(-0.4 * tilt))
    >>> fit = fit_binary(pd.DataFrame({"golfer": golfer, "tilt": tilt, "clean": clean}), "clean", ["tilt"])
    >>> bool(fit.coefficients.loc["tilt", "p"] < 0.05), fit.penalised
    (True, False)
    """
    if covariance not in _POWERS:
        raise BadRequest(
            f"there is no method {covariance} for the covariance",
            do=f"set covariance to {' or '.join(_POWERS)}",
        )
    names = [predictors] if isinstance(predictors, str) else list(predictors)
    design = build_design(table, outcome, names, golfer=golfer, numeric_outcome=False)
    y, event = _counted(table.loc[design.kept, outcome])
    if design.n_golfers <= len(design.names):
        raise BadTable(
            f"{design.n_golfers} golfers for {len(design.names)} coefficients are too few: a logistic regression needs "
            "more golfers than coefficients",
            do="use fewer predictors, or measure more golfers",
        )
    x, scale = design.x.copy(), design.x.std(axis=0)
    centre = np.where(scale > 0, x.mean(axis=0), 0.0)
    scale = np.where(scale > 0, scale, 1.0)
    x = (x - centre) / scale
    notes = dropped_words(design.dropped)
    # Convert from centred, scaled columns to the columns as given; the intercept absorbs the means.
    back = np.diag(1 / scale)
    back[design.names.index(INTERCEPT)] -= np.where(scale > 0, centre / scale, 0.0)
    penalised = separates(x, y)
    if penalised:
        notes += _empty_cells(design, y, outcome, event)
        b, information, correlation = *_fit_firth(x, y), 0.0
    else:
        b, correlation, words = _fit_gee(x, y, design.codes)
        notes += words
    estimate = back @ b
    error, df = few_golfer_errors(x, y, design.codes, b, correlation, back, _POWERS[covariance])
    if covariance == "mancl_derouen":
        df = np.full(len(b), float(design.n_golfers - len(b)))
    if penalised:
        error = np.maximum(error, np.sqrt(np.einsum("ij,jk,ik->i", back, linalg.pinvh(information), back)))
    if design.n_golfers < 10:
        notes.append(Note("few_golfers_logit", golfers=design.n_golfers))
    half = scipy.stats.t.ppf(0.975, df) * error
    coefficients = pd.DataFrame(
        {"estimate": estimate, "standard_error": error, "df": df, "t": estimate / error,
         "p": 2 * scipy.stats.t.sf(np.abs(estimate / error), df), "ci_low": estimate - half,
         "ci_high": estimate + half, "odds_ratio": np.exp(np.clip(estimate, -700, 700))},
        index=pd.Index(design.names, name="term"),
    )  # fmt: skip
    return BinaryFit(
        outcome, event, coefficients, correlation, penalised, tuple(notes), design.n_golfers, design.n_rows,
        design.dropped,
    )  # fmt: skip


def separates(x: np.ndarray, y: np.ndarray) -> bool:
    """Return whether a linear combination of the predictors x (n, p) separates y = 1 from y = 0 (Konis 2007).

    The value of the combination at the border may occur in rows of both kinds (quasi-complete separation). With
    separation of either form, a logistic regression has no finite estimate.
    """
    signed = x * np.where(y > 0, 1.0, -1.0)[:, None]
    rows = np.unique(signed, axis=0)
    # The largest sum of signed distances, each between 0 and 1: above 0 only where there is separation.
    found = optimize.linprog(
        -rows.sum(axis=0), A_ub=np.vstack([-rows, rows]), b_ub=np.repeat([0.0, 1.0], len(rows)),
        bounds=[(None, None)] * x.shape[1], method="highs",
    )  # fmt: skip
    return bool(found.status == 3 or (found.status == 0 and float(found.fun or 0.0) < -_SEPARATED))


def _counted(values: pd.Series) -> tuple[np.ndarray, object]:
    levels = tuple(np.unique(values.to_numpy(float)).tolist()) if is_number(values) else levels_of(values)
    if len(levels) != 2:
        raise BadTable(
            f"the outcome {values.name} has {len(levels)} different values ({listed(levels[:5])}), but logistic "
            "regression needs exactly two",
            do="combine the values into two, or use fit_ordinal_mixed for values with an order",
        )
    event = levels[1]
    same = (values.to_numpy(float) if is_number(values) else values.to_numpy()) == event
    return same, f"{event:g}" if is_number(values) else event


def _fit_gee(x: np.ndarray, y: np.ndarray, codes: np.ndarray) -> tuple[np.ndarray, float, list[Note]]:
    """Fit GEE with statsmodels, rows sorted by golfer; independent swings if no common correlation converges."""
    # Imported only when needed, because the import takes longer than answering most studies.
    from statsmodels.genmod import cov_struct, families, generalized_estimating_equations

    by = np.argsort(codes, kind="stable")
    most = int(np.bincount(codes).max())
    notes: list[Note] = []
    for structure in (cov_struct.Exchangeable(), cov_struct.Independence()):
        with warnings.catch_warnings(record=True) as heard:
            warnings.simplefilter("always")
            fit = generalized_estimating_equations.GEE(
                y[by].astype(float), x[by], codes[by], family=families.Binomial(), cov_struct=structure
            ).fit(maxiter=200)
        correlation = float(np.ravel(getattr(structure, "dep_params", 0.0))[0]) if not notes else 0.0
        settled = not any("converge" in str(word.message).lower() for word in heard)
        possible = correlation < 1 and correlation * (most - 1) > -1
        # A divergent fit, with all probabilities at 0 or 1, can report convergence.
        if settled and possible and np.abs(x @ fit.params).max() < _ENDLESS:
            return np.asarray(fit.params), correlation, notes
        notes.append(Note("no_correlation"))
    raise BadTable(
        "the logistic regression did not converge: its estimating equations have no solution for these rows",
        do="use fewer predictors",
    )


def _fit_firth(x: np.ndarray, y: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return Firth's penalised estimate (p,) and its information matrix (p, p)."""
    b = np.zeros(x.shape[1])
    for _ in range(500):
        share = special.expit(x @ b)
        weight = share * (1 - share)
        information = (x * weight[:, None]).T @ x
        inverse = linalg.pinvh(information)
        leverage = weight * np.einsum("ij,jk,ik->i", x, inverse, x)
        step = inverse @ (x.T @ (y - share + leverage * (0.5 - share)))
        step *= min(1.0, 2.0 / max(np.abs(step).max(), 1e-300))
        b = b + step
        if np.abs(step).max() < 1e-10:
            return b, information
    raise BadTable(
        "the logistic regression by Firth's penalised likelihood did not converge for these rows",
        do="use fewer predictors",
    )


def few_golfer_errors(
    x: np.ndarray, y: np.ndarray, codes: np.ndarray, b: np.ndarray, correlation: float, contrasts: np.ndarray,
    power: float,
) -> tuple[np.ndarray, np.ndarray]:  # fmt: skip
    """Return bias-reduced standard errors and degrees of freedom, (k,) each, of k contrasts of logistic coefficients.

    x : (n, p) predictors. y : (n,) outcome, 0 or 1. codes : (n,) number of each row's golfer, from 0. b : (p,)
    coefficients. correlation : working correlation of a golfer's swings. contrasts : (k, p). power : each golfer's
    whitened residuals are multiplied by (I - H) ** power, with H the golfer's block of the hat matrix: -1 for Mancl &
    DeRouen, -1/2 for Kauermann & Carroll. The degrees of freedom are Satterthwaite's for the resulting sum of squares
    under the working model (Bell & McCaffrey).
    """
    # A probability of exactly 0 or 1 has weight 0, by which the residuals cannot be divided.
    share = np.clip(special.expit(x @ b), 1e-12, 1 - 1e-12)
    spread = np.sqrt(share * (1 - share))
    golfers = []
    for golfer in range(int(codes.max()) + 1):
        own = codes == golfer
        common = np.full((own.sum(), own.sum()), correlation)
        np.fill_diagonal(common, 1.0)
        both = np.column_stack([spread[own, None] * x[own], (y - share)[own] / spread[own]])
        both = linalg.solve_triangular(linalg.cholesky(common, lower=True), both, lower=True)
        golfers.append((both[:, :-1], both[:, -1]))
    inverse = linalg.pinvh(sum(d.T @ d for d, _ in golfers))
    parts, size, tied = [], [], []
    for d, rest in golfers:
        left, along = linalg.eigh(np.eye(len(rest)) - d @ inverse @ d.T)
        scale = np.where(left > 1e-9, left, np.inf) ** power
        weight = along @ (scale[:, None] * (along.T @ (d @ inverse @ contrasts.T)))
        parts.append(rest @ weight)
        size.append((weight**2).sum(axis=0))
        tied.append(d.T @ weight)
    error = np.sqrt((np.array(parts) ** 2).sum(axis=0))
    inside = np.einsum("gpk,pq,hqk->kgh", np.array(tied), inverse, np.array(tied))
    form = np.array(size).T[:, :, None] * np.eye(len(golfers)) - inside
    return error, np.trace(form, axis1=1, axis2=2) ** 2 / (form**2).sum(axis=(1, 2))


def _empty_cells(design: Design, y: np.ndarray, outcome: str, event: object) -> list[Note]:
    """Return the note on the penalised fit, with the levels of predictors in which all swings have the same outcome."""
    cells = []
    for name, column in zip(design.names, design.x.T, strict=True):
        if name == INTERCEPT or not np.isin(column, (0.0, 1.0)).all():
            continue
        for side, where in ((1.0, name), (0.0, f"not {name}")):
            counted = y[column == side]
            if counted.all() or not counted.any():
                cells.append(f"{'every' if counted.all() else 'no'} swing with {where} is {event}")
    what = "; ".join(cells) if cells else f"the predictors together separate {outcome} perfectly"
    return [Note("empty_cells", what=what)]
