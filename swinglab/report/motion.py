"""Animated swings in a report: one golfer's swings with the smallest and the largest value of a posture."""

from __future__ import annotations

from typing import NamedTuple

from markupsafe import Markup

from swinglab import columns
from swinglab.errors import SwinglabError
from swinglab.figures.viewer import swing_frames, viewer_element, viewer_head
from swinglab.records import Hunch
from swinglab.report.typical import golfer_with_most_swings, least_and_most
from swinglab.report.wording import at_event, label, unit_words, value_text
from swinglab.study import Results, Study, load_swing


class Motion(NamedTuple):
    """The swing viewer of a report page.

    element : HTML element with the swings' data. head : style sheet and script of the viewer. caption : text that
    says what is shown.
    """

    element: Markup
    head: Markup
    caption: str


def show_motion(study: Study, results: Results) -> Motion | str:
    """Return the swing viewer for the posture of the study's first hunch.

    If it cannot be shown, the reason is returned as text; "" for a study without a hunch.
    """
    if not study.hunches:
        return ""
    hunch = study.hunches[0]
    chosen = _least_and_most(results, hunch)
    if not chosen:
        return f"No swing can be shown, because none has a value of {label(hunch.posture)}{at_event(hunch.event)}."
    column = columns.quantity_column(hunch.posture)
    unit = unit_words(column.unit)
    frames = []
    try:
        for swing, value in chosen:
            records = load_swing(study, swing)
            title = f"{swing}: {value_text(value, column.unit)} {unit}{at_event(hunch.event)}"
            frames.append(
                swing_frames(
                    records.trial, records.posture, records.events, quantity=hunch.posture, title=title
                )
            )
        element = viewer_element(frames, align=hunch.event, start=hunch.event)
    except SwinglabError as fault:
        return f"The swings cannot be shown: {fault.what}."
    except Exception as fault:  # a picture that fails must not end a run after all measuring
        return f"The swings cannot be shown ({type(fault).__name__})."
    golfer = str(results.swings.set_index("swing").at[chosen[0][0], "golfer"])
    caption = (
        f"Golfer {golfer}: the swings with the smallest and the largest {label(hunch.posture)}"
        f"{at_event(hunch.event)}, aligned in time at that event."
    )
    return Motion(Markup(element), Markup(viewer_head()), caption)


def _least_and_most(results: Results, hunch: Hunch) -> list[tuple[str, float]]:
    """Return name and posture of the swings with the least and the most posture, of the golfer with the most swings."""
    posture = columns.event_column_name(hunch.posture, hunch.event)
    if posture not in results.swings.columns:
        return []
    rows = results.swings[["swing", "golfer", posture]].dropna()
    if rows.empty:
        return []
    own = rows[rows["golfer"] == golfer_with_most_swings(rows)]
    values = own.set_index("swing")[posture]
    return [(swing, float(values[swing])) for swing in least_and_most(own, posture)]
