"""Test of curvature: the nonlinear term of a natural cubic spline (called the bend), added to a straight line."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

import numpy as np
import pandas as pd
import scipy

from swinglab.answers.question import CELL, GOLFER, X
from swinglab.answers.rules import ALPHA, FEWEST_GOLFERS
from swinglab.answers.within import DEVIATION
from swinglab.errors import BadTable
from swinglab.finding_words import Note
from swinglab.statistics.cluster_robust import fit_cluster_robust
from swinglab.statistics.estimate import Estimate
from swinglab.statistics.spline import natural_spline

BEND = "bend of the spline"
#: Fewest swings for a golfer's own bend.
_FEWEST_SWINGS = 8
#: Line and bend are both estimated only if the line leaves more than this share of the bend's variation
#: unexplained.
_LEFT = 1e-6
#: Number of points of a drawn curve.
_GRID = 61


def test_of(made: Estimate, method: Note, golfers: int, *, drift: bool = False) -> dict[str, Any]:
    """Return the fields of `Diagnostics` on curvature: the nonlinear term, its test and the conclusion.

    `made` : estimate of the nonlinear term. `method` : how it was estimated. `golfers` : number of golfers used.
    `drift` : whether the curve is a drift over the swings, not a relation of posture and strike.
    """
    found, plain = ("drift_bent", "drift_straight") if drift else ("bend_found", "line_enough")
    reading = Note(found if made.p < ALPHA else plain)
    return {
        "bend": made.estimate, "bend_low": made.ci_low, "bend_high": made.ci_high, "bend_df": made.df,
        "bend_p": made.p, "bend_golfers": golfers, "bend_method": str(method), "reading": str(reading),
        "reading_key": reading.key,
    }  # fmt: skip


def no_test(reading: Note) -> dict[str, Any]:
    """Return the fields of `Diagnostics` on curvature if it was not tested; the note `reading` gives the reason."""
    return {"reading": str(reading), "reading_key": reading.key}


def own_bends(rows: pd.DataFrame, adjust: Sequence[str]) -> pd.DataFrame:
    """Fit a line and the nonlinear term of a spline to each golfer's swings, adjusted for covariates.

    `rows` : swings with posture, nonlinear term and strike as deviations from the means of their cells.
    `adjust` : columns of the covariates. Returns one row for each golfer (index), with the columns slope and
    bend (coefficient of the nonlinear term), in outcome units per step. A golfer has no row with fewer than
    8 swings, no residual degrees of freedom, or fewer than three different values of the posture.
    """
    found = {
        golfer: np.linalg.lstsq(terms, y, rcond=None)[0]
        for golfer, terms, y, spare in _by_golfer(rows, adjust)
        if len(y) >= _FEWEST_SWINGS and spare > 0
    }
    return pd.DataFrame.from_dict(found, orient="index", columns=["slope", "bend"])


def _by_golfer(
    rows: pd.DataFrame, adjust: Sequence[str]
) -> Iterator[tuple[object, np.ndarray, np.ndarray, int]]:
    """Yield golfer, (n, 2) line and bend terms, (n,) strike, and residual degrees of freedom.

    Golfers whose line and bend are too strongly correlated to be separated are left out.
    """
    wanted = rows[[X, BEND, DEVIATION]].to_numpy(float)
    if adjust:
        others = rows[list(adjust)].to_numpy(float)
        wanted = wanted - others @ np.linalg.lstsq(others, wanted, rcond=None)[0]
    for golfer, places in rows.groupby(GOLFER, sort=True).indices.items():
        terms, y = wanted[places, :2], wanted[places, 2]
        rest = _free_of(terms[:, 0], terms[:, 1])
        # Each cell's mean costs one degree of freedom, the drift one, line and bend two.
        spare = len(places) - rows[CELL].iloc[places].nunique() - 3
        if rest @ rest > _LEFT * (terms[:, 1] @ terms[:, 1]):
            yield golfer, terms, y, spare


def _free_of(x: np.ndarray, values: np.ndarray) -> np.ndarray:
    """Return the residuals of `values` after regression on `x` without an intercept."""
    size = float(x @ x)
    return values - x * float(x @ values) / size if size > 0 else values


def bend_within(own: pd.DataFrame) -> Estimate:
    """Estimate the mean of golfers' own nonlinear terms, with limits from a t distribution.

    `own` is the result of `own_bends`; for G golfers in it, the degrees of freedom are G - 1.

    Raises
    ------
    BadTable
        Fewer than six golfers have a row in `own`.
    """
    golfers = len(own)
    if golfers < FEWEST_GOLFERS:
        raise BadTable(
            f"a test of curvature within golfers needs at least {FEWEST_GOLFERS} golfers with {_FEWEST_SWINGS} swings "
            f"or more each, but the table has {golfers}",
            do="measure more golfers, or more swings of each",
        )
    error = float(own["bend"].std(ddof=1)) / np.sqrt(golfers)
    return Estimate.by_t(float(own["bend"].mean()), error, golfers - 1.0)


def common_bend(rows: pd.DataFrame, adjust: Sequence[str]) -> tuple[Estimate, int]:
    """Estimate one nonlinear term common to all golfers; each golfer has a separate slope.

    Returns the estimate and the number of golfers used. The standard error is cluster-robust (CR2). This
    estimate is used if too few golfers have enough swings for a nonlinear term of their own.

    Raises
    ------
    BadTable
        Fewer than six golfers have three or more different values of the posture.
    """
    left = [
        pd.DataFrame(
            {GOLFER: golfer, BEND: _free_of(terms[:, 0], terms[:, 1]), "strike": _free_of(terms[:, 0], y)}
        )
        for golfer, terms, y, _ in _by_golfer(rows, adjust)
    ]
    if len(left) < FEWEST_GOLFERS:
        raise BadTable(
            f"a test of curvature needs at least {FEWEST_GOLFERS} golfers with three different values of the posture, "
            f"but the table has {len(left)}",
            do="measure more golfers",
        )
    fit = fit_cluster_robust(pd.concat(left, ignore_index=True), "strike", [BEND], golfer=GOLFER)
    return Estimate.of_term(fit.coefficients, BEND), len(left)


def curve_of(
    x: np.ndarray,
    slope: float,
    terms: np.ndarray,
    covariance: np.ndarray,
    df: float,
    *,
    step: float,
    knots: np.ndarray,
) -> pd.DataFrame:
    """Return points of the straight line and of the spline's curve for drawing, each minus its mean over `x`.

    Parameters
    ----------
    x : (n,)
        Postures in steps; a step is `step` units of the posture, usually 10.
    slope : float
        Slope of the straight line that answers the question, in outcome units per step.
    terms, covariance : (2,), (2, 2)
        Coefficients of the spline's linear and nonlinear term, and their covariance.
    df : float
        Degrees of freedom of the pointwise 95 % limits of the curve.
    step : float
        Units of the posture in one step.
    knots : (3,)
        Knots of the spline, in steps.

    Returns
    -------
    pandas.DataFrame
        61 rows, with the columns predictor (posture in its unit), line, bend (the spline's curve), low and
        high (limits of that curve), in outcome units.
    """
    middle = float(x.mean())
    grid = np.linspace(x.min(), x.max(), _GRID)
    bends = natural_spline(grid, knots) - natural_spline(x, knots).mean()
    basis = np.column_stack([grid - middle, bends])
    bent = basis @ terms
    half = float(scipy.stats.t.ppf(0.975, df)) * np.sqrt(np.einsum("ij,jk,ik->i", basis, covariance, basis))
    return pd.DataFrame(
        {"predictor": step * grid, "line": slope * basis[:, 0], "bend": bent, "low": bent - half,
         "high": bent + half}
    )  # fmt: skip
