"""Robustness value of an answer: how strong an unmeasured cause would have to be to explain it."""

from __future__ import annotations

import numpy as np
import pandas as pd

from swinglab.answers.between import between_rows
from swinglab.answers.comparison import pairs_of
from swinglab.answers.drift import take_out_drift
from swinglab.answers.found import confirming_rows
from swinglab.answers.question import CELL, CONTACTS, Asked, X, Y, frame_question
from swinglab.answers.within import deviations
from swinglab.errors import SwinglabError
from swinglab.records import Comparison, Errors, Hunch, Lesson
from swinglab.statistics.confounding import Robustness, robustness_between, robustness_within
from swinglab.statistics.groups import golfers_in_several


def robustness_of(table: pd.DataFrame, question: Hunch | Comparison | Lesson) -> Robustness | None:
    """Return the robustness value of an answer: how strong an unmeasured cause would have to be to explain it.

    It is computed from the swings and covariates of the answer: within golfers, for the regression with an intercept
    for each golfer, session, club and shot, after linear drift is removed; between golfers and for two groups, for the
    regression on golfer means. None if it is not defined: for one golfer's series, a lesson, contact in words, or
    several groups.

    Parameters
    ----------
    table : pandas.DataFrame
        Swing table.
    question : Hunch, Comparison or Lesson
    """
    if isinstance(question, Lesson) or getattr(question, "level", "") == "golfer":
        return None
    if isinstance(question, Hunch) and question.outcome in CONTACTS:
        return None
    found: Robustness | None
    try:
        rows = confirming_rows(table, question)[0]
        if isinstance(question, Comparison):
            found = _of_groups(rows, question)
        else:
            asked = frame_question(rows, question, Errors())
            found = _within(asked) if question.level == "within" else _between(asked)
    except SwinglabError:
        return None
    return found if found is not None and np.isfinite(found.value) else None


def _within(asked: Asked) -> Robustness:
    """Robustness value of a slope within golfers: swings are compared within cells, without drift."""
    rows, adjust, _ = deviations(asked)
    drift = take_out_drift(rows, [X, Y, *adjust])
    return robustness_within(drift.rows, Y, X, adjust=tuple(adjust), cell=CELL, terms=drift.terms)


def _between(asked: Asked) -> Robustness:
    """Robustness value of a slope between golfers."""
    rows, adjust, _ = between_rows(asked)
    return robustness_between(rows, Y, X, adjust=tuple(adjust))


def _of_groups(table: pd.DataFrame, question: Comparison) -> Robustness | None:
    """Robustness value of a difference between two groups of golfers."""
    pairs = pairs_of(table, question, declared={})
    if len(pairs) != 1:
        return None
    pair = pairs[0]
    if len(golfers_in_several(pair.rows, between=question.between, golfer="golfer")):
        return None
    second = (pair.rows[question.between] == pair.groups[1]).astype(float)
    rows = pair.rows.assign(**{"second group": second})
    return robustness_between(rows, pair.value.column, "second group", adjust=pair.adjust)


def robustness_sentence(robustness: Robustness, question: Hunch | Comparison) -> str:
    """Return a sentence for a coach on how strong an unmeasured cause would have to be to explain an answer."""
    is_within = isinstance(question, Hunch) and question.level == "within"
    both = "posture and strike" if isinstance(question, Hunch) else "the group and the compared quantity"
    label = (
        "regression with an intercept for each golfer, session and club, swings taken as independent"
        if is_within
        else "regression on golfer means"
    )
    return (
        f"Something that was not measured (tiredness, intent, another part of the body) could be behind both "
        f"{both}. To explain the whole relation, it would have to explain {robustness.value:.0%} of the variation of "
        f"each that the model leaves unexplained ({label}). If you can think of nothing that strong, another cause is "
        "an unlikely explanation of the whole relation."
    )
