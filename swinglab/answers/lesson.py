"""Effect of a lesson on one golfer: change of posture and strike beyond drift, and the target of the posture."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd

from swinglab import columns
from swinglab.answers.aim import Aim, aim_notes, aim_of
from swinglab.answers.cells import kind_notes
from swinglab.answers.lesson_series import (
    Series,
    complete,
    estimate_of,
    lesson_rows,
    placement_share,
    strike_series,
    with_placement,
)
from swinglab.answers.lines import NO_NUMBER, judged, read_as
from swinglab.answers.measurement_methods import measured_ways
from swinglab.answers.rules import ASSUMED_PLACEMENT_DEG
from swinglab.errors import BadTable
from swinglab.finding_words import Note
from swinglab.records import Errors, Finding, Lesson
from swinglab.statistics.always_valid import always_valid
from swinglab.statistics.estimate import Estimate
from swinglab.statistics.rows import dropped_words
from swinglab.statistics.series import StepFit

BESIDE_TREND, WITHOUT_TREND = Note("step_beside_trend"), Note("step_without_trend")


def compare_before_after(table: pd.DataFrame, lesson: Lesson, *, errors: Errors) -> tuple[Finding, ...]:
    """Compare one golfer's swings before and after a lesson; positive if the values increased.

    The primary estimate is the step (change of level) of the strike, in a model that also contains a linear
    drift over the swings. Supplementary estimates are the step without drift and randomisation tests that
    flip the signs of blocks of swings or exchange blocks. The same is computed for the posture, whose step is
    also compared with the change that measurement error alone could produce. Only swings with a club and shot
    that occur both before and after the lesson are compared; a blank club counts as a club of its own. The
    first phase in the order of play is before the lesson and the second is after it; each further phase is a
    later check, compared with the swings before the lesson that have the same club and shot. Swings of the
    phase "drill" and swings without a phase are not used. If `planned_swings` is set, the conclusion uses
    exactly that number of swings after the lesson; until then the lesson is running, and its confidence
    limits are valid however often they are looked at. The answer is about this player and these sessions
    only.

    Parameters
    ----------
    table : pandas.DataFrame
        The swing table. The rows of the lesson's golfer are used, sorted by session and `order` if the table has
        these columns, otherwise in the order of the rows.
    lesson : Lesson
        The question.
    errors : Errors
        Known measurement errors. If the swings before and after are in different sessions, `placement_deg` widens
        the interval of the step of posture; if it is not known, the interval is given for 2 and for 4 deg.

    Returns
    -------
    tuple of Finding
        Steps in the unit of each quantity; for contact in words, the change of the share of clean strikes. The
        finding of the primary method is first.

    Raises
    ------
    BadRequest
        A golfer who is not in the table.
    BadTable
        Missing columns, only one phase, no club and shot in common, or fewer than three swings in a phase.
    """
    posture_name = columns.event_column_name(lesson.of, lesson.event)
    rows, phases, made = _planned_rows(table, lesson)
    first, second, *later = phases
    strike, missing = strike_series(rows, lesson)
    c = columns.column(posture_name)
    posture = Series(lesson, complete(rows, posture_name), lesson.of, lesson.event, c.unit, c.label.lower())
    notes = [
        *dropped_words(missing),
        *_ways_notes(rows, lesson),
        *kind_notes(rows, lesson.where, centred=True),
    ]
    notes += _plan_notes(lesson, made)
    lines = _strike_lines(strike, first, second, notes)
    try:
        lines += _posture_lines(posture, first, second, errors)
    except BadTable as fault:
        unknown = posture.line(first, second, BESIDE_TREND, NO_NUMBER, 0, [Note("no_fit", why=fault.what)])
        lines.append(unknown)
    for look in later:
        lines += _look_lines(strike, posture, first, look, errors)
    default = judged(lines[0])
    if lesson.planned_swings and made < lesson.planned_swings:
        default = _running(default, strike.of(first), strike.of(second), made, lesson)
    return (default, *lines[1:])


def judged_swings(table: pd.DataFrame, lesson: Lesson) -> tuple[pd.DataFrame, str, str]:
    """Return the swings from which a lesson's change of the strike is estimated, and label and unit of the strike.

    The table has one row for each swing. Its columns include value (of the strike), after (0 before the
    lesson, 1 after it), order and, if known, session.
    """
    rows, (first, second, *_), _ = _planned_rows(table, lesson)
    strike, _ = strike_series(rows, lesson)
    return strike.two(first, second), strike.label, strike.unit


def _planned_rows(table: pd.DataFrame, lesson: Lesson) -> tuple[pd.DataFrame, list, int]:
    """Return a lesson's swings, its phases in the order of play, and the number of swings after the lesson.

    If the lesson plans a number of swings, later swings of the second phase are left out.
    """
    rows = lesson_rows(table, lesson, columns.event_column_name(lesson.of, lesson.event))
    phases = list(dict.fromkeys(rows["phase"]))
    if len(phases) < 2:
        raise BadTable(
            f"lesson {lesson.name}: all swings of golfer {lesson.golfer} have the same value in the column "
            f"{lesson.phase} ({', '.join(map(str, phases)) or 'none'})",
            do=f"write different values into {lesson.phase} for the swings before and after the lesson",
        )
    rows, made = _as_planned(rows, lesson, phases[1])
    return rows, phases, made


def _as_planned(rows: pd.DataFrame, lesson: Lesson, second: object) -> tuple[pd.DataFrame, int]:
    """Return rows with at most the planned number of swings after the lesson, and the recorded number."""
    after = np.flatnonzero((rows["phase"] == second).to_numpy())
    if not lesson.planned_swings or len(after) <= lesson.planned_swings:
        return rows, len(after)
    return rows.drop(index=rows.index[after[lesson.planned_swings :]]), len(after)


def _plan_notes(lesson: Lesson, made: int) -> list[Note]:
    if not lesson.planned_swings:
        return [Note("no_plan")]
    if made > lesson.planned_swings:
        return [Note("beyond_plan", planned=lesson.planned_swings, made=made)]
    return []


def _running(line: Finding, before: np.ndarray, after: np.ndarray, made: int, lesson: Lesson) -> Finding:
    """Return the primary finding while planned swings are still missing: without p and without a conclusion.

    Its confidence limits are valid however often they are looked at. They need the size of an effect worth finding:
    the lesson's smallest effect or, without one, the SD of the strike before the lesson; if all values `before` are
    equal (only clean strikes), the pooled SD of both phases. `made` : number of swings after the lesson.
    """
    own = Estimate.by_t(line.estimate, line.standard_error, line.df)
    own_sd = before.std(ddof=1) if np.ptp(before) > 0 else np.sqrt(_pooled_variance(before, after))
    scale = lesson.smallest_effect or float(own_sd)
    every = always_valid(own, scale=scale)
    names = ("ci_low", "ci_high", "ci90_low", "ci90_high", "ci80_low", "ci80_high")
    method = Note("step_running")
    line = replace(line, p=float("nan"), method=str(method), method_key=method.key,
                   **{name: getattr(every, name) for name in names})  # fmt: skip
    return read_as(line, Note("lesson_running", made=made, planned=lesson.planned_swings))


def _strike_lines(strike: Series, first: object, second: object, notes: list[Note]) -> list[Finding]:
    drift = strike.step(first, second, trend=True)
    plain = strike.step(first, second, trend=False)
    blocks = Note("step_blocks", length=drift.block_length, orders=drift.block_arrangements)
    signs = strike.block_signs(first, second, drift.estimate)
    return [
        strike.line(
            first, second, BESIDE_TREND, estimate_of(drift), drift.n, [*notes, *_named(drift, strike)]
        ),
        *([signs] if signs else []),
        strike.line(first, second, WITHOUT_TREND, estimate_of(plain), plain.n),
        strike.line(first, second, blocks, Estimate(drift.estimate, p=drift.block_p), drift.n),
    ]


def _named(step: StepFit, series: Series) -> list[Note]:
    """Return the warnings of a step; the warning about drift then names the quantity and its unit."""
    return [
        Note("drift_of", what=series.label, drift=note.facts["drift"], unit=series.unit)
        if note.key == "drift" else note
        for note in step.warnings
    ]  # fmt: skip


def _posture_lines(posture: Series, first: object, second: object, errors: Errors) -> list[Finding]:
    phases = {str(phase): posture.of(phase) for phase in dict.fromkeys(posture.rows["phase"])}
    posture = posture.of_kinds_in(first, second)
    beside, plain = (posture.step(first, second, trend=trend) for trend in (True, False))
    moved = placement_share(posture.rows, first, second) if posture.unit == "deg" else 0.0
    known = errors.placement_deg
    aim = aim_of(posture.asked, posture.of(first))
    notes = [*_named(beside, posture), *aim_notes(aim, phases, posture.unit)]
    notes.append(_mdc_note(posture, first, second, plain, moved, known))
    if known and moved > 0:
        notes.append(Note("placement_known", degrees=known))
    way = _moved(aim, posture.of(first), posture.of(second))
    with_error = (with_placement(step, moved, known or 0.0) for step in (beside, plain))
    signs = posture.block_signs(first, second, beside.estimate)
    found = [
        replace(posture.line(first, second, BESIDE_TREND, next(with_error), beside.n, notes), aim=way),
        *([signs] if signs else []),
        posture.line(first, second, WITHOUT_TREND, next(with_error), plain.n),
    ]
    if known is None and moved > 0:
        for degrees in ASSUMED_PLACEMENT_DEG:
            assumed = with_placement(beside, moved, degrees)
            found.append(posture.line(first, second, BESIDE_TREND, assumed, beside.n, placement_deg=degrees))
    return found


def _moved(aim: Aim | None, before: np.ndarray, after: np.ndarray) -> str:
    return aim.moved(float(before.mean()), float(after.mean())) if aim else ""


def _look_lines(
    strike: Series, posture: Series, first: object, look: object, errors: Errors
) -> list[Finding]:
    """Return the findings that compare a later phase with before the lesson: how much change remains."""
    method = Note("later_look")
    found = []
    for series in (strike, posture):
        try:
            series = series.of_kinds_in(first, look)
            step = series.step(first, look, trend=False)
        except BadTable as fault:
            found.append(series.line(first, look, method, NO_NUMBER, 0, [Note("no_fit", why=fault.what)]))
            continue
        again = series.outcome == posture.outcome and posture.unit == "deg"
        moved = placement_share(series.rows, first, look) if again else 0.0
        estimate = with_placement(step, moved, errors.placement_deg or 0.0)
        notes = _named(step, series)
        if moved > 0 and errors.placement_deg is None:
            notes.append(Note("placement_not_in_interval"))
        found.append(series.line(first, look, method, estimate, step.n, notes))
    return found


def _pooled_variance(before: np.ndarray, after: np.ndarray) -> float:
    """Return the variance of the values within two phases, shapes (swings,)."""
    squares = (len(before) - 1) * before.var(ddof=1) + (len(after) - 1) * after.var(ddof=1)
    return float(squares / (len(before) + len(after) - 2))


def _mdc_note(
    posture: Series, first: object, second: object, step: StepFit, share: float, placement: float | None
) -> Note:
    """Return the note that compares the change of the mean posture with its minimal detectable change (95 %).

    It follows the t distribution: the variance of the swings is estimated, that of the placement error is known.
    `share` : result of `placement_share`. `placement` : SD of marker placement error (deg); None if not
    known.
    """
    before, after = posture.of(first), posture.of(second)
    swings = _pooled_variance(before, after) * (1 / len(before) + 1 / len(after))

    def least(degrees: float) -> float:
        variance = swings + share * degrees**2
        df = (len(before) + len(after) - 2) * (variance / swings) ** 2
        return Estimate.by_t(0.0, np.sqrt(variance), df).ci_high

    unit = posture.unit
    if placement is None and share > 0:
        limits = ", ".join(
            f"{least(degrees):.2g} {unit} at {degrees:g} deg" for degrees in (0.0, *ASSUMED_PLACEMENT_DEG)
        )
        return Note(
            "detectable_unknown", first=first, second=second, limits=limits, change=step.estimate, unit=unit
        )
    limit = least(placement or 0.0)
    key = "detectable" if abs(step.estimate) > limit else "not_detectable"
    return Note(key, change=step.estimate, limit=limit, unit=unit)


def _ways_notes(rows: pd.DataFrame, lesson: Lesson) -> list[Note]:
    ways = measured_ways(rows, names=[lesson.of, lesson.outcome], event=lesson.event)
    if ways is None:
        return []
    kinds = sorted(set(ways))
    return [Note("several_ways_in_lesson", ways=len(kinds), names="; ".join(kinds))]
