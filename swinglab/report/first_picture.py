"""The figure and answer of stored results that a notebook page shows while its panels are loading."""

from __future__ import annotations

import base64
import io
from datetime import date
from html import escape

import pandas as pd

from swinglab import columns, figures, simulate
from swinglab.events import find_events
from swinglab.figures.arc_sketch import DRAWN, sketch_arcs
from swinglab.records import Comparison, Finding, Hunch, Lesson
from swinglab.report.pictures import Drawn, draw_question
from swinglab.report.wording import count, label, sentence
from swinglab.segments import measure_posture
from swinglab.strike import measure_strike
from swinglab.study import Results, Study, load_swing

#: The kind of question that a notebook opens with, by the notebook's number.
_OPENS_WITH = {"05": Hunch, "06": Comparison, "07": Lesson, "10": Hunch}
#: Notebook -> column of the swing table that it opens with, golfer by golfer; other notebooks show the low point.
_SHOWS = {"03": "thorax_lateral_flexion_at_impact_deg", "04": "attack_angle_deg"}
_CAPTURES, _SIMULATED = "01", "09"
_PIXELS_AN_INCH = 112


def first_picture(
    study: Study, results: Results, findings: tuple[Finding, ...], notebook: str, stored_on: date
) -> str:
    """Return HTML that a notebook page shows while its panels are loading; "" if the results have nothing to show.

    It has the first figure of the notebook and, if the notebook is about a hunch, comparison or lesson, the stored
    answer. For notebook 09 it has the arc of a simulated golfer's club.

    Parameters
    ----------
    study, results, findings
        The study, with its results and answers.
    notebook : str
        File name of the notebook; it begins with its number.
    stored_on : datetime.date
        The day on which the results were stored.
    """
    number = notebook[:2]
    if number == _SIMULATED:
        return _simulated_arc()
    if number == _CAPTURES:
        return _page(_first_body(study, results), [], stored_on) if len(results.swings) else ""
    kind = _OPENS_WITH.get(number)
    question = next((q for q in study.questions if kind and isinstance(q, kind)), None)
    if question is not None:
        drawn, _ = draw_question(study, results, question)
        judged = next((f for f in findings if f.name == question.name and f.role == "default"), None)
        words = (
            []
            if judged is None
            else [f"{judged.name}: {judged.reading}", sentence(judged, study.report_units)]
        )
        return _page(drawn[0], words, stored_on) if drawn else ""
    name = _SHOWS.get(number, "low_point_ahead_cm")
    if name not in results.swings or not results.swings[name].notna().any():
        return ""
    return _page(_by_golfer(study, results.swings, name), [], stored_on)


def _by_golfer(study: Study, table: pd.DataFrame, name: str) -> Drawn:
    colour = "group" if table["group"].nunique() > 1 else None
    axes = figures.draw_by_golfer(table, value=name, colour=colour, reference=study.reference_group)
    unit = columns.column(name).unit if columns.is_column(name) else ""
    swings = count(int(table[name].notna().sum()), "swing")
    return Drawn(
        figures.add_units(axes, unit, study.report_units),
        f"{label(name)} of {swings}, by golfer.",
        f"{label(name)} of every swing, golfer by golfer.",
    )


def _first_body(study: Study, results: Results) -> Drawn:
    """Return a stick figure of the study's first swing, by the landmarks and axes in study.toml."""
    swing = str(results.swings["swing"].iloc[0])
    records = load_swing(study, swing)
    moments = [event.time_s for event in records.events.events if records.events.found(event.name)]
    start_s = min(moments, default=float(records.trial.time_s[0]))
    axes = figures.draw_stick_figure(records.trial, start_s, posture=records.posture)
    return Drawn(
        axes,
        f"Stick figure of swing {swing}, seen face-on, at its first event.",
        f"Swing {swing} at its first event, seen face-on, by the landmarks and axes in study.toml. They can be changed "
        "on this page.",
    )


def _simulated_arc() -> str:
    """Return HTML with the arc of the simulated golfer, with which the notebook about contact opens."""
    trial = simulate.make_swing(simulate.make_golfer(name="simulated golfer"), seed=1).trial()
    strike = measure_strike(trial, find_events(trial, measure_posture(trial)))
    arc = {name: strike.values[name] for name in DRAWN}
    return _whole("The arc of the simulated golfer.", sketch_arcs([("as swung", arc)]))


def _page(drawn: Drawn, words: list[str], stored_on: date) -> str:
    status = f"As stored on {stored_on.day} {stored_on:%B %Y}; study and captures have not changed since."
    buffer = io.BytesIO()
    drawn.axes.figure.savefig(buffer, format="png", dpi=140, metadata={"Software": None})  # type: ignore[union-attr]
    data = base64.b64encode(buffer.getvalue()).decode("ascii")
    width = round(_PIXELS_AN_INCH * drawn.axes.figure.get_figwidth())  # type: ignore[union-attr]
    head = f"<h2>{escape(words[0])}</h2>" if words else ""
    lines = "".join(f"<p>{escape(text)}</p>" for text in words[1:])
    image = f'<img alt="{escape(drawn.alt, quote=True)}" src="data:image/png;base64,{data}" width="{width}">'
    return _whole(status, f"{head}{lines}{image}<p>{escape(drawn.caption)}</p>")


def _whole(status: str, inside: str) -> str:
    look = "border-left: 4px solid #444; padding: 4px 10px"
    words = f'<p role="status" style="{look}">{status} The notebook is being opened.</p>'
    return f'<div style="max-width: 52em">{words}{inside}</div>'
