"""The player's sheet of a lesson: one A4 page with one number, its target range, two stick figures and the strike."""

from __future__ import annotations

from contextlib import suppress
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
import pandas as pd
from matplotlib.figure import Figure
from pandas.api.types import is_numeric_dtype

from swinglab import columns, figures
from swinglab.answers.aim import Aim, aim_of
from swinglab.answers.lesson_looks import rows_by_look
from swinglab.answers.lesson_series import lesson_rows
from swinglab.conventions import CONTACTS
from swinglab.errors import SwinglabError
from swinglab.figures.viewer import drawn_points, mark_on_body
from swinglab.records import Finding, Lesson
from swinglab.report import pictures, wording
from swinglab.report.templating import template, with_policy
from swinglab.report.typical import typical_swing
from swinglab.study import Results, Study, load_swing

#: A reading in a player's words, by its key.
_IN_PLAIN_WORDS = {
    "lesson_changed": "Your movement changed, and your strike changed with it, by more than a slow drift over the "
    "session would explain. This does not prove that one caused the other.",
    "lesson_undirected": "Your movement and your strike both changed, by more than a slow drift would explain.",
    "lesson_against": "Your movement changed, but your strike changed in the opposite direction to the one hoped for.",
    "lesson_away": "Your strike changed, while your movement went away from its aim.",
    "lesson_past": "Your movement went past its aim, and your strike changed.",
    "lesson_strike_only": "Your strike changed, by more than a slow drift would explain, but no clear change of the "
    "movement was found: something else may have changed with it.",
    "lesson_posture_only": "Your movement changed. A change of the strike was not found.",
    "lesson_posture_away": "Your movement went away from its aim. A change of the strike was not found.",
    "lesson_posture_past": "Your movement went past its aim. A change of the strike was not found.",
    "lesson_drift": "The numbers changed, but a slow drift over the swings (warming up, getting tired, finding the "
    "rhythm) could explain it.",
    "lesson_running": "The lesson is still running: you get an answer when all planned swings have been recorded.",
    "too_small": "If your strike changed at all, the change is too small to matter.",
    "not_settled": "These swings do not settle it: more of them are needed.",
    "methods_disagree": "These swings do not settle it: more of them are needed.",
}
#: What coaches call parts and motions (common practice, no source).
_PARTS = {"thorax": "upper body", "pelvis": "hips", "pelvis_thorax": "hips and upper body"}
_MOTIONS = {"lateral_flexion": "side bend", "flexion": "forward bend", "axial_rotation": "turn"}
UNKNOWN = "These swings do not give an answer."
NOT_YET = "not measured yet"


class Look(NamedTuple):
    """One row of the sheet's table, as text.

    when : occasion. swings : number of swings. number : mean of the posture. in_aim : swings within the aim, as
    "3 of 8". strike : mean of the outcome, or clean contacts as "5 of 8".
    """

    when: str
    swings: str
    number: str
    in_aim: str
    strike: str


def write_sheets(study: Study, results: Results, findings: tuple[Finding, ...], out: Path) -> list[Path]:
    """Write players_sheet_N.html for each lesson of a study that has swings with a phase, and return the paths.

    out : the results folder.
    """
    written = []
    for number, lesson in enumerate(study.lessons, start=1):
        try:
            rows = lesson_rows(results.swings, lesson, _column(lesson))
            looks = _looks(results.swings, rows, lesson)
        except SwinglabError:  # the golfer, a column or the phase is missing; the report gives the reason
            continue
        default = next(f for f in findings if f.name == lesson.name and f.role == "default")
        text = template("sheet.html").render(
            lesson=lesson, answer=plain_words(default.reading_key), words=_words(lesson, rows),
            looks=looks, number=_number(rows, lesson, study), strike=_strike(rows, lesson, study),
            pictures=_pictures(study, rows, lesson), caution=wording.CAUTION,
        )  # fmt: skip
        path = out / f"players_sheet_{number}.html"
        path.write_text(with_policy(text), encoding="utf-8")
        written.append(path)
    return written


def plain_words(reading_key: str) -> str:
    """Return a reading of a lesson in words for the player. reading_key : key of the reading."""
    return _IN_PLAIN_WORDS.get(reading_key, UNKNOWN)


