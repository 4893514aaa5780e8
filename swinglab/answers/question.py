"""A hunch prepared for analysis: rows, columns, measurement errors of the posture, and warnings."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from swinglab import columns
from swinglab.answers.cells import GOLFER, SESSION, cells_of, kind_notes, kinds_of
from swinglab.answers.described import DeclaredColumns, Described, describe
from swinglab.answers.lines import Subject
from swinglab.answers.measurement_methods import measured_ways, needs_ball, ways_words
from swinglab.answers.selection import rows_where
from swinglab.errors import BadRequest, BadTable
from swinglab.finding_words import Note
from swinglab.records import Errors, Finding, Hunch
from swinglab.statistics.design import check_columns, code_predictors, is_number
from swinglab.statistics.estimate import Estimate

#: Slopes are given per this many units of the posture.
STEP = 10.0
CONTACTS = ("contact", "measured_contact")
#: Working columns of `Asked.rows`.
X, Y, CELL, KIND, WAY = "posture", "strike", "golfer, session and kind", "kind", "measured by"
ORDER, PHASE, CLUB_TERM, METHOD_TERM = "order", "phase", "club", "method"
WORDS = ("fat", "clean", "thin")
NONE_DECLARED: DeclaredColumns = {}


@dataclass(frozen=True, slots=True, eq=False)
class Asked:
    """A hunch with the swings, covariates and error variances that its analysis needs.

    hunch : the question. subject : fields common to its findings. rows : swings without missing values, with
    the columns `posture` (in steps of 10 units), `strike`, golfer, session, order, measurement method and
    covariates. adjust : names of the covariates after dummy coding of text. swing_variance,
    placement_variance : error variance of the posture of one swing, and that from placing markers anew in
    each session (None if not known), in steps squared. sessions : whether a golfer has several sessions or
    kinds of swing. warnings : warnings for every finding. outcome_label : the outcome in words.
    """

    hunch: Hunch
    subject: Subject
    rows: pd.DataFrame
    adjust: tuple[str, ...]
    swing_variance: float
    placement_variance: float | None
    sessions: bool
    warnings: tuple[Note, ...]
    outcome_label: str = ""

    def line(
        self, level: str, method: Note, estimate: Estimate, *, warnings: Sequence[Note] = (), **more: Any
    ) -> Finding:
        """Return one method's estimate as a `Finding` with the role of a supplementary method.

        It has the hunch's general warnings in addition to `warnings`.
        """
        return self.subject.line(level, method, estimate, warnings=(*self.warnings, *warnings), **more)


def frame_question(
    table: pd.DataFrame, hunch: Hunch, errors: Errors, *, declared: DeclaredColumns = NONE_DECLARED
) -> Asked:
    """Select the rows and columns that a hunch needs from a swing table, and compute the posture's error variances.

    Raises
    ------
    BadRequest
        An unknown quantity, or a covariate that is computed from the same path of the club as the outcome.
    BadTable
        Missing columns, or no complete row.
    """
    posture = describe(hunch.posture, hunch.event, table=table, declared=declared)
    outcome = _outcome(hunch.outcome, table, declared)
    covariates = [_covariate(table, name, hunch.event) for name in hunch.adjust]
    _refuse_strike_as_cause(hunch, covariates)
    check_columns(table, [GOLFER, outcome.column, posture.column, *covariates])
    faults = [
        f"the column {n} is not numeric" for n in (outcome.column, posture.column) if not is_number(table[n])
    ]
    if hunch.outcome in CONTACTS:
        faults = faults[1:]
    if faults:
        raise BadTable(
            f"a hunch needs numbers, but {' and '.join(faults)}",
            do="choose numeric columns for outcome and posture",
        )
    chosen = rows_where(table, hunch.where)
    source, notes = _complete(chosen, [GOLFER, outcome.column, posture.column, *covariates], hunch.outcome)
    rows = _rows(source, posture.column, outcome.column)
    methods = measured_ways(source, names=[hunch.posture, hunch.outcome], event=hunch.event)
    rows[WAY] = "" if methods is None else methods
    extra = source[covariates].reset_index(drop=True)
    coded, names, _, _ = code_predictors(extra, list(extra.columns), intercept=False)
    rows[list(names)] = coded
    notes += kind_notes(source, hunch.where, centred=hunch.level != "between")
    notes += _warnings(hunch, covariates, posture, outcome)
    if error_column(posture) not in source:
        notes.append(Note("no_posture_error"))
    per = f"{STEP:g} {posture.unit} of {posture.label}".replace("  ", " ")
    subject = Subject(
        hunch.name, "hunch", hunch.outcome, hunch.posture, hunch.event or "", outcome.unit, per,
        hunch.smallest_effect, names,
    )  # fmt: skip
    return Asked(
        hunch=hunch,
        subject=subject,
        rows=rows,
        adjust=names,
        swing_variance=_swing_variance(source, posture, errors),
        placement_variance=_placement_variance(posture.unit, errors),
        sessions=rows[CELL].nunique() > rows[GOLFER].nunique(),
        warnings=tuple(notes),
        outcome_label=outcome.label,
    )


def _outcome(name: str, table: pd.DataFrame, declared: DeclaredColumns) -> Described:
    """Return the outcome: a declared column, one of swinglab's, or one of the study's own (without unit)."""
    if name in declared or columns.is_column(name) or name not in table:
        return describe(name, None, table=table, declared=declared)
    return Described(name, name, "", None)


def _complete(table: pd.DataFrame, wanted: list[str], outcome: str) -> tuple[pd.DataFrame, list[Note]]:
    """Return the swings without missing values, and notes on swings that were left out or appear twice."""
    present = table[wanted].notna().all(axis=1)
    kept, notes = present, []
    if outcome in CONTACTS:
        kept = present & table[outcome].astype(str).isin(WORDS)
        unsure = int((present & ~kept).sum())
        notes += [Note("uncertain_contacts", swings=unsure)] if unsure else []
    if not kept.any():
        raise BadTable(
            f"no swing has values in all of these columns: {', '.join(wanted)}",
            do="see in the table or in left_out.csv why values are missing",
        )
    missing = int((~present).sum())
    notes += [Note("swings_dropped", swings=missing)] if missing else []
    source = table.loc[kept]
    measured = [name for name in wanted if name != GOLFER and is_number(source[name])]
    # The columns are selected first: with a subset, pandas goes through every column of the swing table.
    twice = int(source[[GOLFER, *measured]].duplicated().sum()) if len(measured) > 1 else 0
    notes += [Note("duplicated_rows", swings=twice)] if twice else []
    return source, notes


def _rows(source: pd.DataFrame, posture: str, outcome: str) -> pd.DataFrame:
    """Return the working columns: posture in steps, strike, golfer, session, kind of swing, cell, order."""
    rows = pd.DataFrame({GOLFER: source[GOLFER].to_numpy(), X: source[posture].to_numpy(float) / STEP})
    rows[Y] = source[outcome].to_numpy()
    rows[SESSION] = (
        source[SESSION].astype(object).fillna("").astype(str).to_numpy() if SESSION in source else ""
    )
    rows[KIND] = kinds_of(source).to_numpy()
    rows[CELL] = cells_of(source).to_numpy()
    placed = ORDER in source and is_number(source[ORDER])
    rows[ORDER] = source[ORDER].to_numpy(float) if placed else np.nan
    if PHASE in source:
        rows[PHASE] = source[PHASE].to_numpy()
    return rows


def _covariate(table: pd.DataFrame, name: str, event: str | None) -> str:
    """Return the column of a covariate: the name itself, or a posture quantity at its own or the hunch's event."""
    if name in table.columns or name not in columns.QUANTITIES:
        return name
    events = columns.QUANTITIES[name].events
    return columns.event_column_name(name, event if event in events else events[0])


