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
from swinglab.records import Comparison, Finding, FoundIn, Hunch, Lesson

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
        were not searched, again of six golfers or more. For a question about one golfer: sessions that were not
        searched; otherwise swings of the searched sessions that were not searched. If none of these exist, all
        rows, with the searched swings.
    standing : str
        "" if the question did not come from a search. Otherwise "fresh" (golfers who were not searched or, for one
        golfer, other sessions), "same_golfers" (other sessions of searched golfers), "same_session" (other swings
        of the searched sessions) or "searched" (all rows, with the searched swings).

    Notes
    -----
    A golfer was searched if `found_in` gives the golfer, or a session or swing of the golfer. A golfer without such a
    session or swing was searched in all sessions. A session was searched if any of its swings was.
    """
    found = getattr(question, "found_in", None)
    if found is None:
        return table, ""
    golfer, session = _searched(table, found)
    rows = rows_where(table, question.where) if question.where else table
    golfer, session = golfer[rows.index], session[rows.index]
    if getattr(question, "level", "") == "golfer":
        own = _kept(rows, rows["golfer"].isin([getattr(question, "golfer", None)]))
        other = _kept(own, ~session[own.index])
        if len(other):
            return other, FRESH
        swings = own["swing"].isin(found.swings)
        rest = _kept(own, _sessions_with(own, swings) & ~swings)
        return (rest, SAME_SESSION) if found.swings and len(rest) else (own, SEARCHED)
    others = _kept(rows, ~golfer)
    if others["golfer"].nunique() >= FEWEST_GOLFERS:
        return others, FRESH
    again = _kept(rows, golfer & ~session)
    if again["golfer"].nunique() >= FEWEST_GOLFERS:
        return again, SAME_GOLFERS
    return rows, SEARCHED


def _searched(table: pd.DataFrame, found: FoundIn) -> tuple[pd.Series, pd.Series]:
    """Return for each row whether its golfer was searched, and whether its session was searched in any part."""
    session = table["session"] if "session" in table else pd.Series("", index=table.index)
    swings = session.isin(found.sessions) | table["swing"].isin(found.swings)
    in_part = swings.groupby(table["golfer"]).transform("any")
    given = table["golfer"].isin(found.golfers)
    return given | in_part, (given & ~in_part) | _sessions_with(table, swings)


def _sessions_with(table: pd.DataFrame, swings: pd.Series) -> pd.Series:
    """Return for each row whether its golfer's session contains any of the marked swings."""
    by = [table[name] for name in ("golfer", "session") if name in table]
    return swings.groupby(by, dropna=False).transform("any")


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
    """Return a finding whose reading also says how new its data are, if its question came from a search.

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
