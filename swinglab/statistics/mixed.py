"""Linear mixed models by REML or ML: correlated random intercepts and slopes of golfers, sessions within golfers."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy import special

from swinglab.errors import BadRequest, BadTable
from swinglab.finding_words import Note
from swinglab.statistics.design import INTERCEPT, Design, build_design, code_predictors, refuse_faults
from swinglab.statistics.variance import Likelihood, Moments, evaluate, factor, minimise, moments_from

#: A scaled random-effect factor below this counts as a variance of zero (or a correlation of +/- 1).
_BOUNDARY = 1e-4
#: Eigenvalues of the Hessian at or below this share of the largest count as 0 (no information on the variances).
_FLAT = 1e-8
#: A residual variance below this share of the variance not explained by the predictors is due to rounding alone.
_NO_ERROR = 1e-11
FEW_GOLFERS = 8
COEFFICIENT_COLUMNS = pd.Index(["estimate", "standard_error", "df", "t", "p", "ci_low", "ci_high"])


@dataclass(frozen=True, slots=True, eq=False)
class MixedFit:
    """A fitted linear mixed model.

    coefficients : one row for the intercept and each predictor, with estimate, standard_error, df, t, p, ci_low,
    ci_high (95 %). criterion : -2 log_likelihood (the REML criterion or, by ML, the deviance). random_covariance :
    covariance matrix of a golfer's intercept and slopes; slopes are in outcome units per unit of their column.
    residual_variance : of a swing, in outcome units squared. session_variance : of sessions within golfers; NaN if the
    model has no sessions. golfer_effects : predicted random effects (BLUPs), one row for each golfer. covariance : of
    the coefficients. boundary : whether a variance is 0 or a correlation is +1 or -1. fitted, residuals : one value for
    each row used, including the predicted effects of golfer and session. dropped : number of rows with a missing value.
    """

    outcome: str
    method: str
    coefficients: pd.DataFrame
    log_likelihood: float
    criterion: float
    random_covariance: pd.DataFrame
    residual_variance: float
    session_variance: float
    golfer_effects: pd.DataFrame
    covariance: pd.DataFrame
    boundary: bool
    warnings: tuple[Note, ...]
    n_golfers: int
    n_rows: int
    dropped: int
    fitted: pd.Series
    residuals: pd.Series


@dataclass(frozen=True, slots=True, eq=False)
class Prepared:
    """Data of a mixed model: cross-products of centred and scaled columns, and the transformation back.

    p is the number of coefficients and q that of a golfer's random effects, both with the intercept. x_back : (p, p)
    matrix from the coefficients of the scaled columns to those of the original columns. z_back : (q, q), the same for
    random effects. offset : (p,) least-squares coefficients whose fit was subtracted from the outcome. y_scale : factor
    by which the outcome was divided. z : random-effect columns, not scaled. seats : dummy variables of sessions, or
    None. moments : cross-products of each golfer's columns. cross_x : those of predictors and outcome only.
    """

    design: Design
    slopes: tuple[str, ...]
    z: np.ndarray
    seats: np.ndarray | None
    moments: Moments
    cross_x: np.ndarray
    x_back: np.ndarray
    z_back: np.ndarray
    offset: np.ndarray
    y_scale: float


def fit_mixed(
    table: pd.DataFrame,
    outcome: str,
    predictors: Sequence[str],
    *,
    golfer: str = "golfer",
    slopes: Sequence[str] = (),
    method: str = "REML",
    session: str | None = None,
) -> MixedFit:
    """Fit a linear mixed model with correlated random intercepts and slopes of golfers.

    Degrees of freedom are Satterthwaite's, from the Hessian of the deviance by the parameters of the random-effect
    covariance and the residual SD. Directions in which the deviance is flat are omitted.

    Parameters
    ----------
    table : pandas.DataFrame
        One row for each swing; rows with a missing value are not used.
    outcome, predictors : str, sequence of str
        Columns. Text predictors are treatment coded (``sex[female]``).
    golfer : str
        Column of golfers' codes: which golfer made the swing.
    slopes : sequence of str
        Columns with a random slope for each golfer.
    method : {"REML", "ML"}
        Restricted or full maximum likelihood.
    session : str, optional
        Column of sessions; each session of each golfer gets a random intercept.

    Returns
    -------
    MixedFit

    Raises
    ------
    BadTable
        A table to which the model cannot be fitted; one message lists all faults.
    BadRequest
        An unknown method.

    References
    ----------
    bates2015, kuznetsova2017 (references/references.bib)

    Examples
    --------
    >>> swings = pd.DataFrame({
    ...     "golfer": list("AAABBBCCC"), "tilt": [1, 2, 3, 2, 3, 4, 1, 3, 5],
    ...     "angle": [0.1, 1.2, 1.9, 2.2, 3.1, 3.7, 0.0, 2.2, 3.9]})
    >>> fit_mixed(swings, "angle", ["tilt"]).coefficients.index.tolist()
    ['intercept', 'tilt']
    """
    if method not in ("REML", "ML"):
        raise BadRequest(f"there is no method {method} for a mixed model", do='set method to "REML" or "ML"')
    ready = prepare(table, outcome, predictors, golfer=golfer, slopes=slopes, session=session)
    theta, reached = best_of_starts(ready.moments, reml=method == "REML")
    return _record(ready, theta, bool(reached[0]), method)


def prepare(
    table: pd.DataFrame,
    outcome: str,
    predictors: Sequence[str],
    *,
    golfer: str,
    slopes: Sequence[str] = (),
    session: str | None = None,
) -> Prepared:
    """Check a table for a mixed model (arguments as in `fit_mixed`) and return its cross-products for each golfer."""
    slopes = (slopes,) if isinstance(slopes, str) else tuple(slopes)
    also = [*slopes, *([session] if session else [])]
    design = build_design(table, outcome, predictors, golfer=golfer, also=also)
    rows = table if not design.dropped else table.loc[design.kept]
    z, names, _, faults = code_predictors(rows, slopes)
    order = np.argsort(design.codes, kind="stable")
    starts = np.searchsorted(design.codes[order], np.arange(design.n_golfers))
    faults += [
        f"the random slope {name} cannot be estimated, because {name} does not vary within any golfer"
        for name, column in zip(names[1:], z.T[1:], strict=True)
        if not (np.maximum.reduceat(column[order], starts) > np.minimum.reduceat(column[order], starts)).any()
    ]
    if not faults and design.n_rows <= z.shape[1] * design.n_golfers:
        faults.append(f"{design.n_rows} rows are too few for {z.shape[1]} random effects of each golfer")
    refuse_faults(faults)
    seats = None if session is None else _session_seats(rows[session], design.codes)
    return _prepared(design, z, names, order, starts, seats)


def _session_seats(session: pd.Series, codes: np.ndarray) -> np.ndarray:
    """Indicators (n, most sessions of a golfer) of the golfer's first session, second session, and so on."""
    label = pd.factorize(session)[0]
    place = pd.Series(label).groupby(codes).rank("dense").to_numpy().astype(int) - 1
    if place.max() == 0:
        raise BadTable(
            "no golfer has more than one session, so a model with sessions cannot be fitted",
            do="omit the argument session",
        )
    return np.eye(place.max() + 1)[place]


