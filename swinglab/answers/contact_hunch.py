"""A hunch about contact (fat 0, clean 1, thin 2), with ordinal and logistic regression as supplementary methods."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pandas as pd

from swinglab.answers.lines import NO_NUMBER
from swinglab.answers.question import CELL, GOLFER, Asked, X, Y, with_method_term
from swinglab.conventions import CONTACTS
from swinglab.errors import BadTable
from swinglab.finding_words import Note
from swinglab.records import Finding
from swinglab.statistics.attenuation import correct_observed_slope
from swinglab.statistics.binary import fit_binary
from swinglab.statistics.estimate import Estimate
from swinglab.statistics.ordinal import fit_ordinal_mixed

STEPS = "steps (fat, clean, thin)"
_DEVIATION, _MEAN, _CLEAN = "posture deviation", "posture mean", "clean"


def in_words(asked: Asked) -> bool:
    """Return whether the outcome of a hunch is contact with the ball, given as the words fat, clean and thin."""
    return bool(asked.rows[Y].isin(CONTACTS).all())


def in_steps(asked: Asked) -> Asked:
    """Return the same question with the words for contact replaced by 0 (fat), 1 (clean) and 2 (thin)."""
    steps = asked.rows[Y].map({word: float(step) for step, word in enumerate(CONTACTS)})
    return replace(
        asked, rows=asked.rows.assign(**{Y: steps}), subject=replace(asked.subject, unit=STEPS),
        warnings=(*asked.warnings, Note("contact_steps")),
    )  # fmt: skip


def relate_contact(asked: Asked, level: str) -> list[Finding]:
    """Return findings of two supplementary models of contact.

    One is for the log odds of a thinner strike (fat, clean, thin in this order), the other for the log odds of a
    clean strike. Each model contains the posture's deviation from its cell mean and the golfer's mean posture as
    separate terms. The first coefficient is reported if `level` is "within", the second if it is "between". If a model
    cannot be fitted, its finding has the reason and no estimate.
    """
    rows, adjust, _ = with_method_term(asked.rows, asked.adjust)
    cells, golfers = rows.groupby(CELL)[X], rows.groupby(GOLFER)[X]
    rows[_DEVIATION] = rows[X] - cells.transform("mean")
    rows[_MEAN] = golfers.transform("mean")
    rows[Y] = pd.Categorical(rows[Y], CONTACTS, ordered=True)
    rows[_CLEAN] = (rows[Y] == "clean").astype(float)
    terms = [name for name in (_DEVIATION, _MEAN) if np.ptp(rows[name]) > 1e-12]
    term = _DEVIATION if level == "within" else _MEAN
    return [_line(asked, rows, level, term, [*terms, *adjust], kind, adjust) for kind in ("thinner", "clean")]


def _line(
    asked: Asked,
    rows: pd.DataFrame,
    level: str,
    term: str,
    terms: Sequence[str],
    kind: str,
    named: Sequence[str],
) -> Finding:
    unit = f"log odds of a {kind} strike"
    method, correction = Note("binary_gee"), ""
    try:
        if kind == "thinner":
            ordered = fit_ordinal_mixed(rows, Y, terms, golfer=GOLFER)
            row, notes = ordered.coefficients.loc[[term]].iloc[0], ordered.warnings
            method, df = Note("cumulative_logit"), float(row["golfer_df"])
        else:
            binary = fit_binary(rows, _CLEAN, terms, golfer=GOLFER, covariance="kauermann_carroll")
            row, notes = binary.coefficients.loc[[term]].iloc[0], binary.warnings
            df = float(row["df"])
        estimate, error = float(row["estimate"]), _error(row)
        free = float(len(rows) - (rows[CELL] if level == "within" else rows[GOLFER]).nunique())
        answer = correct_observed_slope(
            estimate, error, df, predictor_variance=float((rows[term] ** 2).sum()) / free, predictor_df=free,
            error_variance=asked.swing_variance if level == "within" else 0.0,
        )  # fmt: skip
    except (BadTable, KeyError) as fault:
        why = fault.what if isinstance(fault, BadTable) else "the posture does not vary at this level"
        numbers, notes = NO_NUMBER, (Note("no_contact_model", why=why),)
    else:
        # The correction multiplies the slope, so the p value of its test against 0 stays the same.
        numbers = Estimate.by_t(estimate, error, df).moved(answer.estimate, answer.standard_error)
        correction = "corrected" if answer.corrected and answer.reliability < 1 else ""
        notes = (*notes, *answer.warnings)
    return asked.line(
        level, method, numbers, n_golfers=int(rows[GOLFER].nunique()), n_swings=len(rows), warnings=notes,
        correction=correction, unit=unit, named=named,
    )  # fmt: skip


def _error(row: pd.Series) -> float:
    """Return a standard error for the interval that agrees with the test on golfers' score sums.

    The estimate divided by it is the t statistic of that test, if there is one. The model's own standard
    error assumes that a golfer's swings share a random intercept only. An interval from it disagreed with the
    test in a third of the simulated data sets.
    """
    statistic = float(row.get("golfer_t", np.nan))
    if not np.isfinite(statistic) or abs(statistic) < 1e-6:
        return float(row["standard_error"])
    return abs(float(row["estimate"]) / statistic)
