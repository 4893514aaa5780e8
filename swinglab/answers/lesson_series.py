"""One quantity of a lesson's swings in the order of play, and its step (change of level) between two phases."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pandas as pd

from swinglab import columns
from swinglab.answers.cells import GOLFER, SESSION, kinds_of
from swinglab.answers.lines import Subject
from swinglab.answers.selection import rows_where
from swinglab.errors import BadRequest, BadTable, near_names
from swinglab.finding_words import Note
from swinglab.records import Finding, Lesson
from swinglab.statistics.design import check_columns, is_number
from swinglab.statistics.estimate import Estimate
from swinglab.statistics.series import StepFit, fit_step
from swinglab.statistics.series_companions import flip_block_signs

ORDER, KIND = "order", "kind"
#: Phases whose swings stay in the table but are not judged: the drill itself, and swings without a phase.
NOT_JUDGED = ("drill", "")
_CLEAN = "share of clean strikes"
_FEWEST = 3


@dataclass(frozen=True, slots=True, eq=False)
class Series:
    """One quantity of a golfer's swings in the order of play, with the phase of the lesson of each swing.

    asked : the lesson. rows : one row for each swing, with value, phase, order, kind (club and shot) and, if
    known, session. outcome, event, unit, label : name of the quantity, its event ("" for a strike quantity),
    unit and label.
    """

    asked: Lesson
    rows: pd.DataFrame  # value, phase, order, kind, session (where there is one)
    outcome: str
    event: str
    unit: str
    label: str

    def of(self, phase: object) -> np.ndarray:
        """Return the values of the swings of a phase, shape (swings,)."""
        return self.rows.loc[self.rows["phase"] == phase, "value"].to_numpy(float)

    def two(self, first: object, second: object) -> pd.DataFrame:
        """Return the swings of two phases, with `after` 0 in the first and 1 in the second.

        Only clubs and shots that occur in both phases are used: otherwise a difference between clubs could not be
        separated from the step. If several remain, values are adjusted for the means of these kinds. Raises BadTable if
        the phases have no club and shot in common, or if a phase has fewer than three swings.
        """
        rows = self.of_kinds_in(first, second).rows
        counts = [int((rows["phase"] == phase).sum()) for phase in (first, second)]
        if min(counts) < _FEWEST:
            raise BadTable(
                f"too few swings have a value of {self.label}: {counts[0]} in the phase {first} and "
                f"{counts[1]} in the phase {second}, but each phase needs {_FEWEST} or more",
                do="record more swings in both phases, with the same club and shot",
            )
        return _without_kinds(rows.assign(after=(rows["phase"] == second).astype(float)))

    def of_kinds_in(self, first: object, look: object) -> Series:
        """Return the series of two phases, with only those clubs and shots that occur in both.

        `first`, `look` : the phase before the lesson and a later one. Swings without a club are a kind of their own.
        Raises BadTable if both phases have swings but share no club and shot.
        """
        phases = [self.rows["phase"] == phase for phase in (first, look)]
        kinds = [set(self.rows.loc[phase, KIND]) for phase in phases]
        common = kinds[0] & kinds[1]
        if all(kinds) and not common:
            raise BadTable(
                f"{self.label}: the phases {first} and {look} have no club and shot in common",
                do=f"record swings in {first} with the club and shot of {look}",
            )
        return replace(self, rows=self.rows[self.rows[KIND].isin(common) & (phases[0] | phases[1])])

    def step(self, first: object, second: object, *, trend: bool) -> StepFit:
        """Estimate the change of level between two phases; `trend` : whether the model has a linear drift."""
        two = self.two(first, second)
        return fit_step(
            two["value"], two["after"], trend=trend, order=two["order"], session=two.get("session")
        )

    def block_signs(self, first: object, second: object, estimate: float) -> Finding | None:
        """Return the finding of the test that flips the signs of blocks of swings; None if there are too few swings.

        `first`, `second` : the phases compared. `estimate` : the step to report with this test's p.
        """
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
        """Return the `Finding` of one method for this quantity, with the role of a supplementary method.

        `first`, `second` : the phases compared. `n` : number of swings. `more` : further arguments of `Subject.line`.
        """
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
    """Return rows with values adjusted for kind of swing (club and shot), fitted together with the step."""
    kinds = sorted(set(rows[KIND]))[1:]
    if not kinds:
        return rows
    coded = np.column_stack([(rows[KIND] == kind).to_numpy(float) for kind in kinds])
    all_terms = np.column_stack([np.ones(len(rows)), rows["after"], coded])
    slopes = np.linalg.lstsq(all_terms, rows["value"].to_numpy(float), rcond=None)[0]
    return rows.assign(value=rows["value"] - (coded - coded.mean(axis=0)) @ slopes[2:])


def estimate_of(step: StepFit) -> Estimate:
    """Return the estimate of a step, with the p value and the 95 % limits of its fit."""
    by_t = Estimate.by_t(step.estimate, step.standard_error, step.df, p=step.p)
    return replace(by_t, ci_low=step.ci_low, ci_high=step.ci_high)


def with_placement(step: StepFit, share: float, placement: float) -> Estimate:
    """Return the estimate of a step with marker placement error added to its standard error.

    `share` : result of `placement_share`. `placement` : SD of the placement error, in the unit of the step.
    """
    extra = share * placement**2
    if not extra > 0:
        return estimate_of(step)
    own = step.standard_error**2
    error, df = np.sqrt(own + extra), step.df * (1 + extra / own) ** 2
    return Estimate.by_t(step.estimate, float(error), float(df))


def placement_share(rows: pd.DataFrame, first: object, second: object) -> float:
    """Return the factor for the variance that marker placement adds to the difference of two phase means.

    Multiplied by the placement variance of one session, it gives the variance of the difference. It is 0 if
    both phases are in one session, and smaller with more sessions, because markers are placed again in each.
    """
    if "session" not in rows:
        return 0.0
    weights = [
        rows.loc[rows["phase"] == phase, "session"].value_counts(normalize=True) for phase in (first, second)
    ]
    return float((weights[1].sub(weights[0], fill_value=0.0) ** 2).sum())


def lesson_rows(table: pd.DataFrame, lesson: Lesson, posture: str) -> pd.DataFrame:
    """Return the swings of a lesson's golfer in the order of play, with the added columns phase, kind and order.

    `posture` is the column of the lesson's posture at its event.

    Raises
    ------
    BadRequest
        The golfer is not in the table.
    BadTable
        A column is missing, or the lesson's `where` selects no swing.
    """
    check_columns(table, [GOLFER, lesson.phase, posture, lesson.outcome])
    rows = table[table[GOLFER].astype(str) == str(lesson.golfer)]
    if rows.empty:
        known = sorted(str(name) for name in table[GOLFER].dropna().unique())
        raise BadRequest(
            f"the swing table has no golfer {lesson.golfer}",
            do=near_names(str(lesson.golfer), known) or f"choose one of {', '.join(known)}",
        )
    rows = rows_where(rows, lesson.where)
    phase = rows[lesson.phase]
    rows = rows.loc[phase.notna() & ~phase.astype(str).isin(NOT_JUDGED)]
    rows = rows.assign(phase=rows[lesson.phase], **{KIND: kinds_of(rows)})
    several = SESSION in rows and bool(rows[SESSION].notna().all())
    ordered = ORDER in rows and is_number(rows[ORDER]) and bool(rows[ORDER].notna().all())
    # If the order starts again in each session, it cannot be used without the session.
    ordered = ordered and (several or rows[ORDER].is_unique)
    place = rows[ORDER].to_numpy(float) if ordered else np.arange(1.0, len(rows) + 1)
    visit = pd.factorize(rows[SESSION])[0] if several else np.zeros(len(rows), int)
    by = np.lexsort((place, visit))
    made = rows.iloc[by].assign(**{ORDER: place[by]})
    return made if several else made.drop(columns=SESSION, errors="ignore")


def complete(rows: pd.DataFrame, name: str) -> pd.DataFrame:
    """Return the swings that have a value in the column `name`; that column is renamed to value.

    The other columns returned are phase, order, kind and, if known, session. Raises BadTable if the column `name`
    contains text.
    """
    if not is_number(rows[name]):
        raise BadTable(
            f"the column {name} of the swing table contains text, but a lesson needs numbers here",
            do="correct the column, or name another one in the lesson",
        )
    kept = rows.loc[rows[name].notna()]
    wanted = ["phase", ORDER, KIND, *([SESSION] if SESSION in kept else [])]
    return kept[wanted].assign(value=kept[name].astype(float))


def strike_series(rows: pd.DataFrame, lesson: Lesson) -> tuple[Series, int]:
    """Return the series of a lesson's strike quantity, and the number of swings without a value.

    Contact in words is coded as 1 (clean) and 0 (fat or thin).
    """
    name = lesson.outcome
    if not is_number(rows[name]):
        words = rows[name].astype(object)
        known = words.isin(["fat", "clean", "thin"])
        if not known.any():
            raise BadTable(
                f"the column {name} must contain numbers or the words fat, clean and thin, but it contains other words",
                do="correct the words",
            )
        clean = words.eq("clean").astype(float).where(known)
        series = complete(rows.assign(**{name: clean}), name)
        return Series(lesson, series, name, "", _CLEAN, name), len(rows) - len(series)
    series = complete(rows, name)
    c = columns.column(name) if columns.is_column(name) else None
    made = Series(lesson, series, name, "", c.unit if c else "", c.label.lower() if c else name)
    return made, len(rows) - len(series)
