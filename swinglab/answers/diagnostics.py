"""Diagnostics of the primary analysis of a question: residuals, leverage, influence of golfers, and curvature."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from swinglab.answers.bend import BEND, bend_within, common_bend, curve_of, no_test, own_bends, test_of
from swinglab.answers.between import between_rows
from swinglab.answers.comparison import Pair, pairs_of
from swinglab.answers.contact_hunch import in_steps, in_words
from swinglab.answers.described import DeclaredColumns, describe
from swinglab.answers.drift import take_out_drift
from swinglab.answers.hunch import swings_of
from swinglab.answers.lesson import judged_swings
from swinglab.answers.one_golfer import PLACE, fit_one_golfer
from swinglab.answers.question import (
    CELL,
    GOLFER,
    NONE_DECLARED,
    ORDER,
    SESSION,
    STEP,
    Asked,
    X,
    Y,
    frame_question,
)
from swinglab.answers.rules import FEWEST_GOLFERS
from swinglab.answers.within import deviations, fit_slope
from swinglab.errors import BadTable
from swinglab.finding_words import Note
from swinglab.records import Comparison, Diagnostics, Errors, Hunch, Lesson
from swinglab.statistics.estimate import Estimate
from swinglab.statistics.golfer_means import fit_golfer_means
from swinglab.statistics.influence import influence
from swinglab.statistics.series import fit_series
from swinglab.statistics.spline import natural_spline, spline_knots

_DRIFT = "tens of swings"
_NO_GOLFERS = pd.DataFrame({"leverage": [], "without": [], "change": []})
_NO_CURVE = pd.DataFrame({"predictor": [], "line": [], "bend": [], "low": [], "high": []})


def diagnose(
    table: pd.DataFrame,
    question: Hunch | Comparison | Lesson,
    *,
    errors: Errors,
    declared: DeclaredColumns = NONE_DECLARED,
) -> tuple[Diagnostics, ...]:
    """Return diagnostics of the primary analysis of a question: model fit, influence of golfers, and curvature.

    Curvature is tested by the nonlinear term of a natural cubic spline with three knots. Within golfers, it is a t
    test on golfers' own nonlinear terms; between golfers, a term in the regression on golfer means; for one golfer,
    a term in the regression with AR(1) errors; for a lesson, a curved drift in addition to the step. A comparison
    of groups has no such test.

    Parameters
    ----------
    table : pandas.DataFrame
        The swing table that the answer was computed from.
    question : Hunch, Comparison or Lesson
        The question whose fit is examined.
    errors : Errors
        Known measurement errors. Diagnostics do not depend on them: they describe the fit before correction.
    declared : mapping of str to (label, unit)
        Columns that the user adds to the swing table.

    Returns
    -------
    tuple of Diagnostics
        One for a hunch or a lesson; one for each pair of groups of a comparison. For a hunch with fewer than
        six golfers, one for each golfer whose swings can be analysed.

    Raises
    ------
    BadTable, BadRequest
        The question cannot be answered from this table (the same errors as for the answer), or no model can be
        fitted.
    """
    if isinstance(question, Comparison):
        return tuple(_pair(pair) for pair in pairs_of(table, question, declared=declared))
    if isinstance(question, Lesson):
        return (_lesson(table, question),)
    if question.level == "golfer":
        table = swings_of(table, question)
    asked = frame_question(table, question, errors, declared=declared)
    posture = describe(question.posture, question.event, table=table, declared=declared)
    asked = in_steps(asked) if in_words(asked) else asked
    shared = {
        "name": question.name, "outcome": asked.outcome_label, "outcome_unit": asked.subject.unit,
        "predictor": posture.label, "predictor_unit": posture.unit, "step": STEP,
    }  # fmt: skip
    golfers = sorted(asked.rows[GOLFER].unique(), key=str)
    if len(golfers) < FEWEST_GOLFERS:
        return _each(asked, golfers, shared)
    return ((_between if question.level == "between" else _within)(asked, shared),)


def _within(asked: Asked, shared: dict[str, Any]) -> Diagnostics:
    rows, adjust, _ = deviations(asked)
    knots = spline_knots(rows[X].to_numpy(float))
    rows[BEND] = natural_spline(rows[X].to_numpy(float), knots)
    rows[BEND] -= rows.groupby(CELL)[BEND].transform("mean")
    drift = take_out_drift(rows, [X, Y, BEND, *adjust])
    fit, slope, level, method = fit_slope(asked, drift, adjust)
    rows, terms = level.rows, [X, *level.adjust]
    session = CELL if rows[CELL].nunique() > rows[GOLFER].nunique() else None
    without = influence(rows, Y, terms, term=X, golfer=GOLFER, slopes=[X], session=session)
    variation = _left(rows[X].to_numpy(float), rows[level.adjust].to_numpy(float)) ** 2
    leverage = pd.Series(variation / variation.sum()).groupby(rows[GOLFER].to_numpy()).sum()
    found, curve = _bend_within(rows, level.adjust, slope, knots)
    shared = shared | {"predictor": f"{shared['predictor']} minus the golfer's mean"}
    return Diagnostics(
        about="within golfers",
        fitted_by=str(method),
        points=_points(rows, fit.fitted, fit.residuals, STEP * rows[X], slope.estimate * rows[X], ORDER),
        golfers=_golfers(leverage, without),
        estimate=slope.estimate,
        curve=curve,
        **shared,
        **found,
    )


def _bend_within(
    rows: pd.DataFrame, adjust: list[str], slope: Estimate, knots: np.ndarray
) -> tuple[dict[str, Any], pd.DataFrame]:
    """Test golfers' own bends or, if fewer than six golfers have one, a common bend with CR2 standard errors.

    Returns the fields of `Diagnostics` on curvature, and the curve for drawing.
    """
    own, x = own_bends(rows, adjust), rows[X].to_numpy(float)
    if len(own) >= FEWEST_GOLFERS:
        found = test_of(bend_within(own), Note("own_bends"), len(own))
        covariance = own.cov().to_numpy() / len(own)
        return found, curve_of(
            x, slope.estimate, own.mean().to_numpy(), covariance, len(own) - 1.0, step=STEP, knots=knots
        )
    try:
        made, golfers = common_bend(rows, adjust)
    except BadTable as fault:
        return no_test(Note("bend_untested", why=fault.what)), _NO_CURVE
    found = test_of(made, Note("bend_robust"), golfers)
    terms, errors = np.array([slope.estimate, made.estimate]), [slope.standard_error, made.standard_error]
    return found, curve_of(
        x, slope.estimate, terms, np.diag(np.square(errors)), made.df, step=STEP, knots=knots
    )


def _between(asked: Asked, shared: dict[str, Any]) -> Diagnostics:
    rows, adjust, _ = between_rows(asked)
    own = rows.groupby(GOLFER)[X].first()
    knots = spline_knots(own.to_numpy(float))
    rows[BEND] = natural_spline(rows[X].to_numpy(float), knots)
    terms = [X, *adjust]
    fit = fit_golfer_means(rows, Y, terms, golfer=GOLFER)
    slope = float(fit.coefficients["estimate"][X])
    means = fit.means.rename_axis(GOLFER).reset_index()
    without = influence(rows, Y, terms, term=X, golfer=GOLFER, fit=fit_golfer_means)
    variation = _left(means[X].to_numpy(float), _with_one(means, adjust)) ** 2
    leverage = pd.Series(variation / variation.sum(), means[GOLFER])
    curve = _NO_CURVE
    try:
        bent = fit_golfer_means(rows, Y, [*terms, BEND], golfer=GOLFER)
        made = Estimate.of_term(bent.coefficients, BEND)
        found = test_of(made, Note("bend_of_means"), bent.n_golfers)
        curve = _curve(means[X].to_numpy(float), slope, bent, X, made.df, knots)
    except BadTable as fault:
        found = no_test(Note("bend_untested", why=fault.what))
    middle = means[X] - means[X].mean()
    fitted, residuals = (part.reset_index(drop=True) for part in (fit.fitted, fit.residuals))
    shared = shared | {"predictor": f"golfer's mean of {shared['predictor']}"}
    return Diagnostics(
        about="between golfers",
        fitted_by=str(Note("golfer_means")),
        points=_points(means, fitted, residuals, STEP * means[X], slope * middle, None),
        golfers=_golfers(leverage, without),
        estimate=slope,
        curve=curve,
        **shared,
        **found,
    )


def _each(asked: Asked, golfers: list, shared: dict[str, Any]) -> tuple[Diagnostics, ...]:
    made, refused = [], []
    for golfer in golfers:
        try:
            made.append(_one_golfer(asked, golfer, shared))
        except BadTable as fault:
            refused.append(f"{golfer}: {fault.what}")
    if not made:
        raise BadTable(
            f"no golfer's swings can be analysed: {'; '.join(refused)}",
            do="measure more swings of each golfer",
        )
    return tuple(made)


def _one_golfer(asked: Asked, golfer: object, shared: dict[str, Any]) -> Diagnostics:
    one = fit_one_golfer(asked, golfer)
    rows, fit = one.rows, one.fit
    posture = rows[X].to_numpy(float)
    knots = spline_knots(posture)
    rows = rows.assign(**{BEND: natural_spline(posture, knots)})
    method = Note("series", golfer=golfer)
    curve = _NO_CURVE
    slope = float(fit.coefficients["estimate"][X])
    try:
        bent = fit_series(rows, Y, [X, *one.moving, BEND], order=PLACE, session=one.session)
        made = Estimate.of_term(bent.coefficients, BEND)
        found = test_of(made, Note("bend_of_series"), 1)
        curve = _curve(posture, slope, bent, X, made.df, knots)
    except BadTable as fault:
        found = no_test(Note("bend_untested", why=fault.what))
    rows = rows.loc[fit.residuals.index]
    rows = rows.assign(swing=np.arange(1.0, len(rows) + 1))
    linear = slope * (rows[X] - rows[X].mean())
    return Diagnostics(
        about=f"golfer {golfer}",
        fitted_by=str(method),
        points=_points(rows, fit.fitted, fit.residuals, STEP * rows[X], linear, "swing"),
        golfers=_NO_GOLFERS,
        estimate=slope,
        curve=curve,
        **shared,
        **found,
    )


def _lesson(table: pd.DataFrame, lesson: Lesson) -> Diagnostics:
    rows, label, unit = judged_swings(table, lesson)
    swing = np.arange(1.0, len(rows) + 1)
    tens = swing / STEP
    knots = spline_knots(tens)
    rows = rows.assign(**{"swing": swing, _DRIFT: tens, BEND: natural_spline(tens, knots)})
    rows[GOLFER] = str(lesson.golfer)
    session = SESSION if SESSION in rows else None
    options: dict[str, Any] = {"order": ORDER, "session": session, "trend": False}
    fit = fit_series(rows, "value", ["after", _DRIFT], **options)
    drift = float(fit.coefficients["estimate"][_DRIFT])
    curve = _NO_CURVE
    try:
        bent = fit_series(rows, "value", ["after", _DRIFT, BEND], **options)
        made = Estimate.of_term(bent.coefficients, BEND)
        found = test_of(made, Note("bend_of_drift"), 1, drift=True)
        curve = _curve(tens, drift, bent, _DRIFT, made.df, knots)
    except BadTable as fault:
        found = no_test(Note("bend_untested", why=fault.what))
    return Diagnostics(
        name=lesson.name,
        about=f"golfer {lesson.golfer}",
        fitted_by=str(Note("step_beside_trend")),
        outcome=label,
        outcome_unit=unit,
        predictor="swing in order",
        predictor_unit="",
        points=_points(rows, fit.fitted, fit.residuals, rows["swing"], drift * (tens - tens.mean()), "swing"),
        golfers=_NO_GOLFERS,
        estimate=float(fit.coefficients["estimate"]["after"]),
        curve=curve,
        **found,
    )


def _pair(pair: Pair) -> Diagnostics:
    """Return diagnostics of a pair of groups, from residuals of golfer means or of paired differences."""
    value, between = pair.value.column, pair.asked.between
    if pair.same_golfers:
        means = pair.rows.groupby([GOLFER, between], observed=True)[value].mean().unstack(between).dropna()
        own = (means[pair.groups[1]] - means[pair.groups[0]]).rename(value)
        rows = pd.DataFrame({GOLFER: own.index, value: own.to_numpy()})
        if len(rows) < 3:
            raise BadTable(
                f"a paired comparison needs 3 or more golfers with swings in both groups "
                f"({', '.join(map(str, pair.groups))}), but the table has {len(rows)}",
                do="measure more golfers in both groups",
            )
        estimate = float(own.mean())
        fitted, residuals = pd.Series(estimate, rows.index), rows[value] - estimate
        leverage = pd.Series(1.0 / len(own), own.index)
        left_out = pd.DataFrame({"estimate": (own.sum() - own) / (len(own) - 1)})
        method = Note("paired_t")
    else:
        terms = [between, *pair.adjust]
        fit = fit_golfer_means(pair.rows, value, terms, golfer=GOLFER)
        rows = fit.means.rename_axis(GOLFER).reset_index()
        others = [name for name in fit.means.columns[1:] if name != pair.term]
        variation = _left(rows[pair.term].to_numpy(float), _with_one(rows, others)) ** 2
        leverage = pd.Series(variation / variation.sum(), rows[GOLFER])
        estimate = float(fit.coefficients["estimate"][pair.term])
        fitted, residuals = (part.reset_index(drop=True) for part in (fit.fitted, fit.residuals))
        left_out = influence(pair.rows, value, terms, term=pair.term, golfer=GOLFER, fit=fit_golfer_means)
        method = Note("golfer_means")
    nothing = pd.Series(np.nan, rows.index)
    return Diagnostics(
        name=pair.asked.name,
        about=f"{pair.groups[1]} against {pair.groups[0]}",
        fitted_by=str(method),
        outcome=pair.value.label,
        outcome_unit=pair.value.unit,
        predictor=pair.term,
        predictor_unit="",
        points=_points(rows, fitted, residuals, nothing, nothing, None),
        golfers=_golfers(leverage, left_out.assign(change=left_out["estimate"] - estimate)),
        estimate=estimate,
        curve=_NO_CURVE,
        **no_test(Note("no_line")),
    )


def _points(
    rows: pd.DataFrame, fitted: pd.Series, residuals: pd.Series, predictor: pd.Series, linear: pd.Series,
    place: str | None,
) -> pd.DataFrame:  # fmt: skip
    """Return one row for each residual; partial residuals are `linear` (slope times predictor) plus the residual."""
    return pd.DataFrame(
        {"golfer": rows[GOLFER].astype(str), "swing": rows[place] if place else np.nan,
         "fitted": fitted.reindex(rows.index), "residual": residuals.reindex(rows.index),
         "predictor": predictor, "partial": linear + residuals.reindex(rows.index)}
    ).reset_index(drop=True)  # fmt: skip


def _golfers(leverage: pd.Series, without: pd.DataFrame) -> pd.DataFrame:
    """Return golfers sorted by leverage, each with the estimate when that golfer is left out."""
    made = pd.DataFrame({"leverage": leverage}).join(
        without.rename(columns={"estimate": "without"})[["without", "change"]]
    )
    return (
        made.rename(index=str).rename_axis("golfer").sort_values("leverage", ascending=False, kind="stable")
    )


def _with_one(rows: pd.DataFrame, names: list[str]) -> np.ndarray:
    return np.column_stack([np.ones(len(rows)), rows[names].to_numpy(float)])


def _left(values: np.ndarray, others: np.ndarray) -> np.ndarray:
    """Return the residuals of `values` after regression on `others`; only they inform the slope."""
    if not others.shape[1]:
        return values
    return values - others @ np.linalg.lstsq(others, values, rcond=None)[0]


def _curve(x: np.ndarray, slope: float, bent: Any, term: str, df: float, knots: np.ndarray) -> pd.DataFrame:
    both = [term, BEND]
    return curve_of(
        x, slope, bent.coefficients.loc[both, "estimate"].to_numpy(float),
        bent.covariance.loc[both, both].to_numpy(float), df, step=STEP, knots=knots,
    )  # fmt: skip