def _prepared(
    design: Design,
    z: np.ndarray,
    slopes: tuple[str, ...],
    order: np.ndarray,
    starts: np.ndarray,
    seats: np.ndarray | None,
) -> Prepared:
    x, y, p, q = design.x, design.y, design.x.shape[1], z.shape[1]
    x_mean, x_scale = np.zeros(p), np.ones(p)
    x_mean[1:], x_scale[1:] = x[:, 1:].mean(axis=0), x[:, 1:].std(axis=0)
    z_mean, z_scale = np.zeros(q), np.ones(q)
    z_mean[1:], z_scale[1:] = z[:, 1:].mean(axis=0), z[:, 1:].std(axis=0)
    xs, zs = (x - x_mean) / x_scale, (z - z_mean) / z_scale
    offset = np.linalg.lstsq(xs, y, rcond=None)[0]
    rest = y - xs @ offset
    y_scale = float(rest.std())
    if y_scale <= 1e-13 * max(float(np.abs(y).max()), 1e-300):
        raise BadTable(
            f"{design.outcome} is fitted without any error (all residuals are 0), so there is nothing to estimate",
            do=f"check that {design.outcome} was not computed from the predictors",
        )
    s = 0 if seats is None else seats.shape[1]
    blocks = [zs, *([] if seats is None else [seats]), xs, (rest / y_scale)[:, None]]
    columns = np.hstack(blocks)[order]
    cross = np.stack([block.T @ block for block in np.split(columns, starts[1:])], axis=-1)[..., None]
    moments = moments_from(cross, q, s, np.array([float(len(y))]))
    cross_x = cross[q + s :, q + s :]
    back = _way_back(x_mean, x_scale), _way_back(z_mean, z_scale)
    return Prepared(design, slopes, z, seats, moments, cross_x, *back, offset, y_scale)