def _column(lesson: Lesson) -> str:
    return columns.event_column_name(lesson.of, lesson.event)


def _phases(rows: pd.DataFrame, lesson: Lesson) -> list[pd.DataFrame]:
    """Return the swings of each phase, in the order of rows; swings without a phase are left out."""
    names = dict.fromkeys(name for name in rows[lesson.phase].astype(str) if name)
    return [rows[rows[lesson.phase].astype(str) == name] for name in names]


def _aim(rows: pd.DataFrame, lesson: Lesson) -> Aim | None:
    phases = _phases(rows, lesson)
    before = phases[0][_column(lesson)].dropna().to_numpy(float) if phases else np.array([])
    return aim_of(lesson, before)


def _words(lesson: Lesson, rows: pd.DataFrame) -> dict[str, Any]:
    """Return names, units and directions of posture and outcome, in words for a player."""
    posture = columns.quantity_column(lesson.of)
    outcome = columns.column(lesson.outcome) if columns.is_column(lesson.outcome) else None
    in_numbers = is_numeric_dtype(rows[lesson.outcome])
    what = wording.label(lesson.outcome)
    return {
        "posture": _plain_name(posture) + wording.at_event(lesson.event),
        "unit": wording.unit_words(posture.unit),
        "more": posture.positive,
        "outcome": what if in_numbers else f"clean strikes by {what}",
        "outcome_unit": wording.unit_words(outcome.unit) if outcome and in_numbers else "",
        "outcome_more": wording.more_or_less(lesson.outcome, 1.0) if in_numbers else "",
    }


def _plain_name(column: columns.Column) -> str:
    """Return the name of a posture in words for a player, or its label if there are none."""
    if column.motion not in _MOTIONS:
        return wording.label(column.name)
    part = _PARTS.get(column.part, column.part.replace("_", " "))
    return f"{_MOTIONS[column.motion]} of the {part}"


def _number(rows: pd.DataFrame, lesson: Lesson, study: Study) -> dict[str, str]:
    """Return the player's number as text: mean and spread before and after the lesson, and the aim."""
    unit, aim, phases = columns.quantity_column(lesson.of).unit, _aim(rows, lesson), _phases(rows, lesson)

    def most(own: pd.DataFrame) -> str:
        values = own[_column(lesson)].dropna()
        if len(values) < 3:
            return ""
        ends = (values.mean() - values.std(), values.mean() + values.std())
        return f"most swings {wording.value_text(ends[0], unit)} to {wording.value_text(ends[1], unit)}"

    def mean(own: pd.DataFrame) -> str:
        return wording.with_unit(own[_column(lesson)].mean(), unit, study.report_units)

    made = {
        "before": mean(phases[0]),
        "before_spread": most(phases[0]),
        "now": "",
        "now_spread": "",
        "aim": "",
    }
    if len(phases) > 1:
        made |= {"now": mean(phases[1]), "now_spread": most(phases[1])}
    if aim is not None:
        made["aim"] = f"{wording.value_text(aim.low, unit)} to {wording.with_unit(aim.high, unit)}"
    return made


def _strike(rows: pd.DataFrame, lesson: Lesson, study: Study) -> str:
    """Return a sentence with the mean outcome before and after; "" if it is not a number or not known."""
    if not is_numeric_dtype(rows[lesson.outcome]) or not columns.is_column(lesson.outcome):
        return ""
    unit = columns.column(lesson.outcome).unit
    means = [own[lesson.outcome].mean() for own in _phases(rows, lesson)[:2]]
    if len(means) < 2 or not np.isfinite(means).all():
        return ""
    before, after = (wording.with_unit(float(mean), unit, study.report_units) for mean in means)
    return (
        f"{wording.first_capital(wording.label(lesson.outcome))}: {before} on average before, {after} after."
    )


def _looks(table: pd.DataFrame, rows: pd.DataFrame, lesson: Lesson) -> list[Look]:
    """Return the rows: before; changed today; kept on another day, without the cue; kept with another club.

    `table` : the swing table. `rows` : the lesson's swings in it, by `lesson_rows`.
    """
    aim = _aim(rows, lesson)
    return [_look(when, own, lesson, aim) for when, own in rows_by_look(table, lesson).items()]


