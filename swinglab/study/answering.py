"""Answers to the questions in study.toml, computed from the swing table."""

from __future__ import annotations

from dataclasses import replace

import pandas as pd

from swinglab import columns
from swinglab.answers import compare_before_after, compare_groups, diagnose, judge, relate_posture_to_strike
from swinglab.answers.found import (
    after_judging,
    before_judging,
    confirming_rows,
    need_direction,
    tried_before,
)
from swinglab.answers.lines import NO_NUMBER, Subject, judged, warned
from swinglab.answers.screen import ScreenAnswer, answer_screens
from swinglab.answers.selection import columns_asked
from swinglab.errors import SwinglabError
from swinglab.finding_words import Note
from swinglab.records import Comparison, Diagnostics, Finding, Hunch, Lesson
from swinglab.study.opening import Study
from swinglab.study.registration import read_registration, registration_notes
from swinglab.study.results import Results


def answer_study(study: Study, results: Results) -> tuple[Finding, ...]:
    """Answer every hunch, comparison and lesson of a study, with adjusted p values and readings (`answers.judge`).

    Parameters
    ----------
    study : Study
    results : Results
        From `measure_study`.

    Returns
    -------
    tuple of Finding
        For each question one judged finding (role "default"), with p adjusted by Holm's method and a reading, and the
        findings of supplementary methods. A question that the data cannot answer has a finding without numbers, with
        the reason in `warnings`. If swings were excluded by hand, each question has one more finding: the judged one
        with these swings included (method_key `with_excluded_swings`). A question that was found by a search is judged
        on data that were not searched; without such data it has no p value and no verdict (`answers.found`).

    Raises
    ------
    UnreadableFile
        registered.json exists but is damaged.
    """
    lines = _judged_lines(study, results.swings)
    if results.excluded.empty:
        return lines
    count = len(results.excluded)
    whole = {f.name: f for f in _judged_lines(study, results.with_excluded) if f.role == "default"}
    seen = int((study.excluded["answer_seen"] == "yes").sum())
    shown = [
        warned(line, [Note("swings_excluded", count=count, seen=seen, reading=whole[line.name].reading)])
        if line.role == "default"
        else line
        for line in lines
    ]
    return (*shown, *(_with_excluded(line, count) for line in whole.values()))


def _with_excluded(line: Finding, count: int) -> Finding:
    """Return a judged finding that includes the swings excluded by hand, marked as supplementary (role "beside").

    line : the judged finding computed with these swings. count : number of excluded swings.
    """
    method = Note("with_excluded_swings", method=line.method, count=count)
    return replace(line, role="beside", method=str(method), method_key=method.key)


def _judged_lines(study: Study, table: pd.DataFrame) -> tuple[Finding, ...]:
    lines: list[Finding] = []
    standings: dict[str, str] = {}
    registration = read_registration(study.folder)
    for question in study.questions:
        try:
            need_direction(question)
            rows, standing = confirming_rows(columns_asked(table, question), question)
            answered = before_judging(answer_question(study, rows, question), standing, question)
            answered[0] = warned(answered[0], tried_before(question, study.questions))
            known = registration_notes(registration, study, question, rows)
            answered[0] = warned(answered[0], known)
            lines += answered
            standings[question.name] = standing
        except SwinglabError as error:
            lines.append(_unanswered(question, error))
    read = judge(tuple(lines), study.questions)
    return tuple(after_judging(line, standings.get(line.name, "")) for line in read)


def search_study(study: Study, results: Results) -> tuple[ScreenAnswer, ...]:
    """Return the result of every [[screen]] in study.toml: a search among many posture quantities.

    See `answers.answer_screens`.
    """
    return answer_screens(results.swings, study.screens) if study.screens else ()


def diagnose_question(
    study: Study, results: Results, question: Hunch | Comparison | Lesson
) -> tuple[Diagnostics, ...]:
    """Return diagnostics of the primary analysis of a question, computed from the swings that it uses.

    See `answers.diagnose`.
    """
    rows, _ = confirming_rows(columns_asked(results.swings, question), question)
    return diagnose(rows, question, errors=study.errors_of(rows))


def answer_question(
    study: Study, table: pd.DataFrame, question: Hunch | Comparison | Lesson
) -> tuple[Finding, ...]:
    """Return the findings of one question, computed from rows of the swing table.

    They have no reading and no adjusted p yet; `answers.judge` adds both.

    Parameters
    ----------
    study : Study
        Its measurement errors are used.
    table : pandas.DataFrame
        Rows of the swing table.
    question : Hunch, Comparison or Lesson

    Raises
    ------
    SwinglabError
        The rows do not allow an answer; the message gives the reason.
    """
    errors = study.errors_of(table)
    if isinstance(question, Hunch):
        return relate_posture_to_strike(table, question, errors=errors)
    if isinstance(question, Comparison):
        return compare_groups(table, question, errors=errors)
    return compare_before_after(table, question, errors=errors)


def _unanswered(question: Hunch | Comparison | Lesson, error: SwinglabError) -> Finding:
    kind, level, outcome, predictor = {
        Hunch: lambda q: ("hunch", q.level, q.outcome, q.posture),
        Comparison: lambda q: ("comparison", "group", q.of, q.between),
        Lesson: lambda q: ("lesson", "golfer", q.outcome, q.phase),
    }[type(question)](question)
    unit = columns.column(outcome).unit if columns.is_column(outcome) else ""
    subject = Subject(
        question.name, kind, outcome, predictor, question.event or "", unit, "", question.smallest_effect
    )
    why = Note("no_fit", why=str(error))
    line = subject.line(level, Note("none"), NO_NUMBER, n_golfers=0, n_swings=0, warnings=[why])
    return judged(line, reading=Note("not_answered"))
