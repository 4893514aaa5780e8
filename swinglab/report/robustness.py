"""Robustness value of an answer: how strong an unmeasured cause would have to be to explain it."""

from __future__ import annotations

import numpy as np
import pandas as pd

from swinglab import columns
from swinglab.answers.found import judged_rows
from swinglab.errors import SwinglabError
from swinglab.records import Comparison, Hunch, Lesson
from swinglab.statistics.confounding import Robustness, robustness_between, robustness_within


def robustness_of(table: pd.DataFrame, question: Hunch | Comparison | Lesson) -> Robustness | None:
    """Return the robustness value of an answer: how strong an unmeasured cause would have to be to explain it.

    It is computed from the swings used to judge the answer: within golfers, for the regression with an intercept for
    each golfer; between golfers and for two groups, for the regression on golfer means. None if it is not defined: for
    one golfer's series, a lesson, or several groups.

    Parameters
    ----------
    table : pandas.DataFrame
        Swing table.
    question : Hunch, Comparison or Lesson
    """
    if isinstance(question, Lesson) or getattr(question, "level", "") == "golfer":
        return None
    table = judged_rows(table, question)
    adjust = tuple(name for name in question.adjust if name in table)
    found: Robustness | None
    try:
        if isinstance(question, Hunch):
            column = columns.event_column_name(question.posture, question.event)
            measure = robustness_within if question.level == "within" else robustness_between
            found = measure(table, question.outcome, column, adjust=adjust)
        else:
            found = _of_groups(table, question, adjust)
    except SwinglabError:
        return None
    return found if found is not None and np.isfinite(found.value) else None


def _of_groups(table: pd.DataFrame, question: Comparison, adjust: tuple[str, ...]) -> Robustness | None:
    """Robustness value of a difference between two groups of golfers."""
    rows = table[table[question.between].notna()]
    if rows.groupby("golfer")[question.between].nunique().gt(1).any():  # it changes within golfers
        return None
    groups = sorted(rows[question.between].unique(), key=str)
    if len(groups) != 2:
        return None
    of = columns.event_column_name(question.of, question.event) if question.event else question.of
    rows = rows.assign(**{"second group": (rows[question.between] == groups[1]).astype(float)})
    return robustness_between(rows, of, "second group", adjust=adjust)


def robustness_sentence(robustness: Robustness, question: Hunch | Comparison) -> str:
    """Return a sentence for a coach on how strong an unmeasured cause would have to be to explain an answer."""
    is_within = isinstance(question, Hunch) and question.level == "within"
    both = "posture and strike" if isinstance(question, Hunch) else "the group and the compared quantity"
    label = (
        "regression with an intercept for each golfer, swings taken as independent"
        if is_within
        else "regression on golfer means"
    )
    return (
        f"Something that was not measured (tiredness, intent, another part of the body) could be behind both "
        f"{both}. To explain the whole relation, it would have to explain {robustness.value:.0%} of the variation of "
        f"each that the model leaves unexplained ({label}). If you can think of nothing that strong, another cause is "
        "an unlikely explanation of the whole relation."
    )
