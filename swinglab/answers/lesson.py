"""A lesson read from one golfer's swings: the step of posture and strike, beside a drift and without it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pandas as pd

from swinglab import columns
from swinglab.answers.lines import NO_NUMBER, Subject, judged
from swinglab.answers.measurement_methods import measured_ways
from swinglab.answers.rules import ASSUMED_PLACEMENT_DEG
from swinglab.errors import BadRequest, BadTable, near_names
from swinglab.finding_words import Note
from swinglab.records import Errors, Finding, Lesson
from swinglab.statistics.design import check_columns, is_number
from swinglab.statistics.estimate import Estimate
from swinglab.statistics.rows import dropped_words
from swinglab.statistics.series import StepFit, fit_step

GOLFER, SESSION, ORDER = "golfer", "session", "order"
BESIDE_TREND, WITHOUT_TREND = Note("step_beside_trend"), Note("step_without_trend")
_CLEAN = "share of clean strikes"
_FEWEST = 3


@dataclass(frozen=True, slots=True, eq=False)
class _Series:
    """One column of the golfer's swings, in order, and the phases they belong to."""

    asked: Lesson
    rows: pd.DataFrame  # value, phase, order, session (where there is one)
    outcome: str
    event: str
    unit: str
    label: str

    def of(self, phase: object) -> np.ndarray:
        return self.rows.loc[self.rows["phase"] == phase, "value"].to_numpy(float)

    def step(self, first: object, second: object, *, trend: bool) -> StepFit:
        two = self.rows[self.rows["phase"].isin([first, second])]
        counts = [int((two["phase"] == phase).sum()) for phase in (first, second)]
        if min(counts) < _FEWEST:
            raise BadTable(
                f"{self.label}: {counts[0]} swings in {first} and {counts[1]} in {second} have a value, {_FEWEST} of "
                "each are needed"
            )
        after = (two["phase"] == second).to_numpy(float)
        session = two.get("session")
        return fit_step(two["value"], after, trend=trend, order=two["order"], session=session)

    def line(
        self, first: object, second: object, method: Note, estimate: Estimate, n: int,
        warnings: Sequence[Note] = (), **more: Any,
    ) -> Finding:  # fmt: skip
        """A beside line."""
        asked = self.asked
        smallest = asked.smallest_effect if self.outcome == asked.outcome else None
        subject = Subject(
            asked.name, "lesson", self.outcome, f"{asked.phase}[{second}]", self.event, self.unit,
            f"{second} against {first}", smallest,
        )  # fmt: skip
        return subject.line(
            "golfer",
            method,
            estimate,
            n_golfers=1,
            n_swings=n,
            warnings=warnings,
            golfer=asked.golfer,
            **more,
        )


def compare_before_after(table: pd.DataFrame, lesson: Lesson, *, errors: Errors) -> tuple[Finding, ...]:
    """Compare one golfer's swings before and after a lesson; positive where the values rose.

    Judged is the step of the strike with a straight drift over the swings as a term beside it. Further lines:
    that step without the drift, blocks of swings exchanged, the step of the posture against the change that
    its error alone could make, and every later look against before. The first phase in the order of play is
    before, the second after, further ones are later looks. It speaks of this player and these sessions.

    Parameters
    ----------
    table : pandas.DataFrame
        The swing table; of it the lesson's golfer is taken, in the order of session and `order` where they
        are given, else as the rows stand.
    lesson : Lesson
        The question.
    errors : Errors
        Known errors of the set-up. Where before and after are in different sessions, `placement_deg` widens
        the interval of the posture's step; where it is not known, that is shown for 2 and 4 deg.

    Returns
    -------
    tuple of Finding
        In the unit of each quantity; a contact in words becomes the share of clean strikes. The judged line
        first.

    Raises
    ------
    BadRequest
        A golfer who is not in the table.
    BadTable
        Missing columns, one phase only, or fewer than three swings in one.
    """
    posture_name = columns.event_column_name(lesson.of, lesson.event)
    rows = _rows_of(table, lesson, posture_name)
    phases = list(dict.fromkeys(rows["phase"]))
    if len(phases) < 2:
        raise BadTable(
            f"golfer {lesson.golfer} has one {lesson.phase} only ({', '.join(map(str, phases))})",
            do=f"give the swings before and after the lesson different values of {lesson.phase}",
        )
    strike, strike_missing = _strike_series(rows, lesson)
    c = columns.column(posture_name)
    posture = _Series(lesson, _complete(rows, posture_name), lesson.of, lesson.event, c.unit, c.label.lower())
    first, second, *later = phases
    said = dropped_words(strike_missing) + _ways_said(rows, lesson)
    lines = _strike_lines(strike, first, second, said)
    try:
        lines += _posture_lines(posture, first, second, errors)
    except BadTable as fault:
        unknown = posture.line(first, second, WITHOUT_TREND, NO_NUMBER, 0, [Note("no_fit", why=fault.what)])
        lines.append(unknown)
    for look in later:
        lines += _look_lines(strike, posture, first, look, errors)
    return (judged(lines[0]), *lines[1:])


