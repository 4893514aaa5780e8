"""A hunch about posture and strike, answered within golfers and between golfers."""

from __future__ import annotations

import pandas as pd

from swinglab.answers.between import relate_between
from swinglab.answers.contact_hunch import in_steps, in_words, relate_contact
from swinglab.answers.described import DeclaredColumns
from swinglab.answers.lines import NO_NUMBER, judged, warned, without_warnings
from swinglab.answers.one_golfer import relate_each, relate_one_golfer
from swinglab.answers.question import GOLFER, NONE_DECLARED, Asked, frame_question
from swinglab.answers.rules import FEWEST_GOLFERS
from swinglab.answers.within import relate_within
from swinglab.errors import BadRequest, BadTable, near_names, shortened
from swinglab.finding_words import Note
from swinglab.records import Errors, Finding, Hunch
from swinglab.statistics.design import check_columns

_LEVELS = {"within": relate_within, "between": relate_between}


def relate_posture_to_strike(
    table: pd.DataFrame, hunch: Hunch, *, errors: Errors, declared: DeclaredColumns = NONE_DECLARED
) -> tuple[Finding, ...]:
    """Estimate the slope of a strike quantity on a posture at an event, within golfers and between golfers.

    Parameters
    ----------
    table : pandas.DataFrame
        The swing table: one row for each swing, with golfer, the outcome, the posture at the event, covariates, and, if
        known, standard errors of the posture.
    hunch : Hunch
        The question. Its conclusion is drawn at `hunch.level`; the other level is reported without a conclusion.
    errors : Errors
        Known measurement errors.
    declared : mapping of str to (label, unit)
        Columns that the user adds to the swing table and that the hunch uses as posture (with ``event=""``) or
        outcome.

    Returns
    -------
    tuple of Finding
        Slopes in outcome units per 10 posture units, one finding for each method. First the primary method at
        `hunch.level`, then the supplementary methods, then the other level. With one golfer: the answer for that
        golfer (level "golfer"). With two to five golfers: a finding without an estimate, because no conclusion about
        golfers in general is drawn, then one finding for each golfer.

    Raises
    ------
    BadTable, BadRequest
        The question cannot be answered from this table; the message gives the reason.
    """
    if hunch.level not in (*_LEVELS, "golfer"):
        raise BadRequest(
            f"the hunch {hunch.name} has the unknown level {hunch.level}",
            do='set level = "within", "between" or "golfer"',
        )
    if hunch.level == "golfer":
        table = swings_of(table, hunch)
    asked = frame_question(table, hunch, errors, declared=declared)
    words = asked if in_words(asked) else None
    asked = in_steps(asked) if words else asked
    golfers = asked.rows[GOLFER].nunique()
    if golfers == 1:
        one = relate_one_golfer(asked, asked.rows[GOLFER].iloc[0])
        return (warned(judged(one[0]), [Note("one_golfer")]), *one[1:])
    if golfers < FEWEST_GOLFERS:
        return (_no_claim(asked, golfers), *relate_each(asked))
    lines = _LEVELS[hunch.level](asked)
    lines[0] = judged(lines[0])
    other = next(level for level in _LEVELS if level != hunch.level)
    try:
        shown = _LEVELS[other](asked)
    except BadTable as fault:
        lines[0] = warned(lines[0], [Note("no_answer_at_level", level=other, why=fault.what)])
        shown = []
    if words:
        lines += relate_contact(words, hunch.level)
    return (*_warned_once(lines, asked), *_warned_once(shown, asked))


def swings_of(table: pd.DataFrame, hunch: Hunch) -> pd.DataFrame:
    """Return the swings of the golfer `hunch.golfer`; raise BadRequest if the table has none."""
    check_columns(table, [GOLFER])
    own = table[table[GOLFER].astype(str) == str(hunch.golfer)]
    if own.empty:
        known = sorted(str(name) for name in table[GOLFER].dropna().unique())
        raise BadRequest(
            f"the swing table has no golfer {hunch.golfer}",
            do=near_names(str(hunch.golfer), known) or f"choose one of {shortened(known)}",
        )
    return own


def _warned_once(lines: list[Finding], asked: Asked) -> list[Finding]:
    """Return the findings of a level; warnings that all of them share are kept only in the first."""
    return [line if i == 0 else without_warnings(line, asked.warnings) for i, line in enumerate(lines)]


def _no_claim(asked: Asked, golfers: int) -> Finding:
    note = Note("shown_alone", golfers=golfers, fewest=FEWEST_GOLFERS)
    line = asked.line(
        asked.hunch.level,
        Note("none"),
        NO_NUMBER,
        n_golfers=golfers,
        n_swings=len(asked.rows),
        warnings=[note],
    )
    return judged(line, reading=Note("no_claim"))
