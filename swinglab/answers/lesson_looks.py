"""A lesson followed over time: before it, on the same day, on another day without the cue, and with another club."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
import pandas as pd
from scipy import special

from swinglab import columns
from swinglab.answers.aim import Aim, aim_of
from swinglab.answers.cells import CLUB, SESSION
from swinglab.answers.lesson_series import (
    Series,
    complete,
    lesson_rows,
    placement_share,
    strike_series,
    with_placement,
)
from swinglab.answers.planning import CHANCE
from swinglab.answers.rules import ALPHA
from swinglab.errors import BadTable
from swinglab.records import Errors, Lesson
from swinglab.statistics.estimate import Estimate

BEFORE, TODAY = "before", "changed today"
ANOTHER_DAY, ANOTHER_CLUB = "kept on another day, without the cue", "kept with another club"
LOOKS = (BEFORE, TODAY, ANOTHER_DAY, ANOTHER_CLUB)
#: Fewest swings planned for a look: amateurs' delivery is reliable from 10 swings on [villarrasa2022].
FEWEST_PLANNED = 10
CUE, OTHER_CLUB = "cue", "other club"


class Change(NamedTuple):
    """Change of a player's mean posture or strike since before the lesson, with the same club.

    estimate : the change. low, high : its 95 % limits. All in the quantity's unit; NaN if the change is not known.
    why : the reason in that case.
    """

    estimate: float = float("nan")
    low: float = float("nan")
    high: float = float("nan")
    why: str = ""


@dataclass(frozen=True, slots=True, eq=False)
class Look:
    """Swings of one stage of a lesson (a look): before, changed today, kept on another day, or with another club.

    name : key of the stage. swings : number of swings. sessions : their sessions. cued : number of swings for which
    the instruction (cue) was given. mean, sd : of the posture, in its unit. within : number of swings inside the
    target range; 0 without a target. strike : mean of the strike quantity, or share of clean strikes.
    posture_change, strike_change : change since before the lesson; the limits of the posture's change include marker
    placement error.
    """

    name: str
    swings: int
    sessions: tuple[str, ...]
    cued: int
    mean: float
    sd: float
    within: int
    strike: float
    posture_change: Change
    strike_change: Change


def rows_by_look(table: pd.DataFrame, lesson: Lesson) -> dict[str, pd.DataFrame]:
    """Return a golfer's swings at each stage of a lesson (look), in the order of play.

    The keys are `LOOKS`; the table of a stage without swings is empty. "Before" contains the first phase and
    "changed today" the second, both with the club used most before the lesson. "Kept on another day" contains
    later phases in other sessions, without swings for which the instruction (cue) was given. "Kept with
    another club" contains all swings after the first phase with any other club, or of the phase "other club".
    A swing whose club is blank does not count as a swing with another club.

    Raises
    ------
    BadRequest, BadTable
        A golfer or a column that is not in the table; a golfer without a swing in a phase of the lesson.
    """
    rows = lesson_rows(table, lesson, columns.event_column_name(lesson.of, lesson.event))
    phases = list(dict.fromkeys(rows["phase"]))
    if not phases:
        raise BadTable(
            f"lesson {lesson.name}: no swing of golfer {lesson.golfer} has a phase in the column {lesson.phase}",
            do=f"write the phase of each swing, such as before and after, into {lesson.phase}",
        )
    first, second = rows["phase"] == phases[0], rows["phase"].isin(phases[1:2])
    other = rows["phase"].astype(str) == OTHER_CLUB
    if CLUB in rows:
        known = rows[CLUB].notna() & (rows[CLUB].astype(str) != "")
        usual = rows.loc[first & known, CLUB].mode()
        if len(usual):
            other |= known & (rows[CLUB] != usual.iloc[0])
    elsewhere = ~first & ~second
    if SESSION in rows:
        elsewhere &= ~rows[SESSION].isin(rows.loc[(first | second) & ~other, SESSION])
    cued = _cued(rows)
    kept = (first & ~other, second & ~other, elsewhere & ~other & ~cued, ~first & other)
    return {name: rows[which] for name, which in zip(LOOKS, kept, strict=True)}


def look_back(table: pd.DataFrame, lesson: Lesson, *, errors: Errors) -> tuple[Look, ...]:
    """Return the four stages of a lesson (looks); the last three have the change of posture and strike since "before".

    Changes are steps estimated by REML with AR(1) errors and without a drift, so they describe a change whatever its
    cause. The conclusion on the lesson comes from `compare_before_after`.

    Raises
    ------
    BadRequest, BadTable
        The same as in `rows_by_look`.
    """
    looks = rows_by_look(table, lesson)
    posture = columns.event_column_name(lesson.of, lesson.event)
    aim = aim_of(lesson, looks[BEFORE][posture].dropna().to_numpy(float))
    everything = lesson_rows(table, lesson, posture)
    before = everything[everything["phase"] == everything["phase"].iloc[0]].assign(phase=BEFORE)
    return tuple(_look(name, rows, before, lesson, aim, errors) for name, rows in looks.items())


def _look(
    name: str, rows: pd.DataFrame, before: pd.DataFrame, lesson: Lesson, aim: Aim | None, errors: Errors
) -> Look:
    column = columns.event_column_name(lesson.of, lesson.event)
    values = rows[column].dropna().to_numpy(float)
    strike = strike_series(rows, lesson)[0].rows["value"] if len(rows) else pd.Series(dtype=float)
    none = Change(why="" if name == BEFORE else "not measured yet")
    changes = (none, none)
    if name != BEFORE and len(rows):
        changes = _changes(name, pd.concat([before, rows.assign(phase=name)]), lesson, errors)
    return Look(
        name, len(rows), tuple(dict.fromkeys(rows[SESSION].astype(str))) if SESSION in rows else (),
        int(_cued(rows).sum()), float(values.mean()) if len(values) else float("nan"),
        float(values.std(ddof=1)) if len(values) > 1 else float("nan"),
        0 if aim is None else int(((values >= aim.low) & (values <= aim.high)).sum()),
        float(strike.mean()) if len(strike) else float("nan"), *changes,
    )  # fmt: skip


def _changes(name: str, both: pd.DataFrame, lesson: Lesson, errors: Errors) -> tuple[Change, Change]:
    """Return the change of posture and of strike, each from the swings that have a value."""
    column = columns.event_column_name(lesson.of, lesson.event)
    unit, label = columns.column(column).unit, columns.column(column).label.lower()
    made = []
    for is_posture in (True, False):
        try:
            series = (
                Series(lesson, complete(both, column), lesson.of, lesson.event, unit, label)
                if is_posture else strike_series(both, lesson)[0]
            )  # fmt: skip
            series = series.of_kinds_in(BEFORE, name)
            step = series.step(BEFORE, name, trend=False)
        except BadTable as fault:
            made.append(Change(why=fault.what))
            continue
        share = placement_share(series.rows, BEFORE, name) if is_posture and unit == "deg" else 0.0
        found: Estimate = with_placement(step, share, errors.placement_deg or 0.0)
        made.append(Change(found.estimate, found.ci_low, found.ci_high))
    return made[0], made[1]


def _cued(rows: pd.DataFrame) -> pd.Series:
    """Return a mask over swings: True where the table gives an instruction (cue)."""
    if CUE not in rows:
        return pd.Series(False, index=rows.index)
    return rows[CUE].notna() & (rows[CUE].astype(str) != "")


def swings_to_read(
    spread: float, made: int, effect: float, *, autocorrelation: float = 0.0, placement_deg: float = 0.0
) -> float:
    """Return the number of swings on another day needed to detect a change with a power of .85.

    Parameters
    ----------
    spread : float
        SD of the posture over the player's own swings, in the unit of `effect`.
    made : int
        Number of swings before the lesson.
    effect : float
        The change of posture to detect.
    autocorrelation : float
        Correlation of neighbouring swings; negative values are taken as 0.
    placement_deg : float
        SD of the marker placement error (deg). It enters once for each day, and more swings do not reduce it.

    Returns
    -------
    float
        At least 10. Infinite if placement error, or the error of the mean before the lesson, is too large to detect
        this effect with any number of swings.

    Examples
    --------
    >>> swings_to_read(2.0, 40, 3.0)
    10.0
    >>> swings_to_read(2.0, 20, 2.0)
    17.0
    >>> swings_to_read(2.0, 40, 3.0, placement_deg=1.5)
    inf
    """
    phi = max(autocorrelation, 0.0)
    one = spread**2 * (1 + phi) / (1 - phi)
    wanted = (effect / (special.ndtri(1 - ALPHA / 2) + special.ndtri(CHANCE))) ** 2
    left = wanted - 2 * placement_deg**2 - one / made
    return float(max(FEWEST_PLANNED, np.ceil(one / left))) if left > 0 else float("inf")
