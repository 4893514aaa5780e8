"""The figures of a report: drawn, written to files, and embedded in the page with descriptions for screen readers."""

from __future__ import annotations

import base64
import io
from collections.abc import Iterable
from pathlib import Path
from typing import NamedTuple

import matplotlib
import numpy as np
import pandas as pd
from matplotlib.axes import Axes

from swinglab import columns, figures
from swinglab.conventions import CONTACTS
from swinglab.errors import BadTable, SwinglabError
from swinglab.figures.many import are_many, sample_of_golfers
from swinglab.figures.points import Point, points_in_picture
from swinglab.records import Comparison, Hunch, Lesson
from swinglab.report.wording import count, first_capital, label, unit_words, value_text, with_limits
from swinglab.statistics import agreement_by_golfer
from swinglab.study import Results, Study


class Drawn(NamedTuple):
    """A matplotlib figure with its description for screen readers (alt) and its caption."""

    axes: Axes
    alt: str
    caption: str


class Picture(NamedTuple):
    """A figure embedded in the page.

    name : name of its files. data : the SVG as a data address. width, height : size in pixels. points : positions of
    the marks of swings, so that the page can name a swing under the pointer.
    """

    name: str
    data: str
    alt: str
    caption: str
    width: int
    height: int
    points: list[Point]


def draw_question(
    study: Study, results: Results, question: Hunch | Comparison | Lesson
) -> tuple[list[Drawn], list[str]]:
    """Return the figures of one question, and a sentence with the reason for each figure that could not be drawn."""
    if isinstance(question, Hunch):
        wanted = [lambda: _hunch(results.swings, question)]
    elif isinstance(question, Comparison):
        wanted = [lambda: _comparison(study, results.swings, question)]
    else:
        rows = in_order(results.swings[results.swings["golfer"] == question.golfer])
        posture = columns.event_column_name(question.of, question.event)
        wanted = [
            lambda: _lesson(rows, question, posture, question.target_value),
            lambda: _lesson(rows, question, question.outcome, None),
        ]
    drawn, missing = [], []
    for draw in wanted:
        try:
            drawn.append(draw())
        except SwinglabError as fault:
            missing.append(f"A figure is missing here: {fault.what}.")
        except Exception as fault:  # a picture that fails must not end a run after all measuring
            missing.append(_not_drawn(fault))
    return drawn, missing


def _not_drawn(fault: Exception) -> str:
    return f"A figure is missing here: it could not be drawn ({type(fault).__name__})."


def _spread(values: pd.Series) -> str:
    known = values.dropna()
    if known.empty or not pd.api.types.is_numeric_dtype(known):
        return "no values"
    unit = columns.column(str(values.name)).unit if columns.is_column(str(values.name)) else ""
    return f"{value_text(known.min(), unit)} to {value_text(known.max(), unit)}"


def _hunch(table: pd.DataFrame, hunch: Hunch) -> Drawn:
    posture = columns.event_column_name(hunch.posture, hunch.event)
    group = "group" if table["group"].nunique() > 1 else None
    golfers = table["golfer"].nunique()
    if hunch.outcome in table and not pd.api.types.is_numeric_dtype(table[hunch.outcome]):
        axes = figures.draw_contact(table, posture=posture, outcome=hunch.outcome, group=group)
        kinds = table[hunch.outcome].value_counts()
        words = ", ".join(f"{kinds.get(word, 0)} {word}" for word in CONTACTS)
        alt = (
            f"{label(posture)} ({_spread(table[posture])}) by {label(hunch.outcome)} ({words}) for swings of "
            f"{count(golfers, 'golfer')}, each golfer's mean in every kind of contact, joined by a line."
        )
        caption = (
            "Small marks: single swings. Large marks: a golfer's mean posture in swings of that contact; a line joins "
            "the means of one golfer. Swings whose contact is uncertain or not known are not drawn."
        )
        return Drawn(axes, first_capital(alt), caption)
    axes = figures.draw_relation(table, posture=posture, outcome=hunch.outcome, group=group)
    alt = (
        f"Scatter of {label(hunch.outcome)} ({_spread(table[hunch.outcome])}) against {label(posture)} "
        f"({_spread(table[posture])}) for {count(len(table), 'swing')} of {count(golfers, 'golfer')}, with each "
        "golfer's own line and a dashed line through the golfers' means."
    )
    known = table.filter(items=["golfer", posture, hunch.outcome]).dropna()
    shown = len(sample_of_golfers(known, posture))
    sample = _sample(shown, golfers, f"means of {label(posture)}")
    swings = "Grey: swings, darker where there are more" if are_many(known) else "Small marks: single swings"
    caption = (
        f"{swings}. Short lines: regression over the swings of {sample or 'each golfer'} (within golfers). Larger "
        "marks and dashed line: golfers' means and the regression over them (between golfers). The two can differ."
    )
    return Drawn(axes, alt, caption)