def _strike_lines(strike: _Series, first: object, second: object, said: list[Note]) -> list[Finding]:
    drift = strike.step(first, second, trend=True)
    plain = strike.step(first, second, trend=False)
    blocks = Note("step_blocks", length=drift.block_length, orders=drift.block_arrangements)
    return [
        strike.line(first, second, BESIDE_TREND, _estimate(drift), drift.n, [*said, *drift.warnings]),
        strike.line(first, second, WITHOUT_TREND, _estimate(plain), plain.n),
        strike.line(first, second, blocks, Estimate(drift.estimate, p=drift.block_p), drift.n),
    ]


def _estimate(step: StepFit) -> Estimate:
    by_t = Estimate.by_t(step.estimate, step.standard_error, step.df, p=step.p)
    return replace(by_t, ci_low=step.ci_low, ci_high=step.ci_high)


def _posture_lines(posture: _Series, first: object, second: object, errors: Errors) -> list[Finding]:
    plain = posture.step(first, second, trend=False)
    moved = _placement_share(posture.rows, first, second) if posture.unit == "deg" else 0.0
    known = errors.placement_deg
    said = [*plain.warnings, *_target_said(posture), _mdc_said(posture, first, second, plain, moved, known)]
    with_error = _with_placement(plain, moved, known or 0.0)
    beside = posture.step(first, second, trend=True)
    found = [
        posture.line(first, second, WITHOUT_TREND, with_error, plain.n, said),
        posture.line(first, second, BESIDE_TREND, _estimate(beside), beside.n),
    ]
    if known is None and moved > 0:
        for degrees in ASSUMED_PLACEMENT_DEG:
            assumed = _with_placement(plain, moved, degrees)
            found.append(posture.line(first, second, WITHOUT_TREND, assumed, plain.n, placement_deg=degrees))
    return found


def _look_lines(
    strike: _Series, posture: _Series, first: object, look: object, errors: Errors
) -> list[Finding]:
    """A later look against before: what was kept."""
    method = Note("later_look")
    found = []
    for series in (strike, posture):
        try:
            step = series.step(first, look, trend=False)
        except BadTable as fault:
            found.append(series.line(first, look, method, NO_NUMBER, 0, [Note("no_fit", why=fault.what)]))
            continue
        again = series is posture and posture.unit == "deg"
        moved = _placement_share(series.rows, first, look) if again else 0.0
        estimate = _with_placement(step, moved, errors.placement_deg or 0.0)
        said = list(step.warnings)
        if moved > 0 and errors.placement_deg is None:
            said.append(Note("placement_not_in_interval"))
        found.append(series.line(first, look, method, estimate, step.n, said))
    return found


def _with_placement(step: StepFit, share: float, placement: float) -> Estimate:
    """The step's numbers with the error of putting the markers on again added to its own."""
    extra = share * placement**2
    if not extra > 0:
        return _estimate(step)
    own = step.standard_error**2
    error, df = np.sqrt(own + extra), step.df * (1 + extra / own) ** 2
    return Estimate.by_t(step.estimate, float(error), float(df))


def _placement_share(rows: pd.DataFrame, first: object, second: object) -> float:
    """Variance that one unit of placement variance gives the difference of two phases' means."""
    if "session" not in rows:
        return 0.0
    weights = [
        rows.loc[rows["phase"] == phase, "session"].value_counts(normalize=True) for phase in (first, second)
    ]
    return float((weights[1].sub(weights[0], fill_value=0.0) ** 2).sum())


