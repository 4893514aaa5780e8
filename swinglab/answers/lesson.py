"""A lesson read from one golfer's swings: the step of posture and strike beside a drift, and the aim."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pandas as pd

from swinglab import columns
from swinglab.answers.aim import Aim, aim_notes, aim_of
from swinglab.answers.cells import GOLFER, SESSION, kind_notes, kinds_of
from swinglab.answers.lines import NO_NUMBER, Subject, judged, read_as
from swinglab.answers.measurement_methods import measured_ways
from swinglab.answers.rules import ASSUMED_PLACEMENT_DEG
from swinglab.answers.selection import rows_where
from swinglab.errors import BadRequest, BadTable, near_names
from swinglab.finding_words import Note
from swinglab.records import Errors, Finding, Lesson
from swinglab.statistics.always_valid import always_valid
from swinglab.statistics.design import check_columns, is_number
from swinglab.statistics.estimate import Estimate
from swinglab.statistics.rows import dropped_words
from swinglab.statistics.series import StepFit, fit_step
from swinglab.statistics.series_companions import flip_block_signs

ORDER, KIND = "order", "kind"
BESIDE_TREND, WITHOUT_TREND = Note("step_beside_trend"), Note("step_without_trend")
_CLEAN = "share of clean strikes"
_FEWEST = 3


@dataclass(frozen=True, slots=True, eq=False)
class _Series:
    """One column of the golfer's swings, in order, and the phases they belong to."""

    asked: Lesson
    rows: pd.DataFrame  # value, phase, order, kind, session (where there is one)
    outcome: str
    event: str
    unit: str
    label: str
    planned: int | None = None

    def of(self, phase: object) -> np.ndarray:
        """(swings of the phase,) values."""
        return self.rows.loc[self.rows["phase"] == phase, "value"].to_numpy(float)

    def two(self, first: object, second: object) -> pd.DataFrame:
        """The swings of two phases with `after` as 0 and 1, differences between kinds of swing taken out."""
        rows = self.rows[self.rows["phase"].isin([first, second])]
        counts = [int((rows["phase"] == phase).sum()) for phase in (first, second)]
        if min(counts) < _FEWEST:
            raise BadTable(
                f"{self.label}: {counts[0]} swings in {first} and {counts[1]} in {second} have a value, {_FEWEST} of "
                "each are needed"
            )
        return _without_kinds(rows.assign(after=(rows["phase"] == second).astype(float)))

    def step(self, first: object, second: object, *, trend: bool) -> StepFit:
        """The step from the first phase to the second."""
        two = self.two(first, second)
        return fit_step(
            two["value"], two["after"], trend=trend, order=two["order"], session=two.get("session")
        )

    def block_signs(self, first: object, second: object, estimate: float) -> Finding | None:
        """The companion by flipping the signs of blocks; None where there are too few swings."""
        two = self.two(first, second)
        places = np.arange(float(len(two)))
        others = np.column_stack([np.ones(len(two)), places - places.mean()])
        try:
            p, length = flip_block_signs(two["after"].to_numpy(), two["value"].to_numpy(), others)
        except BadTable:
            return None
        return self.line(first, second, Note("block_signs", length=length), Estimate(estimate, p=p), len(two))

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


def _without_kinds(rows: pd.DataFrame) -> pd.DataFrame:
    """Rows whose values are free of the difference between clubs and shots, the step beside it."""
    kinds = sorted(set(rows[KIND]))[1:]
    if not kinds:
        return rows
    coded = np.column_stack([(rows[KIND] == kind).to_numpy(float) for kind in kinds])
    all_terms = np.column_stack([np.ones(len(rows)), rows["after"], coded])
    slopes = np.linalg.lstsq(all_terms, rows["value"].to_numpy(float), rcond=None)[0]
    return rows.assign(value=rows["value"] - (coded - coded.mean(axis=0)) @ slopes[2:])


def compare_before_after(table: pd.DataFrame, lesson: Lesson, *, errors: Errors) -> tuple[Finding, ...]:
    """Compare one golfer's swings before and after a lesson; positive where the values rose.

    Judged is the step of the strike with a straight drift over the swings as a term beside it. Further lines:
    the step without the drift, signs of blocks flipped, blocks exchanged, the same for the posture against the
    change that its error alone could make, and every later look against before. The first phase in the order
    of play is before, the second after, further ones are later looks. With `planned_swings` the verdict is
    given at that number of swings after the lesson, from these; until then the lesson is running, with limits
    that hold at every look. It is about this player and these sessions.

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
    rows, phases, made = _planned_rows(table, lesson)
    first, second, *later = phases
    strike, missing = _strike_series(rows, lesson)
    c = columns.column(posture_name)
    posture = _Series(lesson, _complete(rows, posture_name), lesson.of, lesson.event, c.unit, c.label.lower())
    said = [*dropped_words(missing), *_ways_said(rows, lesson), *kind_notes(rows, lesson.where, centred=True)]
    said += _plan_notes(lesson, made)
    lines = _strike_lines(strike, first, second, said)
    try:
        lines += _posture_lines(posture, first, second, errors)
    except BadTable as fault:
        unknown = posture.line(first, second, BESIDE_TREND, NO_NUMBER, 0, [Note("no_fit", why=fault.what)])
        lines.append(unknown)
    for look in later:
        lines += _look_lines(strike, posture, first, look, errors)
    default = judged(lines[0])
    if lesson.planned_swings and made < lesson.planned_swings:
        default = _running(default, strike, first, made, lesson)
    return (default, *lines[1:])


def judged_swings(table: pd.DataFrame, lesson: Lesson) -> tuple[pd.DataFrame, str, str]:
    """Swings of the judged step in order (value, after, order, session), the strike's label and its unit."""
    rows, (first, second, *_), _ = _planned_rows(table, lesson)
    strike, _ = _strike_series(rows, lesson)
    return strike.two(first, second), strike.label, strike.unit