def _sample(shown: int, golfers: int, along: str) -> str:
    """Return words for a sample of golfers; "" if all are drawn. along : what the sample covers evenly."""
    return f"{shown} of {golfers} golfers, spread evenly over the golfers' {along}" if shown < golfers else ""


def _comparison(study: Study, table: pd.DataFrame, question: Comparison) -> Drawn:
    value = columns.event_column_name(question.of, question.event) if question.event else question.of
    axes = figures.draw_comparison(
        table, value=value, between=question.between, reference=study.reference_group
    )
    means = table.groupby([question.between, "golfer"])[value].mean().groupby(level=0).mean()
    words = ", ".join(
        f"{name} {value_text(mean, columns.column(value).unit)}" for name, mean in means.items()
    )
    alt = f"Golfers' means of {label(value)} by {question.between}; mean of the golfers: {words}."
    caption = (
        "Marks: golfers' means; bars: ± one standard deviation of the golfer's swings (grey dashes). Black line: mean "
        "over the golfers of a group. Short lines at the right edge, if any: the golfers of the reference group, which "
        "is not a norm."
    )
    return Drawn(axes, alt, caption)


def _lesson(rows: pd.DataFrame, lesson: Lesson, value: str, target: float | None) -> Drawn:
    axes = figures.draw_lesson(rows, value=value, phase=lesson.phase, target_value=target)
    phases = rows.groupby(lesson.phase, sort=False)[value]
    swing_by_swing = f"{first_capital(label(value))} of golfer {lesson.golfer}, swing by swing"
    if pd.api.types.is_numeric_dtype(rows[value]):
        unit = columns.column(value).unit if columns.is_column(value) else ""
        means = ", ".join(f"{name} {value_text(mean, unit)}" for name, mean in phases.mean().items())
        caption = "Every swing in order of play, with its standard error; lines: the mean of each phase."
        return Drawn(axes, f"{swing_by_swing}; means: {means}.", caption)
    words = ", ".join(
        f"{name} {(own == 'clean').sum()} of {own.isin(CONTACTS).sum()}" for name, own in phases
    )
    caption = "Every swing in order of play; swings whose contact is uncertain or not known are not drawn."
    return Drawn(axes, f"{swing_by_swing}; clean contact: {words}.", caption)


def in_order(rows: pd.DataFrame) -> pd.DataFrame:
    """Return rows of the swing table in order of play: by session, as first listed, then by the column `order`."""
    if "order" not in rows.columns or not pd.api.types.is_numeric_dtype(rows["order"]):
        return rows
    session = pd.factorize(rows["session"])[0] if "session" in rows.columns else np.zeros(len(rows))
    place = np.lexsort((rows["order"].to_numpy(float), session))
    return rows.iloc[place]


def embed(drawn: Drawn, name: str) -> Picture:
    """Return a figure, with its name, embedded for a page; the same data give the same bytes."""
    data = "data:image/svg+xml;base64," + base64.b64encode(picture_bytes(drawn.axes, "svg")).decode("ascii")
    width, height = (round(96 * inches) for inches in drawn.axes.figure.get_size_inches())  # type: ignore[union-attr]
    return Picture(name, data, drawn.alt, drawn.caption, width, height, points_in_picture(drawn.axes))


def picture_bytes(axes: Axes, kind: str) -> bytes:
    """Return a figure as the bytes of a PNG or SVG file; the same data give the same bytes.

    kind : "png" or "svg".
    """
    buffer = io.BytesIO()
    metadata = {"Software": None} if kind == "png" else {"Date": None, "Creator": None}
    with matplotlib.rc_context({"svg.hashsalt": "swinglab"}):
        axes.figure.savefig(buffer, format=kind, dpi=150, metadata=metadata)  # type: ignore[union-attr]
    return buffer.getvalue()


