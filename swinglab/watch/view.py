"""Data for the page of a session: its state, and the frames of the last swing and of a typical swing."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from swinglab import columns
from swinglab.answers import session_means
from swinglab.conventions import EVENT_LABELS
from swinglab.errors import SwinglabError
from swinglab.figures.viewer import SwingFrames, swing_frames
from swinglab.report import wording
from swinglab.report.season import seasons_of
from swinglab.study import Study, load_swing
from swinglab.watch.session import RangeSession
from swinglab.watch.summary import problems_of, summary, swings_of

RUNNING, NOT_ANSWERED = "running, no verdict yet", "not_answered"


def view_of(session: RangeSession) -> dict[str, Any]:
    """Return everything that the page of a session shows, as a dict of numbers and texts for JSON."""
    with session.locked():
        number = session.number
        table = swings_of(session.study, session.standing)
        last = table.iloc[-1] if len(table) else None
        return {
            "version": session.version,
            "title": session.study.title,
            "golfer": session.golfer,
            "golfers": session.golfers[:9],
            "season": session.season,
            "phase": session.standing.phase,
            "club": session.standing.club,
            "cue": number.cue if session.standing.with_cue else "",
            "lesson": number.lesson,
            "event": EVENT_LABELS[number.event],
            "singles": session.singles,
            "every": session.every,
            "last": None
            if last is None
            else {
                "swing": str(last["swing"]),
                "seen": str(last["seen"]),
                "exclude": str(last["exclude"]),
                "problems": problems_of(session.standing.results, str(last["swing"])),
            },
            "progress": _progress(session),
            "waiting": _files(session, session.arrivals.waiting),
            "refused": _files(session, session.arrivals.refused),
            "messages": list(session.messages),
            "caution": wording.CAUTION,
            **summary(table, number, session.every, session.standing.phase, singles=session.singles),
        }


def _files(session: RangeSession, files: dict[Path, str]) -> list[str]:
    """Return a text for each of these files that belongs to the golfer shown: its name, and why it is not added."""
    return [f"{path.name} {why}" for path, why in sorted(files.items()) if session.belongs(path)]


def _progress(session: RangeSession) -> str:
    """Return the progress of the lesson in words; it has no verdict before the planned number of swings."""
    number = session.number
    if not number.lesson:
        return "study.toml has no lesson for this golfer: the numbers are shown without a verdict."
    if number.planned is None:
        return f"{RUNNING}: the lesson has no planned_swings in study.toml, so a verdict is given only in the report"
    judged = [one for one in session.findings if one.name == number.lesson and one.role == "default"]
    if not judged or judged[0].reading_key == NOT_ANSWERED:
        return RUNNING
    return judged[0].reading


def season_of(session: RangeSession) -> dict[str, Any]:
    """Return the golfer's season as texts for the page: posture and strike by session, and each lesson.

    Each lesson has a text that says what to record in the next session.
    """
    with session.locked():
        study, standing, earlier = session.study, session.standing, session.earlier
        whole, findings = standing.whole(study, earlier), standing.findings
    if whole is None:
        whole = replace(earlier, swings=earlier.swings[earlier.swings["golfer"] == standing.golfer])
    own = whole.swings[whole.swings["golfer"] == standing.golfer]
    lessons = seasons_of(
        whole.swings, study.lessons, findings, golfer=standing.golfer, errors=study.errors_of(own)
    )
    return {
        "sessions": [
            _sessions(whole.swings, name, standing.golfer, study)
            for name in (standing.number.column, standing.number.outcome)
        ],
        "lessons": [
            {"name": one.name, "reading": one.reading, "planned": one.planned, "made": one.made,
             "table": _rows(one.table), "next": list(one.next_session)}
            for one in lessons
        ],
    }  # fmt: skip


def _sessions(table: pd.DataFrame, name: str, golfer: str, study: Study) -> dict[str, Any]:
    """Return for each session the number of swings, mean, SD, and 95 % limits of the mean."""
    column = columns.column(name) if columns.is_column(name) else None
    unit = column.unit if column else ""
    try:
        means = session_means(table, name, golfer=golfer, errors=study.errors_of)
    except SwinglabError:
        means = pd.DataFrame(columns=["session", "swings", "mean", "sd", "error", "low", "high"])
    limits = [
        wording.value_text(low, unit) + (f" to {wording.value_text(high, unit)}" if np.isfinite(high) else "")
        for low, high in zip(means["low"], means["high"], strict=True)
    ]
    shown = pd.DataFrame({
        "session": means["session"],
        "swings": means["swings"].astype(str),
        "mean": [wording.value_text(v, unit) for v in means["mean"]],
        "own spread (SD)": [wording.value_text(v, unit) for v in means["sd"]],
        "95 % limits of the mean": limits,
    })  # fmt: skip
    return {"name": f"{wording.label(name)} ({wording.unit_words(unit)})", "table": _rows(shown)}


def _rows(table: pd.DataFrame) -> list[list[str]]:
    """Return a table as rows of text, the header first."""
    return [[str(name) for name in table.columns], *([str(cell) for cell in row] for row in table.to_numpy())]


def last_frames(session: RangeSession) -> list[SwingFrames]:
    """Return the frames of the golfer's last swing and, if there is one, of a typical swing.

    The typical swing is chosen among the earlier swings of this session: its posture is nearest their mean.
    """
    with session.locked():
        number = session.number
        table = swings_of(session.study, session.standing)
        usable = table[(table["exclude"] == "") & np.isfinite(table["posture"])]
        if usable.empty:
            return []
        last = str(usable["swing"].iloc[-1])
        earlier = usable.iloc[:-1]
        names = [(last, f"{last}, the last swing")]
        if len(earlier):
            nearest = (earlier["posture"] - earlier["posture"].mean()).abs().idxmin()
            typical = str(earlier.loc[nearest, "swing"])
            names.append((typical, f"{typical}, nearest the mean so far"))
        study = session.study
    frames = []
    for name, title in names:
        try:
            records = load_swing(study, name)
        except SwinglabError:
            continue  # the page already shows why the swing could not be measured
        frames.append(
            swing_frames(
                records.trial, records.posture, records.events, quantity=number.quantity, title=title
            )
        )
    return frames