def _refuse_strike_as_cause(hunch: Hunch, covariates: Sequence[str]) -> None:
    arc = (
        "attack_angle",
        "low_point_ahead",
        "low_point_ahead_of_lead_heel",
        "turf_entry_ahead",
        "low_point_height",
    )

    def of_arc(name: str) -> bool:
        return columns.is_column(name) and columns.column(name).stem.removeprefix("measured_") in arc

    both = [name for name in covariates if of_arc(name)]
    if both and of_arc(hunch.outcome):
        raise BadRequest(
            f"{', '.join(both)} and {hunch.outcome} are computed from the same path of the club, so {', '.join(both)} "
            f"cannot be used to explain {hunch.outcome}",
            do=f"remove {', '.join(both)} from `adjust` of the hunch {hunch.name}",
        )


def with_method_term(rows: pd.DataFrame, adjust: Sequence[str]) -> tuple[pd.DataFrame, list[str], list[Note]]:
    """Add the measurement method to a regression as dummy variables; return rows, names of covariates, and notes."""
    coded, names, _, _ = code_predictors(
        rows.rename(columns={WAY: METHOD_TERM}), [METHOD_TERM], intercept=False
    )
    notes = [ways_words(rows[WAY].to_numpy())] if names else []
    return rows.assign(**dict(zip(names, coded.T, strict=True))), [*adjust, *names], notes


