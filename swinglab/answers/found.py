"""Explored is not confirmed: a question that was found by looking is judged on data that the search had not seen."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import pandas as pd

from swinglab.answers.lines import read_as, warned
from swinglab.answers.rules import FEWEST_GOLFERS
from swinglab.answers.selection import rows_where
from swinglab.errors import BadTable
from swinglab.finding_words import Note
from swinglab.records import Comparison, Finding, Hunch, Lesson

#: What the rows that remain for a question are to the search that found it.
FRESH, SAME_GOLFERS, SAME_SESSION, SEARCHED = "fresh", "same_golfers", "same_session", "searched"
#: Readings that a found question earns where the rules would say that its expectation is borne out.
_READ_AS = {FRESH: "confirmed", SAME_GOLFERS: "held_again", SAME_SESSION: "repeated"}
_EARNED = ("borne_out", "relation", "difference")

Question = Hunch | Comparison | Lesson


def confirming_rows(table: pd.DataFrame, question: Question) -> tuple[pd.DataFrame, str]:
    """Rows on which a question may be judged, and what they are to the search that found it.

    Returns
    -------
    rows : pandas.DataFrame
        All where the question was not found by looking. About players: swings of golfers who were not searched
        (fresh), where those are six or more; else sessions of the same golfers that were not searched. About one
        golfer: sessions captured after the question was saved (fresh), else swings of the same sessions that were
        not searched. Where nothing is left, the rows that were searched.
    standing : str
        "" (not found by looking), or fresh, same_golfers, same_session, searched.
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


def _kept(table: pd.DataFrame, mask: pd.Series) -> pd.DataFrame:
    return table.loc[mask]


def before_judging(lines: Sequence[Finding], standing: str, question: Question) -> list[Finding]:
    """Lines of a question from the searched rows: read as found by looking, its p not shown and not counted."""
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
    """A judged line of a found question, read for what its rows allow."""
    if line.role != "default" or standing not in _READ_AS or line.reading_key not in _EARNED:
        return line
    return read_as(line, Note(_READ_AS[standing]))


def tried_before(question: Question, asked: Sequence[Question]) -> list[Note]:
    """A note where the study tries to confirm the same posture and strike more than once."""
    if getattr(question, "found_in", None) is None or not isinstance(question, Hunch):
        return []
    same = [
        q for q in asked
        if isinstance(q, Hunch) and q.found_in is not None and (q.outcome, q.posture, q.event, q.level)
        == (question.outcome, question.posture, question.event, question.level)
    ]  # fmt: skip
    return [Note("tried_again", number=len(same))] if len(same) > 1 else []


def need_direction(question: Question) -> None:
    """BadTable where a found hunch does not say which way it was found."""
    if getattr(question, "found_in", None) is not None and getattr(question, "expect", "") == "either":
        raise BadTable(
            f"{question.name} was found by looking and gives no direction", do="expect positive or negative"
        )