def _look(when: str, own: pd.DataFrame, lesson: Lesson, aim: Aim | None) -> Look:
    if own.empty:
        return Look(when, NOT_YET, "", "", "")
    values = own[_column(lesson)].dropna().to_numpy(float)
    unit = columns.quantity_column(lesson.of).unit
    number = wording.value_text(float(values.mean()), unit) if len(values) else wording.NONE
    within = (
        "" if aim is None else f"{int(((values >= aim.low) & (values <= aim.high)).sum())} of {len(values)}"
    )
    return Look(when, str(len(own)), number, within, _mean_or_clean(own[lesson.outcome], lesson.outcome))


def _mean_or_clean(values: pd.Series, name: str) -> str:
    """Return the mean of numbers; of contacts in words, how many of the known ones are clean, as "5 of 8"."""
    if is_numeric_dtype(values):
        return wording.value_text(values.mean(), columns.column(name).unit if columns.is_column(name) else "")
    return f"{(values == 'clean').sum()} of {values.isin(CONTACTS).sum()}"


# --- pictures ----------------------------------------------------------------------------------------------


def _pictures(study: Study, rows: pd.DataFrame, lesson: Lesson) -> list[pictures.Picture]:
    """Return two stick figures, before and now, and a figure of every swing; what cannot be drawn is left out."""
    drawn = []
    with suppress(SwinglabError):
        drawn.append(("body", _bodies(study, rows, lesson)))
    with suppress(SwinglabError):
        drawn.append(("swings", _swings(rows, lesson)))
    return pictures.keep_all(drawn)[0]


def _bodies(study: Study, rows: pd.DataFrame, lesson: Lesson) -> pictures.Drawn:
    """A typical swing of each phase at the event of the lesson, as a stick figure with the number drawn on it."""
    chosen = [typical_swing(own, _column(lesson)) for own in _phases(rows, lesson)[:2]]
    figure = Figure(figsize=(3.7, 2.5), layout="constrained")
    grid = figure.subplots(1, len(chosen), sharex=True, sharey=True, squeeze=False)[0]
    unit = columns.quantity_column(lesson.of).unit
    values = rows.set_index("swing")[_column(lesson)]
    words = []
    for ax, swing, when in zip(grid, chosen, ("before", "now"), strict=False):
        records = load_swing(study, swing)
        points = drawn_points(records.trial, records.posture)
        mark = mark_on_body(lesson.of, points, records.trial, records.posture, records.events)
        time_s = records.events.time_s(lesson.event)
        figures.draw_stick_figure(records.trial, time_s, posture=records.posture, mark=mark, ax=ax)
        if ax.get_legend():
            ax.get_legend().remove()
        ax.set_axis_off()
        words.append(f"{when}: {wording.with_unit(float(values[swing]), unit)}")
        ax.set_title(words[-1], fontsize=10)
    alt = f"Stick figures{wording.at_event(lesson.event)}, {', '.join(words)}."
    return pictures.Drawn(grid[0], alt, "A typical swing before and now; your number is drawn in green.")


def _swings(rows: pd.DataFrame, lesson: Lesson) -> pictures.Drawn:
    """Every swing's number in the order of play, with the aim as two lines."""
    aim, column = _aim(rows, lesson), _column(lesson)
    ax = Figure(figsize=(3.5, 2.5), layout="constrained").add_subplot()
    figures.draw_lesson(rows, value=column, phase=lesson.phase, ax=ax)
    if aim is not None:
        for edge in (aim.low, aim.high):
            ax.axhline(edge, ls=":", color="black", lw=1.2)
    legend = ax.get_legend()
    if legend:
        legend.remove()
    ax.set_xlabel("your swings, one after another")
    ax.set_ylabel(_in_brackets(lesson))
    alt = f"{wording.first_capital(wording.label(column))} of every swing, in the order of play."
    dotted = " Dotted lines: your aim." if aim is not None else ""
    return pictures.Drawn(ax, alt, f"Every swing; lines: the mean of each phase.{dotted}")


def _in_brackets(lesson: Lesson) -> str:
    return f"({wording.unit_words(columns.quantity_column(lesson.of).unit)})"