def keep(drawn: Drawn, name: str, folder: Path) -> Picture:
    """Return a figure embedded for a page, after writing it to NAME.png and NAME.svg in a folder."""
    picture = embed(drawn, name)
    # The layout has been computed by `embed`; without this call matplotlib would compute it again for the PNG.
    drawn.axes.figure.set_layout_engine()  # type: ignore[union-attr]
    folder.mkdir(parents=True, exist_ok=True)
    (folder / f"{name}.png").write_bytes(picture_bytes(drawn.axes, "png"))
    (folder / f"{name}.svg").write_bytes(base64.b64decode(picture.data.split(",", 1)[1]))
    return picture


def keep_all(
    drawn: Iterable[tuple[str, Drawn]], folder: Path | None = None
) -> tuple[list[Picture], list[str]]:
    """Return figures embedded for a page, and a sentence for each that could not be written.

    drawn : figures, each as (name, figure). folder : folder into which they are also written, if given.
    """
    kept, missing = [], []
    for name, one in drawn:
        try:
            kept.append(embed(one, name) if folder is None else keep(one, name, folder))
        except OSError:  # a full disk is no fault of the picture
            raise
        except Exception as fault:
            missing.append(_not_drawn(fault))
    return kept, missing


def overview(results: Results) -> tuple[list[tuple[str, Drawn]], list[str]]:
    """Return the figures of a study that belong to no question, as (name, figure).

    The second list has a sentence for each figure that could not be drawn.
    """
    agreements, missing = _agreements(results.swings)
    return [*_low_points(results.swings), *agreements], missing


def _low_points(table: pd.DataFrame) -> list[tuple[str, Drawn]]:
    if not np.isfinite(table.get("low_point_ahead_cm", pd.Series([np.nan]))).any():
        return []
    known = table["low_point_ahead_cm"].dropna()
    alt = (
        f"Low points of {len(known)} swings, {_spread(known)} cm from the ball centre, by golfer, with their "
        "standard errors."
    )
    shown = len(sample_of_golfers(table.dropna(subset=["low_point_ahead_cm"]), "low_point_ahead_cm"))
    sample = _sample(shown, table["golfer"].nunique(), "mean low points")
    caption = (
        f"Low point of every swing{f' of {sample}' if sample else ''}, positive on the target side of the ball "
        "centre, with its standard error."
    )
    return [("low_points", Drawn(figures.draw_low_points(table), alt, caption))]


def _agreements(table: pd.DataFrame) -> tuple[list[tuple[str, Drawn]], list[str]]:
    """Return a figure for each outcome that another device measured too, and reasons for missing figures."""
    made, missing = [], []
    for name in columns.STRIKES:
        measured = f"measured_{name}"
        if measured not in table or table[measured].isna().all():
            continue
        try:
            answer = agreement_by_golfer(table, name, measured)
            axes = figures.draw_agreement(
                table,
                computed=name,
                measured=measured,
                bias=answer.bias,
                lower=answer.lower,
                upper=answer.upper,
            )
        except BadTable as fault:
            missing.append(f"Computed and measured {label(name)} cannot be compared: {fault.what}.")
            continue
        unit = unit_words(columns.column(name).unit)
        words = (
            f"computed minus measured {with_limits(answer.bias, answer.bias_low, answer.bias_high)} {unit}, limits of "
            f"agreement {with_limits(answer.lower, answer.lower_low, answer.lower_high)} to "
            f"{with_limits(answer.upper, answer.upper_low, answer.upper_high)} {unit}"
        )
        alt = f"Difference of computed and measured {label(name)} against their mean, {answer.n} swings: {words}."
        many = are_many(table[[name, measured]].dropna())
        marks = (
            "darker where there are more swings"
            if many
            else "a mark for each swing, those of one golfer alike"
        )
        caption = (
            f"{first_capital(label(name))} computed by swinglab and measured by another device, {marks}: {words}. "
            f"A question uses the column that it names: {name} (computed) or {measured} (measured by the device)."
        )
        made.append((f"agreement_{name}", Drawn(axes, alt, caption)))
    return made, missing