def with_kind_term(rows: pd.DataFrame, adjust: Sequence[str]) -> tuple[pd.DataFrame, list[str]]:
    """Add the kind of swing (club and shot) to a regression as dummy variables; return rows, names of covariates."""
    coded, names, _, _ = code_predictors(rows.rename(columns={KIND: CLUB_TERM}), [CLUB_TERM], intercept=False)
    return rows.assign(**dict(zip(names, coded.T, strict=True))), [*adjust, *names]


def error_column(posture: Described) -> str:
    """Return the column with the standard error of a posture; "" for a column that swinglab does not define."""
    return columns.error_column_name(posture.column) if columns.is_column(posture.column) else ""


def _swing_variance(source: pd.DataFrame, posture: Described, errors: Errors) -> float:
    name = error_column(posture)
    own = float((source[name].astype(float) ** 2).mean()) if name in source else float("nan")
    soft = (errors.soft_tissue_deg or 0.0) ** 2 if posture.unit == "deg" else 0.0
    return ((0.0 if np.isnan(own) else own) + soft) / STEP**2


def _placement_variance(unit: str, errors: Errors) -> float | None:
    """Return the placement error variance in steps squared; 0 for positions, None where it is not known."""
    if unit != "deg":
        return 0.0
    return None if errors.placement_deg is None else (errors.placement_deg / STEP) ** 2


def _warnings(hunch: Hunch, covariates: Sequence[str], posture: Described, outcome: Described) -> list[Note]:
    notes = []
    ball = columns.event_column_name("ball_ahead_of_lead_heel_cm", "address")
    if hunch.outcome.removeprefix("measured_").startswith("low_point_ahead_cm") and ball not in covariates:
        notes.append(Note("ball_not_adjusted", column=ball))
    shared = shared_markers(posture, outcome)
    return [*notes, Note("shared_markers", what=shared)] if shared else notes


def shared_markers(posture: Described, outcome: Described) -> str:
    """Return as text the markers from which posture and outcome are both measured; "" if they share none."""
    return _shared(posture.known, outcome.known) if posture.known and outcome.known else ""


def _shared(c: columns.Column, outcome: columns.Column) -> str:
    if outcome.kind == "measured":
        return ""
    shared = []
    if c.group == "club" and (outcome.kind == "strike" or outcome.name == "contact"):
        shared.append("the club's markers")
    if needs_ball(c) and needs_ball(outcome):
        shared.append("the ball's place")
    if "lead_heel" in c.stem and "lead_heel" in outcome.stem:
        shared.append("the lead heel")
    if outcome.kind == "swing" and outcome.stem.startswith(c.part + "_"):
        shared.append(f"the markers of the {c.part.replace('_', ' ')}")
    return " and ".join(shared)
