"""A lesson read from one golfer's swings: the step of posture and strike, beside a drift and without it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd
from scipy import stats

from swinglab import columns
from swinglab.answers.measurement_methods import measured_ways
from swinglab.errors import BadRequest, BadTable, near_names
from swinglab.records import Errors, Finding, Lesson
from swinglab.statistics.design import check_columns, is_number
from swinglab.statistics.rows import dropped_words
from swinglab.statistics.series import StepFit, fit_step

GOLFER, SESSION, ORDER = "golfer", "session", "order"
#: Ends of method words by which the lines of a lesson are told apart.
BESIDE_A_TREND, WITHOUT_TREND = "beside a trend", "without a trend"
_SERIES = "step with AR(1) errors by REML, "
_CLEAN = "share of clean strikes"
_ASSUMED_PLACEMENT_DEG = (2.0, 4.0)
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
        self, first: object, second: object, method: str, numbers: Sequence[float], n: int,
        warnings: Sequence[str] = (),
    ) -> Finding:  # fmt: skip
        """A beside line; numbers: estimate, standard_error, df, p, ci_low, ci_high."""
        estimate, error, df, p, low, high = (float(number) for number in numbers)
        asked, judged = self.asked, self.outcome == self.asked.outcome
        smallest = asked.smallest_effect if judged and asked.smallest_effect is not None else np.nan
        return Finding(
            asked.name, "lesson", "golfer", "beside", self.outcome, f"{asked.phase}[{second}]", self.event,
            estimate, error, df, p, float("nan"), low, high, self.unit, f"{second} against {first}", method, 1, n,
            smallest, "", tuple(warnings),
        )  # fmt: skip


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
    judged = _strike_lines(strike, first, second, said)
    try:
        judged += _posture_lines(posture, first, second, errors)
    except BadTable as fault:
        unknown = posture.line(first, second, _SERIES + WITHOUT_TREND, (np.nan,) * 6, 0, [fault.what])
        judged.append(unknown)
    for look in later:
        judged += _look_lines(strike, posture, first, look, errors)
    return (replace(judged[0], role="default"), *judged[1:])


def _strike_lines(strike: _Series, first: object, second: object, said: list[str]) -> list[Finding]:
    drift = strike.step(first, second, trend=True)
    plain = strike.step(first, second, trend=False)
    blocks = f"blocks of {drift.block_length} swings exchanged ({drift.block_arrangements} orders), {BESIDE_A_TREND}"
    return [
        _told(strike, first, second, BESIDE_A_TREND, drift, [*said, *drift.warnings]),
        _told(strike, first, second, WITHOUT_TREND, plain),
        strike.line(first, second, blocks, (drift.estimate, np.nan, np.nan, drift.block_p, np.nan, np.nan), drift.n),
    ]  # fmt: skip


def _told(
    series: _Series, first: object, second: object, ending: str, step: StepFit, warnings: Sequence[str] = ()
) -> Finding:
    numbers = step.estimate, step.standard_error, step.df, step.p, step.ci_low, step.ci_high
    return series.line(first, second, _SERIES + ending, numbers, step.n, warnings)


def _posture_lines(posture: _Series, first: object, second: object, errors: Errors) -> list[Finding]:
    plain = posture.step(first, second, trend=False)
    moved = _placement_share(posture.rows, first, second) if posture.unit == "deg" else 0.0
    known = errors.placement_deg
    said = [*plain.warnings, *_target_said(posture), _mdc_said(posture, first, second, plain, moved, known)]
    with_error = _with_placement(plain, moved, known or 0.0)
    found = [
        posture.line(first, second, _SERIES + WITHOUT_TREND, with_error, plain.n, said),
        _told(posture, first, second, BESIDE_A_TREND, posture.step(first, second, trend=True)),
    ]
    if known is None and moved > 0:
        for degrees in _ASSUMED_PLACEMENT_DEG:
            words = f"{_SERIES}{WITHOUT_TREND}, placement error taken as {degrees:g} deg"
            found.append(posture.line(first, second, words, _with_placement(plain, moved, degrees), plain.n))
    return found


def _look_lines(
    strike: _Series, posture: _Series, first: object, look: object, errors: Errors
) -> list[Finding]:
    """A later look against before: what was kept."""
    words = f"{_SERIES}{WITHOUT_TREND}, a later look"
    found = []
    for series in (strike, posture):
        try:
            step = series.step(first, look, trend=False)
        except BadTable as fault:
            found.append(series.line(first, look, words, (np.nan,) * 6, 0, [fault.what]))
            continue
        again = series is posture and posture.unit == "deg"
        moved = _placement_share(series.rows, first, look) if again else 0.0
        numbers = _with_placement(step, moved, errors.placement_deg or 0.0)
        said = list(step.warnings)
        if moved > 0 and errors.placement_deg is None:
            said.append("the error of putting the markers on again is not known and not in this interval")
        found.append(series.line(first, look, words, numbers, step.n, said))
    return found


def _with_placement(step: StepFit, share: float, placement: float) -> tuple[float, ...]:
    """The step's numbers with the error of putting the markers on again added to its own."""
    extra = share * placement**2
    if not extra > 0:
        return step.estimate, step.standard_error, step.df, step.p, step.ci_low, step.ci_high
    own = step.standard_error**2
    error, df = np.sqrt(own + extra), step.df * (1 + extra / own) ** 2
    half = float(stats.t.ppf(0.975, df)) * error
    p = float(2 * stats.t.sf(abs(step.estimate) / error, df))
    return step.estimate, float(error), float(df), p, step.estimate - half, step.estimate + half


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
) -> str:
    """The change of the two means against the smallest that exceeds its own error at 95 %."""
    before, after = posture.of(first), posture.of(second)
    pooled = ((len(before) - 1) * before.var(ddof=1) + (len(after) - 1) * after.var(ddof=1)) / (
        len(before) + len(after) - 2
    )
    swings = pooled * (1 / len(before) + 1 / len(after))

    def least(degrees: float) -> float:
        return 1.96 * float(np.sqrt(swings + share * degrees**2))

    unit = posture.unit
    if placement is None and share > 0:
        told = ", ".join(
            f"{least(degrees):.2g} {unit} at {degrees:g} deg" for degrees in (0.0, *_ASSUMED_PLACEMENT_DEG)
        )
        return (
            f"the markers were put on again between {first} and {second}; smallest detectable change of the mean, by "
            f"placement error: {told}; the change was {step.estimate:+.2g} {unit}"
        )
    limit = least(placement or 0.0)
    verdict = "exceeds" if abs(step.estimate) > limit else "does not exceed"
    return (
        f"the change of {step.estimate:+.2g} {unit} {verdict} the smallest detectable change of these means, "
        f"{limit:.2g} {unit}"
    )


def _target_said(posture: _Series) -> list[str]:
    """How many swings of each phase reach the target, on its side of where the player began."""
    target = posture.asked.target_value
    if target is None:
        return []
    phases = list(dict.fromkeys(posture.rows["phase"]))
    began = posture.of(phases[0]).mean()
    up = target >= began
    told = []
    for phase in phases:
        values = posture.of(phase)
        reached = int((values >= target).sum() if up else (values <= target).sum())
        told.append(f"{reached} of {len(values)} in {phase}")
    return [f"swings at {target:g} {posture.unit} or {'above' if up else 'below'}: {', '.join(told)}"]


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


def _ways_said(rows: pd.DataFrame, lesson: Lesson) -> list[str]:
    ways = measured_ways(rows, names=[lesson.of, lesson.outcome], event=lesson.event)
    if ways is None:
        return []
    return [
        f"these swings were measured in {len(set(ways))} ways ({'; '.join(sorted(set(ways)))}): part of a change may "
        "be the method's"
    ]
