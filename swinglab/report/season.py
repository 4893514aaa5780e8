"""A golfer's season in words: for each lesson the plan, the sessions after it, and what to record next."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from swinglab import columns
from swinglab.answers.lesson_looks import (
    ANOTHER_CLUB,
    ANOTHER_DAY,
    BEFORE,
    FEWEST_PLANNED,
    TODAY,
    Change,
    Look,
    look_back,
    rows_by_look,
    swings_to_read,
)
from swinglab.answers.planning import CHANCE
from swinglab.errors import SwinglabError
from swinglab.records import Errors, Finding, Lesson
from swinglab.report import wording
from swinglab.statistics.autoregression import estimate_autocorrelation


@dataclass(frozen=True, slots=True)
class SeasonOfLesson:
    """A lesson and the sessions after it, as texts for a page.

    reading : reading of the lesson; "" if there is none. planned : the plan, in a sentence. made : the sessions
    measured so far, in a sentence, or why the lesson cannot be evaluated. table : one row for each occasion (before,
    after, another day, another club). next_session : sentences that say how many swings to record next.
    """

    name: str
    reading: str
    planned: str
    made: str
    table: pd.DataFrame
    next_session: tuple[str, ...]


def seasons_of(
    table: pd.DataFrame,
    lessons: Sequence[Lesson],
    findings: Sequence[Finding],
    *,
    golfer: str,
    errors: Errors,
) -> list[SeasonOfLesson]:
    """Return a golfer's lessons over the season; a lesson that cannot be evaluated has the reason as its text.

    Parameters
    ----------
    table : pandas.DataFrame
        Swing table.
    lessons : sequence of Lesson
        Lessons of the study.
    findings : sequence of Finding
        Answers to the study's questions.
    golfer : str
        Code of the golfer.
    errors : Errors
        Measurement errors of the set-up.
    """
    made = []
    for lesson in (one for one in lessons if one.golfer == golfer):
        judged = next((f for f in findings if f.name == lesson.name and f.role == "default"), None)
        try:
            looks = look_back(table, lesson, errors=errors)
            made.append(
                SeasonOfLesson(
                    lesson.name, "" if judged is None else judged.reading, _planned(lesson),
                    _looked_at(looks, rows_by_look(table, lesson)), _table(looks, lesson),
                    _next_session(looks, lesson, judged, table, errors),
                )
            )  # fmt: skip
        except SwinglabError as fault:
            made.append(SeasonOfLesson(lesson.name, "", _planned(lesson), str(fault), pd.DataFrame(), ()))
    return made


def _planned(lesson: Lesson) -> str:
    unit = columns.quantity_column(lesson.of).unit
    parts = [
        f"{wording.count(lesson.planned_swings, 'swing')} after the lesson"
        if lesson.planned_swings
        else "no number of swings given"
    ]
    if lesson.target is not None:
        low, high = (wording.value_text(value, unit) for value in lesson.target)
        parts.append(f"aim {low} to {high} {wording.unit_words(unit)}")
    if lesson.expect != "either":
        parts.append(
            f"{wording.label(lesson.outcome)} expected to {'rise' if lesson.expect == 'positive' else 'fall'}"
        )
    if lesson.smallest_effect:
        own = columns.column(lesson.outcome).unit if columns.is_column(lesson.outcome) else ""
        parts.append(f"smallest change that matters {wording.with_unit(lesson.smallest_effect, own)}")
    return f"Planned: {', '.join(parts)}."


def _looked_at(looks: Sequence[Look], rows: dict[str, pd.DataFrame]) -> str:
    counted = "; ".join(
        f"{look.name}: {wording.count(look.swings, 'swing')}"
        + (f" in {', '.join(look.sessions)}" if look.sessions else "")
        + (f", {look.cued} with the cue" if look.cued else "")
        for look in looks
        if look.swings
    )
    every = pd.concat([own for own in rows.values() if len(own)])
    marks = every["seen"].astype(str).value_counts() if "seen" in every else pd.Series(dtype=int)
    seen = ", ".join(f"{marks[mark]} {mark}" for mark in ("mishit", "topped") if mark in marks.index)
    return f"Measured: {counted}." + (f" These include {seen}." if seen else "")


def _table(looks: Sequence[Look], lesson: Lesson) -> pd.DataFrame:
    """Return a table of text with one row for each look (occasion)."""
    unit = columns.quantity_column(lesson.of).unit
    outcome = columns.column(lesson.outcome).unit if columns.is_column(lesson.outcome) else ""
    posture, strike = wording.label(lesson.of), wording.label(lesson.outcome)

    def of(value: float, in_unit: str) -> str:
        return wording.value_text(value, in_unit) if np.isfinite(value) else ""

    def change(one: Change, in_unit: str) -> str:
        if not np.isfinite(one.estimate):
            return one.why
        low, high = (wording.value_text(end, in_unit) for end in (one.low, one.high))
        return f"{wording.value_text(one.estimate, in_unit)} ({low} to {high})"

    return pd.DataFrame(
        [
            {
                "when": look.name,
                "swings": str(look.swings) if look.swings else "",
                f"{posture} ({wording.unit_words(unit)})": of(look.mean, unit),
                "own spread (SD)": of(look.sd, unit),
                "in the aim": f"{look.within} of {look.swings}" if look.swings and lesson.target else "",
                "change of posture (95 %)": change(look.posture_change, unit),
                strike: of(look.strike, outcome),
                "change of strike (95 %)": change(look.strike_change, outcome),
            }
            for look in looks
        ]
    )


def _next_session(
    looks: Sequence[Look], lesson: Lesson, judged: Finding | None, table: pd.DataFrame, errors: Errors
) -> tuple[str, ...]:
    """Return sentences that say what to record next, and with how many swings."""
    by = {look.name: look for look in looks}
    after, said = by[TODAY].swings, []
    if lesson.planned_swings and after < lesson.planned_swings:
        said.append(
            f"{wording.count(lesson.planned_swings - after, 'more swing')} after the lesson, then the lesson is judged."
        )
    elif judged is not None and np.isfinite(judged.needed) and judged.needed > judged.n_swings:
        said.append(
            f"The strike is not settled: with this spread, about {judged.needed:.0f} swings in total are needed; there "
            f"are {judged.n_swings} now. Plan the number of further swings before you record them."
        )
    if not after:
        return tuple(said)
    if not by[ANOTHER_DAY].swings:
        said.append(_another_day(by, lesson, table, errors))
    if not by[ANOTHER_CLUB].swings:
        said.append(
            f"Another club: at least {FEWEST_PLANNED} swings. Record as many with that club before the next lesson; "
            "without them, a change with that club cannot be seen."
        )
    return tuple(said) or (
        "All planned sessions have been measured. Plan the next lesson, or measure again in some weeks.",
    )


def _another_day(by: dict[str, Look], lesson: Lesson, table: pd.DataFrame, errors: Errors) -> str:
    """Return a sentence on the number of swings that show a change as large as that to the aim on another day."""
    before = by[BEFORE]
    values = rows_by_look(table, lesson)[BEFORE][columns.event_column_name(lesson.of, lesson.event)].dropna()
    if lesson.target is None or len(values) < 5:
        return f"Another day, without the cue: at least {FEWEST_PLANNED} swings."
    effect = max(lesson.target[0] - before.mean, before.mean - lesson.target[1], 0.0)
    if effect == 0.0:
        return (
            f"Another day, without the cue: at least {FEWEST_PLANNED} swings. The mean before the lesson was within "
            "the aim already, so the aim gives no size of change to plan for."
        )
    steps = np.r_[np.inf, np.ones(len(values) - 1)]
    phi = estimate_autocorrelation(np.ones((len(values), 1)), values.to_numpy(float), steps)
    unit = columns.quantity_column(lesson.of).unit
    placement = (errors.placement_deg or 0.0) if unit == "deg" else 0.0
    need = swings_to_read(before.sd, len(values), effect, autocorrelation=phi, placement_deg=placement)
    what = f"a change of {wording.with_unit(effect, unit)}, from before to the aim"
    if not np.isfinite(need):
        why = f", with {wording.count(len(values), 'swing')} before"
        advice = "Record more swings before the next lesson"
        if placement:
            why = f", with a placement error of {placement:g} deg"
            advice = (
                "Place the markers more exactly, or measure again on the same day with the markers left on"
            )
        return f"Another day, without the cue: {what}, may not be detectable with any number of swings{why}. {advice}."
    known = (
        "" if errors.placement_deg is not None or unit != "deg" else " (marker placement error is not known)"
    )
    return f"Another day, without the cue: {need:.0f} swings show {what}, with a probability of {CHANCE:g}{known}."