def _way_back(mean: np.ndarray, scale: np.ndarray) -> np.ndarray:
    """Matrix that converts coefficients of centred, scaled columns (first column 1) to those of the given columns."""
    back = np.diag(1.0 / scale)
    back[0, 1:] = -mean[1:] / scale[1:]
    return back


def best_of_starts(moments: Moments, *, reml: bool) -> tuple[np.ndarray, np.ndarray]:
    """Minimise the deviance from several starting points; return K covariance parameters (K, R) and a mask (R,).

    The mask shows for which of the R data sets an optimum was found. A search that ends on a boundary (a variance of 0
    or a correlation of +1 or -1), or that does not converge, is repeated from small variances.
    """
    theta, value = minimise(moments, first_guess(moments, reml=reml), reml=reml)
    theta, value = from_small_variances(moments, theta, value, reml=reml)
    return theta, np.isfinite(value)


def from_small_variances(
    moments: Moments, theta: np.ndarray, value: np.ndarray, *, reml: bool
) -> tuple[np.ndarray, np.ndarray]:
    """Repeat searches that failed or ended on a boundary, from small variances; return better theta and deviance."""
    low = np.moveaxis(factor(theta, moments.pattern), -1, 0)
    doubtful = (np.linalg.svd(low, compute_uv=False) < _BOUNDARY).any(axis=1) | ~np.isfinite(value)
    again = np.flatnonzero(doubtful)
    if len(again):
        start = np.repeat(_uncorrelated(moments, 0.2), len(again), axis=1)
        other, other_value = minimise(moments.take(again), start, reml=reml)
        better = other_value < value[again]
        theta[:, again[better]], value[again[better]] = other[:, better], other_value[better]
    return theta, value


def check_error_left(ready: Prepared, at: Likelihood, reached: bool) -> None:
    """Raise BadTable if the golfers' own regression lines fit all rows exactly; the likelihood then has no optimum."""
    if not float(at.rss[0] / at.nu[0]) > (_NO_ERROR if reached else 1e3 * _NO_ERROR):
        raise BadTable(
            f"{ready.design.outcome} is fitted without any error by each golfer's own regression line",
            do=f"check that {ready.design.outcome} was not computed from the predictors; otherwise use more swings of "
            "each golfer, or fewer random slopes",
        )


def first_guess(moments: Moments, *, reml: bool) -> np.ndarray:
    """Return starting values (K, R) of theta: one EM step from random-effect SDs that equal the residual SD."""
    at = evaluate(moments, np.repeat(_uncorrelated(moments, 1.0), moments.sets, axis=1), reml=reml)
    q, w = len(at.u), moments.weights
    number = np.broadcast_to(w, at.u.shape[1:]).sum(axis=0)
    known = np.einsum("igr,jgr->ijr", at.u * w, at.u) * (at.nu / at.rss) - at.traces
    covariance = np.moveaxis(np.eye(q)[:, :, None] + known / number, -1, 0)
    f = moments.free
    low = np.linalg.cholesky(covariance[:, :f, :f]).reshape(-1, f * f).T
    if q == f:
        return low
    spread = np.sqrt(np.einsum("rii->r", covariance[:, f:, f:]) / (q - f))
    return np.vstack([low, spread])