def _planned_rows(table: pd.DataFrame, lesson: Lesson) -> tuple[pd.DataFrame, list, int]:
    """The golfer's rows as planned, the phases in order, and how many swings were made after the lesson."""
    rows = _rows_of(table, lesson, columns.event_column_name(lesson.of, lesson.event))
    phases = list(dict.fromkeys(rows["phase"]))
    if len(phases) < 2:
        raise BadTable(
            f"golfer {lesson.golfer} has one {lesson.phase} only ({', '.join(map(str, phases))})",
            do=f"give the swings before and after the lesson different values of {lesson.phase}",
        )
    rows, made = _as_planned(rows, lesson, phases[1])
    return rows, phases, made


def _as_planned(rows: pd.DataFrame, lesson: Lesson, second: object) -> tuple[pd.DataFrame, int]:
    """Rows with the planned swings after the lesson and no more, and how many were made."""
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


def _running(line: Finding, strike: _Series, first: object, made: int, lesson: Lesson) -> Finding:
    """The judged line while swings are still being made: no verdict, limits that hold at every look."""
    own = Estimate.by_t(line.estimate, line.standard_error, line.df)
    scale = lesson.smallest_effect or float(strike.of(first).std(ddof=1))
    every = always_valid(own, scale=scale)
    names = ("ci_low", "ci_high", "ci90_low", "ci90_high", "ci80_low", "ci80_high")
    method = Note("step_running")
    line = replace(line, p=float("nan"), method=str(method), method_key=method.key,
                   **{name: getattr(every, name) for name in names})  # fmt: skip
    return read_as(line, Note("lesson_running", made=made, planned=lesson.planned_swings))


def _strike_lines(strike: _Series, first: object, second: object, said: list[Note]) -> list[Finding]:
    drift = strike.step(first, second, trend=True)
    plain = strike.step(first, second, trend=False)
    blocks = Note("step_blocks", length=drift.block_length, orders=drift.block_arrangements)
    signs = strike.block_signs(first, second, drift.estimate)
    return [
        strike.line(first, second, BESIDE_TREND, _estimate(drift), drift.n, [*said, *_named(drift, strike)]),
        *([signs] if signs else []),
        strike.line(first, second, WITHOUT_TREND, _estimate(plain), plain.n),
        strike.line(first, second, blocks, Estimate(drift.estimate, p=drift.block_p), drift.n),
    ]


def _named(step: StepFit, series: _Series) -> list[Note]:
    """The notes of a step with the quantity's own name and unit."""
    return [
        Note("drift_of", what=series.label, drift=note.facts["drift"], unit=series.unit)
        if note.key == "drift" else note
        for note in step.warnings
    ]  # fmt: skip


def _estimate(step: StepFit) -> Estimate:
    by_t = Estimate.by_t(step.estimate, step.standard_error, step.df, p=step.p)
    return replace(by_t, ci_low=step.ci_low, ci_high=step.ci_high)


def _posture_lines(posture: _Series, first: object, second: object, errors: Errors) -> list[Finding]:
    beside, plain = (posture.step(first, second, trend=trend) for trend in (True, False))
    moved = _placement_share(posture.rows, first, second) if posture.unit == "deg" else 0.0
    known = errors.placement_deg
    aim = aim_of(posture.asked, posture.of(first))
    phases = {str(phase): posture.of(phase) for phase in dict.fromkeys(posture.rows["phase"])}
    said = [*_named(beside, posture), *aim_notes(aim, phases, posture.unit)]
    said.append(_mdc_said(posture, first, second, plain, moved, known))
    if known and moved > 0:
        said.append(Note("placement_known", degrees=known))
    way = _moved(aim, posture.of(first), posture.of(second))
    with_error = (_with_placement(step, moved, known or 0.0) for step in (beside, plain))
    signs = posture.block_signs(first, second, beside.estimate)
    found = [
        replace(posture.line(first, second, BESIDE_TREND, next(with_error), beside.n, said), aim=way),
        *([signs] if signs else []),
        posture.line(first, second, WITHOUT_TREND, next(with_error), plain.n),
    ]
    if known is None and moved > 0:
        for degrees in ASSUMED_PLACEMENT_DEG:
            assumed = _with_placement(beside, moved, degrees)
            found.append(posture.line(first, second, BESIDE_TREND, assumed, beside.n, placement_deg=degrees))
    return found


def _moved(aim: Aim | None, before: np.ndarray, after: np.ndarray) -> str:
    return aim.moved(float(before.mean()), float(after.mean())) if aim else ""


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
        said = _named(step, series)
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
    rows = rows_where(rows, lesson.where)
    rows = rows.loc[rows[lesson.phase].notna()]
    rows = rows.assign(phase=rows[lesson.phase], **{KIND: kinds_of(rows)})
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
    wanted = ["phase", ORDER, KIND, *([SESSION] if SESSION in kept else [])]
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
