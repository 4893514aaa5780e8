"""A hunch about posture and strike, answered within golfers and between golfers."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd

from swinglab.answers.comparison import NO_CLAIM
from swinglab.answers.contact_hunch import in_steps, in_words, relate_contact
from swinglab.answers.one_golfer import relate_alone, relate_each
from swinglab.answers.question import FEWEST_GOLFERS, GOLFER, Asked, frame_question
from swinglab.answers.within_between import relate_between, relate_within
from swinglab.errors import BadRequest, BadTable
from swinglab.records import Errors, Finding, Hunch

_LEVELS = {"within": relate_within, "between": relate_between}


def relate_posture_to_strike(table: pd.DataFrame, hunch: Hunch, *, errors: Errors) -> tuple[Finding, ...]:
    """Relate a posture at an event to the strike, within golfers and between golfers.

    Parameters
    ----------
    table : pandas.DataFrame
        The swing table: one row a swing, with golfer, the outcome, the posture at the event, covariates, and
        the standard-error columns where they exist.
    hunch : Hunch
        The question; its `level` is the one that is judged.
    errors : Errors
        Known errors of the set-up.

    Returns
    -------
    tuple of Finding
        Estimates in outcome units per 10 posture units. First the default line of the judged level, then its
        companions, then the other level. One golfer: that player's own answer (level `golfer`). Two to five:
        a default line without a number, then each golfer alone.

    Raises
    ------
    BadTable, BadRequest
        A question that this table cannot carry, and why.
    """
    if hunch.level not in _LEVELS:
        raise BadRequest(f"there is no level {hunch.level}", do="within or between")
    asked = frame_question(table, hunch, errors)
    words = asked if in_words(asked) else None
    asked = in_steps(asked) if words else asked
    golfers = asked.rows[GOLFER].nunique()
    if golfers == 1:
        alone = relate_alone(asked, asked.rows[GOLFER].iloc[0])
        said = "one golfer: the answer is for this player and these sessions, not for golfers in general"
        return (replace(alone[0], role="default", warnings=(*alone[0].warnings, said)), *alone[1:])
    if golfers < FEWEST_GOLFERS:
        return (_no_claim(asked, golfers), *relate_each(asked))
    judged = _LEVELS[hunch.level](asked)
    judged[0] = replace(judged[0], role="default")
    other = next(level for level in _LEVELS if level != hunch.level)
    try:
        shown = _LEVELS[other](asked)
    except BadTable as fault:
        said = f"no answer {other} golfers: {fault.what}"
        judged[0] = replace(judged[0], warnings=(*judged[0].warnings, said))
        shown = []
    if words:
        judged += relate_contact(words, hunch.level)
    return (*_said_once(judged, asked), *_said_once(shown, asked))


def _said_once(lines: list[Finding], asked: Asked) -> list[Finding]:
    """What holds for every line of a level stands on its first line alone."""
    shared = set(asked.warnings)
    return [
        line if i == 0 else replace(line, warnings=tuple(w for w in line.warnings if w not in shared))
        for i, line in enumerate(lines)
    ]


def _no_claim(asked: Asked, golfers: int) -> Finding:
    said = f"{golfers} golfers: each is shown alone, nothing is said of golfers in general (from {FEWEST_GOLFERS} on)"
    number = len(asked.rows)
    line = asked.line(
        asked.hunch.level, "none", (np.nan,) * 6, n_golfers=golfers, n_swings=number, warnings=[said]
    )
    return replace(line, role="default", reading=NO_CLAIM)