def _uncorrelated(moments: Moments, size: float) -> np.ndarray:
    """Return theta (K, 1) without correlations, every random SD being `size` times the residual SD."""
    return np.where(np.einsum("kii->k", moments.pattern) > 0, size, 0.0)[:, None]


def degrees_of_freedom(
    at: Likelihood, contrasts: np.ndarray, theta: np.ndarray, pattern: np.ndarray
) -> np.ndarray:
    """Return Satterthwaite's degrees of freedom, (c, R), of c contrasts of the coefficients in R fitted data sets.

    `at` : likelihood at the optimum. `contrasts` : (c, p). `theta` : (K, R) covariance parameters. df =
    2 (l'Vl)^2 / g'Ag for a contrast l with the covariance matrix V of the coefficients, where g is the gradient of
    l'Vl by theta and the residual SD, and A is twice the inverse Hessian of the deviance in these parameters, without
    its flat directions (Kuznetsova et al. 2017). The df do not change if the column of a random slope is shifted or
    scaled. Each parameter is scaled by its own size; otherwise a variance between golfers far larger than the residual
    variance would look like a flat direction.
    """
    k, r = at.rss_gradient.shape
    variance = at.rss / at.nu
    sd = np.sqrt(variance)
    hessian = np.empty((r, k + 1, k + 1))
    hessian[:, :k, :k] = np.moveaxis(at.log_det_hessian + at.rss_hessian / variance, -1, 0)
    hessian[:, :k, k] = hessian[:, k, :k] = (-2.0 * at.rss_gradient / sd**3).T
    hessian[:, k, k] = 4.0 * at.nu / variance
    spreads = np.sqrt((factor(theta, pattern) ** 2).sum(axis=1))  # (q, R) random SDs, in residual SDs
    own_size = (np.any(pattern != 0, axis=2)[:, :, None] * spreads).max(axis=1)
    unit = np.vstack([np.maximum(1.0, own_size), sd]).T
    hessian *= unit[:, :, None] * unit[:, None, :]
    # d(s2 B)/dtheta = -s2 B dR B, with B the inverse of R = X'V^-1 X
    toward = np.einsum("ca,abr->cbr", contrasts, at.inverse)
    own = np.einsum("cbr,cb->cr", toward, contrasts)
    slope = np.empty((r, len(contrasts), k + 1))
    slope[:, :, :k] = -np.einsum("car,kabr,cbr,r->rck", toward, at.information_change, toward, variance)
    slope[:, :, k] = (2.0 * sd * own).T
    slope *= unit[:, None, :]
    size, axes = np.linalg.eigh(hessian)
    weight = np.zeros_like(size)
    np.divide(2.0, size, out=weight, where=size > _FLAT * size.max(axis=1, keepdims=True))
    spread = np.einsum("rck,rki->rci", slope, axes) ** 2
    return 2.0 * (variance * own) ** 2 / np.einsum("rci,ri->cr", spread, weight)


