"""The searches of a study in its report: sentences, a table, and figures of slopes by body part and event."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import pandas as pd

from swinglab import columns, figures
from swinglab.answers import ScreenAnswer
from swinglab.answers.screen_table import screen_table
from swinglab.records import Errors
from swinglab.report import screen_words
from swinglab.report.pictures import Drawn
from swinglab.report.wording import label, unit_words

_ORDER = "how strongly it is related to the strike"
_ALPHA = 0.05
#: Largest number of body parts that are drawn; each figure adds a tenth of a megabyte to the page.
_MOST_PARTS = 3
CAPTION = (
    "Each mark: change of the strike for 10 deg (or 10 cm) more of a posture. Bars: simultaneous 95 % intervals, which "
    "hold for all postures of this search together."
)


class ShownScreen(NamedTuple):
    """A search as shown in the report: sentences on its result, further remarks, a table, and a figure by body part."""

    name: str
    sentences: tuple[str, ...]
    more: tuple[str, ...]
    table: pd.DataFrame
    drawn: tuple[tuple[str, Drawn], ...]


def shown_screens(screens: Sequence[ScreenAnswer], errors: Errors) -> list[ShownScreen]:
    """Return all searches of a study for the report, with figures of the three body parts with most postures found.

    errors : measurement errors of the set-up.
    """
    return [_shown(answer, errors, number) for number, answer in enumerate(screens, start=1)]


def _shown(answer: ScreenAnswer, errors: Errors, number: int) -> ShownScreen:
    name, (first, more) = answer.question.name, screen_words.first_and_more(answer)
    if answer.found is None:
        return ShownScreen(name, first, (), pd.DataFrame(), ())
    rows = screen_table([answer], errors)
    head = screen_words.before_searching(int(answer.rows["golfer"].nunique()), answer.question.level)
    table = screen_words.coach_table(rows, order=_ORDER, only_found=True)
    drawn = tuple((f"screen_{number}_{part}", draw_part(rows, part)) for part in _parts(rows))
    return ShownScreen(name, first, (*([head] if head else []), *more), table, drawn)


def _parts(rows: pd.DataFrame) -> list[str]:
    """Return the body parts with most postures found; if none was found, the part of the smallest adjusted p."""
    known = rows[rows["estimate"].notna()].sort_values("p_adjusted", kind="stable")
    found = known[known["p_adjusted"] < _ALPHA]
    shown = found if len(found) else known.head(1)
    parts = pd.Series([columns.column(name).group for name in shown["column"]])
    return list(parts.value_counts().index[:_MOST_PARTS])


def draw_part(rows: pd.DataFrame, part: str) -> Drawn:
    """Return a figure of the slopes of one body part at every event.

    rows : rows of screen.csv of one search.
    """
    axes = figures.draw_screen(rows, part=part, unit=unit_words(str(rows["unit"].iloc[0])))
    words, outcome = part.replace("_", " "), label(str(rows["outcome"].iloc[0]))
    alt = f"Slopes of {outcome} on the postures of {words} at each event, with simultaneous intervals."
    return Drawn(axes, alt, f"{words[:1].upper()}{words[1:]} and {outcome}. {CAPTION}")
