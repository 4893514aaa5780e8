"""Confirmation on new data: a question that was found by a search is tested on swings that were not searched."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import pandas as pd

from swinglab.answers.hunch import swings_of
from swinglab.answers.lines import read_as, warned
from swinglab.answers.rules import FEWEST_GOLFERS
from swinglab.answers.selection import rows_where
from swinglab.errors import BadTable
from swinglab.finding_words import Note
from swinglab.records import Comparison, Finding, Hunch, Lesson

#: How the rows on which a question is judged relate to the search that suggested it.
FRESH, SAME_GOLFERS, SAME_SESSION, SEARCHED = "fresh", "same_golfers", "same_session", "searched"
#: Readings of a question from a search, by how its rows relate to the search.
#: They replace those in `_EARNED`.
_READ_AS = {FRESH: "confirmed", SAME_GOLFERS: "held_again", SAME_SESSION: "repeated"}
_EARNED = ("borne_out", "relation", "difference")

Question = Hunch | Comparison | Lesson


def confirming_rows(table: pd.DataFrame, question: Question) -> tuple[pd.DataFrame, str]:
    """Select the swings on which a question may be tested, and say whether a search has already used them.

    Returns
    -------
    rows : pandas.DataFrame
        All rows if the question did not come from a search. For a question about golfers in general: swings of
        golfers who were not searched; if these are fewer than six golfers, sessions of the searched golfers that
        were not searched, again of six golfers or more. For a question about one golfer: sessions captured after
        the question was saved; otherwise swings of the searched sessions that were not searched. If none of these
        exist, all rows, with the searched swings.
    standing : str
        "" if the question did not come from a search. Otherwise "fresh" (golfers who were not searched or, for one
        golfer, later sessions), "same_golfers" (other sessions of searched golfers), "same_session" (other swings
        of the searched sessions) or "searched" (all rows, with the searched swings).
    """
    found = getattr(question, "found_in", None)
    if found is None:
        return table, ""
    if question.where:
        table = rows_where(table, question.where)
    session = table["session"] if "session" in table else pd.Series("", index=table.index)
    if getattr(question, "level", "") == "golfer":
        own = _kept(table, table["golfer"].isin([getattr(question, "golfer", None)]))
        later = _kept(own, ~session[own.index].isin(found.sessions))
        if len(later):
            return later, FRESH
        searched_swings = own["swing"].isin(found.swings)
        same_day = session[own.index].isin(session[own.index][searched_swings])
        rest = _kept(own, same_day & ~searched_swings)
        return (rest, SAME_SESSION) if found.swings and len(rest) else (own, SEARCHED)
    searched = table["golfer"].isin(found.golfers)
    others = _kept(table, ~searched)
    if others["golfer"].nunique() >= FEWEST_GOLFERS:
        return others, FRESH
    again = _kept(table, searched & ~session.isin(found.sessions))
    if found.sessions and again["golfer"].nunique() >= FEWEST_GOLFERS:
        return again, SAME_GOLFERS
    return table, SEARCHED


def judged_rows(table: pd.DataFrame, question: Question) -> pd.DataFrame:
    """Return the swings on which a question is judged.

    These are the rows of `confirming_rows` that meet the conditions in `where`. For a hunch about one golfer they
    are the swings of this golfer.

    Raises
    ------
    BadTable, BadRequest
        No such swing; the message gives the reason.
    """
    rows = rows_where(confirming_rows(table, question)[0], question.where)
    if isinstance(question, Hunch) and question.level == "golfer":
        return swings_of(rows, question)
    return rows


def _kept(table: pd.DataFrame, mask: pd.Series) -> pd.DataFrame:
    return table.loc[mask]


def before_judging(lines: Sequence[Finding], standing: str, question: Question) -> list[Finding]:
    """Return the findings of a question; findings from the searched swings lose their p values and conclusion.

    `standing` is the second result of `confirming_rows`. If it is "searched", p is set to NaN and the reading
    becomes "found by a search"; otherwise nothing is changed. A finding without p does not count in the Holm
    adjustment.
    """
    if standing != SEARCHED:
        return list(lines)
    made = []
    for line in lines:
        plain = replace(line, p=float("nan"))
        made.append(read_as(plain, Note("found_only")) if line.role == "default" else plain)
    made[0] = warned(made[0], [Note("found_here", needs=_needs(question))])
    return made


def _needs(question: Question) -> str:
    if getattr(question, "level", "") == "golfer":
        return "a session captured after the question was saved"
    return f"{FEWEST_GOLFERS} golfers or more who were not searched"


def after_judging(line: Finding, standing: str) -> Finding:
    """Return a finding whose reading also tells how new its data are, if its question came from a search.

    A reading that states an effect becomes "confirmed" (new golfers or later sessions), "found again" (other
    sessions of the searched golfers) or "repeated" (other swings of the searched sessions). Other readings are
    unchanged. `standing` is the second result of `confirming_rows`.
    """
    if line.role != "default" or standing not in _READ_AS or line.reading_key not in _EARNED:
        return line
    return read_as(line, Note(_READ_AS[standing]))


def tried_before(question: Question, asked: Sequence[Question]) -> list[Note]:
    """Return a note if several hunches from searches test the same posture and outcome.

    Event and level must also be the same. `asked` : all questions of the study. The list is empty if
    `question` is the only such hunch.
    """
    if getattr(question, "found_in", None) is None or not isinstance(question, Hunch):
        return []
    same = [
        q for q in asked
        if isinstance(q, Hunch) and q.found_in is not None and (q.outcome, q.posture, q.event, q.level)
        == (question.outcome, question.posture, question.event, question.level)
    ]  # fmt: skip
    return [Note("tried_again", number=len(same))] if len(same) > 1 else []


def need_direction(question: Question) -> None:
    """Raise BadTable if a hunch that came from a search does not give the sign of the slope that was found."""
    if getattr(question, "found_in", None) is not None and getattr(question, "expect", "") == "either":
        raise BadTable(
            f"the hunch {question.name} was found by a search, but does not give the sign of the slope that "
            "was found",
            do='set expect = "positive" or expect = "negative" for this hunch in study.toml',
        )