def _mdc_said(
    posture: _Series, first: object, second: object, step: StepFit, share: float, placement: float | None
) -> Note:
    """The note on the change of the two means and the smallest that exceeds its own error at 95 %."""
    before, after = posture.of(first), posture.of(second)
    pooled = ((len(before) - 1) * before.var(ddof=1) + (len(after) - 1) * after.var(ddof=1)) / (
        len(before) + len(after) - 2
    )
    swings = pooled * (1 / len(before) + 1 / len(after))

    def least(degrees: float) -> float:
        return 1.96 * float(np.sqrt(swings + share * degrees**2))

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


def _target_said(posture: _Series) -> list[Note]:
    """How many swings of each phase reach the target, on its side of where the player began."""
    target = posture.asked.target_value
    if target is None:
        return []
    phases = list(dict.fromkeys(posture.rows["phase"]))
    began = posture.of(phases[0]).mean()
    up = target >= began
    counts = []
    for phase in phases:
        values = posture.of(phase)
        reached = int((values >= target).sum() if up else (values <= target).sum())
        counts.append(f"{reached} of {len(values)} in {phase}")
    side = "above" if up else "below"
    return [Note("target_reached", target=target, unit=posture.unit, side=side, counts=", ".join(counts))]


def _rows_of(table: pd.DataFrame, lesson: Lesson, posture: str) -> pd.DataFrame:
    """The golfer's swings in the order they were made; order and session made ready."""
    check_columns(table, [GOLFER, lesson.phase, posture, lesson.outcome])
    rows = table[table[GOLFER].astype(str) == str(lesson.golfer)]
    if rows.empty:
        known = sorted(str(name) for name in table[GOLFER].dropna().unique())
        raise BadRequest(
            f"there is no golfer {lesson.golfer} in the table",
            do=near_names(str(lesson.golfer), known) or f"one of {', '.join(known)}",
        )
    rows = rows.loc[rows[lesson.phase].notna()]
    rows = rows.assign(phase=rows[lesson.phase])
    several = SESSION in rows and bool(rows[SESSION].notna().all())
    ordered = ORDER in rows and is_number(rows[ORDER]) and bool(rows[ORDER].notna().all())
    # Places that start again in each session say nothing where the sessions are not known.
    ordered = ordered and (several or rows[ORDER].is_unique)
    place = rows[ORDER].to_numpy(float) if ordered else np.arange(1.0, len(rows) + 1)
    visit = pd.factorize(rows[SESSION])[0] if several else np.zeros(len(rows), int)
    by = np.lexsort((place, visit))
    made = rows.iloc[by].assign(**{ORDER: place[by]})
    return made if several else made.drop(columns=SESSION, errors="ignore")


def _complete(rows: pd.DataFrame, name: str) -> pd.DataFrame:
    if not is_number(rows[name]):
        raise BadTable(f"{name} is not numeric")
    kept = rows.loc[rows[name].notna()]
    wanted = ["phase", ORDER, *([SESSION] if SESSION in kept else [])]
    return kept[wanted].assign(value=kept[name].astype(float))


def _strike_series(rows: pd.DataFrame, lesson: Lesson) -> tuple[_Series, int]:
    """The strike's series and how many swings lack it; contact in words becomes 1 for clean, 0 for fat or thin."""
    name = lesson.outcome
    if not is_number(rows[name]):
        words = rows[name].astype(object)
        known = words.isin(["fat", "clean", "thin"])
        if not known.any():
            raise BadTable(f"{name} is neither a number nor fat, clean or thin")
        clean = words.eq("clean").astype(float).where(known)
        series = _complete(rows.assign(**{name: clean}), name)
        return _Series(lesson, series, name, "", _CLEAN, name), len(rows) - len(series)
    series = _complete(rows, name)
    c = columns.column(name) if columns.is_column(name) else None
    made = _Series(lesson, series, name, "", c.unit if c else "", c.label.lower() if c else name)
    return made, len(rows) - len(series)


def _ways_said(rows: pd.DataFrame, lesson: Lesson) -> list[Note]:
    ways = measured_ways(rows, names=[lesson.of, lesson.outcome], event=lesson.event)
    if ways is None:
        return []
    kinds = sorted(set(ways))
    return [Note("several_ways_in_lesson", ways=len(kinds), names="; ".join(kinds))]
