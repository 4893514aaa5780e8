"""The screens of a study: searches among many postures for those that are related to a strike quantity."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from swinglab import columns
from swinglab.answers.measurement_methods import measured_ways
from swinglab.answers.selection import rows_where
from swinglab.errors import BadTable, SwinglabError
from swinglab.finding_words import Note
from swinglab.records import PostureScreen
from swinglab.statistics.screen_family import Screen, ScreenRequest, screen_family
from swinglab.statistics.screen_groups import group_candidates

#: Candidates whose pairwise correlations are all at least this large are shown as one group.
ALIKE = 0.8
#: Working column: measurement method of a swing.
WAY = "measured by"


@dataclass(frozen=True, slots=True, eq=False)
class ScreenAnswer:
    """Result of one screen (a search among many postures), or the reason why it could not be carried out.

    rows : the swings searched. found : the result; None if the screen could not be carried out, and `why` then gives
    the reason. groups : for each posture that was screened, the number of its group of highly correlated postures.
    notes : warnings about the search.
    """

    question: PostureScreen
    rows: pd.DataFrame
    found: Screen | None
    groups: np.ndarray
    notes: tuple[Note, ...] = ()
    why: str = ""


def candidate_columns(table: pd.DataFrame, screen: PostureScreen) -> list[str]:
    """Return the columns that a screen searches: postures of its body parts at its events that vary in the table.

    An angle that the table has in several conventions (turn-first, ISB order, relative to the neutral posture) is
    searched in one convention only.
    """
    found = []
    for name in table.columns:
        if not columns.is_column(name):
            continue
        c = columns.column(name)
        if c.kind != "posture" or c.error_of or not c.event or c.motion.endswith(("_isb", "_from_neutral")):
            continue
        asked = (not screen.parts or c.group in screen.parts) and (
            not screen.events or c.event in screen.events
        )
        if asked and table[name].nunique() > 1:
            found.append(name)
    return found


def answer_screens(
    table: pd.DataFrame, screens: Sequence[PostureScreen], *, samples: int = 4999, seed: int = 1
) -> tuple[ScreenAnswer, ...]:
    """Answer every screen of a study.

    Screens about golfers in general at one level form one family of tests; so do the screens of each single golfer.

    Parameters
    ----------
    table : pandas.DataFrame
        The swing table.
    screens : sequence of PostureScreen
        The searches.
    samples, seed : int
        Number of resamples, and seed of the random numbers, as in `statistics.screen_postures`.

    Returns
    -------
    tuple of ScreenAnswer
        One for each screen, in the same order. For a screen that cannot be carried out, it gives the reason.
    """
    prepared = [_prepare(table, screen) for screen in screens]
    families: dict[str, list[int]] = {}
    for place, (screen, request) in enumerate(zip(screens, prepared, strict=True)):
        if isinstance(request, ScreenRequest):
            about = screen.golfer if screen.level == "golfer" else "players"
            families.setdefault(f"{screen.family} | {about}", []).append(place)
    answers: dict[int, ScreenAnswer] = {}
    for places in families.values():
        answers |= _answer_family([(i, screens[i], prepared[i]) for i in places], samples, seed)
    for place, (screen, request) in enumerate(zip(screens, prepared, strict=True)):
        if not isinstance(request, ScreenRequest):
            answers[place] = _without_answer(screen, request)
    return tuple(answers[place] for place in range(len(screens)))


def _without_answer(screen: PostureScreen, fault: SwinglabError) -> ScreenAnswer:
    return ScreenAnswer(screen, pd.DataFrame(), None, np.zeros(0, int), why=str(fault))


def _answer_family(asked: list, samples: int, seed: int) -> dict[int, ScreenAnswer]:
    """Answer the screens of one family; a screen that cannot be carried out does not affect the others."""
    able, answers = [], {}
    for place, screen, request in asked:
        try:
            screen_family([request], samples=99, seed=seed)
            able.append((place, screen, request))
        except SwinglabError as fault:
            answers[place] = _without_answer(screen, fault)
    if not able:
        return answers
    found = screen_family([request for *_, request in able], samples=samples, seed=seed)
    for (place, screen, request), one in zip(able, found, strict=True):
        groups = group_candidates(one.correlation.to_numpy(), ALIKE)
        notes = [*one.notes]
        if len(able) > 1:
            notes.append(Note("screen_family", searches=len(able), candidates=one.family))
        answers[place] = ScreenAnswer(screen, request.table, one, groups, tuple(notes))
    return answers


def _prepare(table: pd.DataFrame, screen: PostureScreen) -> ScreenRequest | SwinglabError:
    try:
        rows = rows_where(table, screen.where)
        if screen.outcome not in rows or not rows[screen.outcome].notna().any():
            raise BadTable(
                f"no swing has a value of {screen.outcome}, the outcome of the screen {screen.name}",
                do="choose another outcome, or change `where` of the screen",
            )
        adjust = list(screen.adjust)
        names = candidate_columns(rows, screen)
        if not names:
            raise BadTable(
                f"the screen {screen.name} has nothing to search: no posture of its body parts varies at its "
                "events",
                do="change `parts` and `events` of the screen",
            )
        if screen.level == "between":
            rows, adjust = _comparable(rows, screen, adjust)
        return ScreenRequest(rows, screen.outcome, names, screen.level, screen.golfer, tuple(adjust))
    except SwinglabError as fault:
        return fault


def _comparable(
    rows: pd.DataFrame, screen: PostureScreen, adjust: list[str]
) -> tuple[pd.DataFrame, list[str]]:
    """Return rows measured by a method that two golfers share, with a term for the method where there are several.

    The effect of a method used for one golfer alone cannot be separated from that golfer's own mean.
    """
    ways = measured_ways(rows, names=["thorax_flexion_deg", "pelvis_flexion_deg", screen.outcome], event=None)
    if ways is None:
        return rows, adjust
    rows = rows.assign(**{WAY: ways})
    golfers = rows.groupby(WAY)["golfer"].nunique()
    rows = rows[rows[WAY].isin(golfers.index[golfers > 1])]
    return rows, [*adjust, WAY] if rows[WAY].nunique() > 1 else adjust