def _record(ready: Prepared, theta: np.ndarray, reached: bool, method: str) -> MixedFit:
    design, q = ready.design, ready.moments.free
    at = evaluate(ready.moments, theta, reml=method == "REML")
    check_error_left(ready, at, reached)
    scale = ready.y_scale
    residual = float(at.rss[0] / at.nu[0]) * scale**2
    estimate = ready.x_back @ (ready.offset + scale * at.beta[:, 0])
    covariance = ready.x_back @ at.inverse[:, :, 0] @ ready.x_back.T * residual
    df = degrees_of_freedom(at, ready.x_back, theta, ready.moments.pattern)[:, 0]
    low = factor(theta, ready.moments.pattern)[:, :, 0]
    user = ready.z_back @ low[:q, :q]
    effects = (np.einsum("ij,kj,kg->gi", user, low[:q, :q], at.u[:q, :, 0])) * scale
    criterion = _criterion(ready, at, method)
    boundary = bool((np.linalg.svd(low, compute_uv=False) < _BOUNDARY).any())
    fitted = design.x @ estimate + np.einsum("ni,ni->n", ready.z, effects[design.codes])
    if ready.seats is not None:
        own = np.einsum("ns,ns->n", ready.seats, at.u[q:, :, 0].T[design.codes])
        fitted += own * float(low[q, q]) ** 2 * scale
    names, slopes = pd.Index(design.names, name="term"), pd.Index(ready.slopes)
    return MixedFit(
        outcome=design.outcome,
        method=method,
        coefficients=coefficient_table(names, estimate, np.sqrt(np.diag(covariance)), df),
        log_likelihood=-0.5 * criterion,
        criterion=criterion,
        random_covariance=pd.DataFrame(residual * user @ user.T, index=slopes, columns=slopes),
        residual_variance=residual,
        session_variance=residual * float(low[q, q] ** 2) if len(low) > q else float("nan"),
        golfer_effects=pd.DataFrame(effects, index=pd.Index(design.golfers, name="golfer"), columns=slopes),
        covariance=pd.DataFrame(covariance, index=names, columns=names),
        boundary=boundary,
        warnings=_warnings(design, boundary_notes(ready, low, boundary), reached),
        n_golfers=design.n_golfers,
        n_rows=design.n_rows,
        dropped=design.dropped,
        fitted=pd.Series(fitted, design.index),
        residuals=pd.Series(design.y - fitted, design.index),
    )


def boundary_notes(ready: Prepared, low: np.ndarray, boundary: bool) -> list[Note]:
    """Return notes on variances of 0 or correlations of +/- 1 in the covariance low low'; none unless `boundary`."""
    if not boundary:
        return []
    q, names = ready.moments.free, ready.slopes
    spread = np.sqrt((low[:q, :q] ** 2).sum(axis=1))
    notes = [
        Note("zero_intercept_variance") if i == 0 else Note("zero_slope_variance", name=names[i])
        for i in range(q)
        if spread[i] < _BOUNDARY
    ]
    if len(low) > q and abs(low[q, q]) < _BOUNDARY:
        notes.append(Note("zero_session_variance"))
    return notes or [Note("correlation_of_one")]


def _criterion(ready: Prepared, at: Likelihood, method: str) -> float:
    """-2 log likelihood in the units of the given outcome (Bates et al. 2015, equations 34 and 41)."""
    nu = float(at.nu[0])
    value = float(at.log_det[0]) + nu * (1.0 + np.log(2.0 * np.pi * at.rss[0] / nu))
    if method == "REML":
        value -= 2.0 * np.linalg.slogdet(ready.x_back)[1]
    return float(value + 2.0 * nu * np.log(ready.y_scale))


def coefficient_table(
    names: Sequence[str] | pd.Index, estimate: np.ndarray, standard_error: np.ndarray, df: np.ndarray
) -> pd.DataFrame:
    """Return a table with estimate, standard_error, df, t, p, ci_low, ci_high (95 %) of each coefficient."""
    t = estimate / standard_error
    half = special.stdtrit(df, 0.975) * standard_error
    p = 2.0 * special.stdtr(df, -np.abs(t))
    values = np.column_stack([estimate, standard_error, df, t, p, estimate - half, estimate + half])
    return pd.DataFrame(values, index=pd.Index(names, name="term"), columns=COEFFICIENT_COLUMNS)


def _warnings(design: Design, boundary: Sequence[Note], reached: bool) -> tuple[Note, ...]:
    notes = list(boundary)
    if not reached:
        notes.append(Note("not_converged"))
    if design.n_golfers < FEW_GOLFERS:
        notes.append(Note("few_golfers_mixed", golfers=design.n_golfers))
    return tuple(notes)


__all__ = ["INTERCEPT", "MixedFit", "fit_mixed"]
