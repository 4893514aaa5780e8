"""The player's sheet of a lesson: one page without jargon, with the caution."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
from pandas.api.types import is_numeric_dtype

from swinglab import columns
from swinglab.conventions import CONTACTS
from swinglab.records import Finding, Lesson
from swinglab.report import pictures, wording
from swinglab.report.templating import template, with_policy
from swinglab.study import Results, Study

#: A reading in a player's words, by its key.
_IN_PLAIN_WORDS = {
    "lesson_changed": ("Your movement changed, and your strike changed with it, by more than a slow drift over the "
     "session would bring. That one came from the other this does not prove."),
    "lesson_strike_only": ("Your strike changed, by more than a slow drift would bring, but no clear change of the "
     "movement was found: something else may have changed with it."),
    "lesson_posture_only": "Your movement changed. A change of the strike was not found.",
    "lesson_drift": ("The numbers changed, but a slow drift over the swings (warming up, getting tired, finding the "
     "rhythm) could explain it."),
    "too_small": "If the strike changed at all, then by less than matters here.",
    "not_settled": "These swings do not settle it: more of them are needed.",
}  # fmt: skip
#: What coaches call parts and motions (common practice, no source).
_PARTS = {"thorax": "upper body", "pelvis": "hips", "pelvis_thorax": "hips and upper body"}
_MOTIONS = {"lateral_flexion": "side bend", "flexion": "forward bend", "axial_rotation": "turn"}
UNKNOWN = "These swings do not give an answer."


def write_sheets(study: Study, results: Results, findings: tuple[Finding, ...], out: Path) -> list[Path]:
    """Write players_sheet_N.html for each lesson of a study that has swings to show."""
    written = []
    for number, lesson in enumerate(study.lessons, start=1):
        rows = pictures.in_order(results.swings[results.swings["golfer"] == lesson.golfer])
        if rows.empty or lesson.phase not in rows.columns:
            continue
        drawn, undrawn = pictures.draw_question(study, results, lesson)
        kept, failed = pictures.keep_all((f"sheet_{i}", one) for i, one in enumerate(drawn))
        undrawn = [*undrawn, *failed]
        default = next(f for f in findings if f.name == lesson.name and f.role == "default")
        text = template("sheet.html").render(
            lesson=lesson, answer=plain_words(default.reading_key), phases=_phases(rows, lesson), pictures=kept,
            undrawn=undrawn, words=_words(lesson, in_words=not is_numeric_dtype(rows[lesson.outcome])),
            caution=wording.CAUTION,
        )  # fmt: skip
        path = out / f"players_sheet_{number}.html"
        path.write_text(with_policy(text), encoding="utf-8")
        written.append(path)
    return written


def plain_words(reading_key: str) -> str:
    """A reading in words for the player."""
    return _IN_PLAIN_WORDS.get(reading_key, UNKNOWN)


def _words(lesson: Lesson, *, in_words: bool) -> dict[str, Any]:
    """What was worked on and what the strike was read from; `in_words`: a contact, told as clean strikes."""
    posture = columns.quantity_column(lesson.of)
    outcome = columns.column(lesson.outcome) if columns.is_column(lesson.outcome) else None
    what = wording.label(lesson.outcome)
    return {
        "posture": _plain_name(posture) + wording.at_event(lesson.event),
        "posture_unit": wording.unit_words(posture.unit),
        "posture_more": posture.positive,
        "outcome": f"clean strikes by {what}" if in_words else what,
        "in_numbers": not in_words,
        "outcome_unit": wording.unit_words(outcome.unit) if outcome else "",
        "outcome_more": "" if in_words else wording.more_or_less(lesson.outcome, 1.0),
    }


def _plain_name(column: columns.Column) -> str:
    """A posture as a player would call it, or its label where there is no such name."""
    if column.motion not in _MOTIONS:
        return wording.label(column.name)
    return f"{_PARTS.get(column.part, column.part.replace('_', ' '))} {_MOTIONS[column.motion]}"


def _phases(rows: pd.DataFrame, lesson: Lesson) -> list[dict[str, Any]]:
    """For each phase: swings, means, and how many swings reach the value aimed at."""
    posture = columns.event_column_name(lesson.of, lesson.event)
    names = list(dict.fromkeys(rows[lesson.phase].astype(str)))
    first = rows.loc[rows[lesson.phase].astype(str) == names[0], posture].mean()
    told = []
    for name in names:
        own = rows[rows[lesson.phase].astype(str) == name]
        values = own[posture].to_numpy(float)
        told.append(
            {
                "name": name,
                "swings": len(own),
                "posture": _one(np.nanmean(values) if np.isfinite(values).any() else np.nan),
                "outcome": _mean_or_clean(own[lesson.outcome]),
                "reached": _reached(values, lesson.target_value, float(first)),
            }
        )
    return told


def _mean_or_clean(values: pd.Series) -> str:
    """The mean of numbers; of contacts in words, how many of those that are known were clean."""
    if is_numeric_dtype(values):
        return _one(values.mean())
    return f"{(values == 'clean').sum()} of {values.isin(CONTACTS).sum()}"


def _one(value: float) -> str:
    return f"{value:.1f}".replace("-", "−") if np.isfinite(value) else wording.NONE


def _reached(values: np.ndarray, target: float | None, first: float) -> str:
    """Swings at the value aimed at or beyond it, seen from where the player started."""
    if target is None:
        return ""
    known = values[np.isfinite(values)]
    beyond = known >= target if target >= first else known <= target
    return f"{int(beyond.sum())} of {len(known)}"
