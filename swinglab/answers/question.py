"""A hunch prepared for its answer: rows, columns, errors of the posture, and warnings."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from swinglab import columns
from swinglab.answers.lines import Subject
from swinglab.answers.measurement_methods import measured_ways, needs_ball, ways_words
from swinglab.errors import BadRequest, BadTable
from swinglab.finding_words import Note
from swinglab.records import Errors, Finding, Hunch
from swinglab.statistics.design import check_columns, code_predictors, is_number
from swinglab.statistics.estimate import Estimate

#: Slopes are given per this many units of the posture.
STEP = 10.0
CONTACTS = ("contact", "measured_contact")
#: Working columns of `Asked.rows`.
X, Y, GOLFER, CELL, WAY = "posture", "strike", "golfer", "golfer and session", "measured by"
ORDER, SESSION = "order", "session"


@dataclass(frozen=True, slots=True, eq=False)
class Asked:
    """A hunch with its rows.

    rows : complete rows; `posture` in steps of 10 units, `strike`, golfer, session, order, how it was measured,
    covariates. adjust : covariates as numbers (text coded). swing_variance,
    placement_variance : of the posture's error at a single swing and at a session, in steps squared.
    """

    hunch: Hunch
    subject: Subject
    rows: pd.DataFrame
    adjust: tuple[str, ...]
    swing_variance: float
    placement_variance: float | None
    sessions: bool
    warnings: tuple[Note, ...]

    def line(
        self, level: str, method: Note, estimate: Estimate, *, warnings: Sequence[Note] = (), **more: Any
    ) -> Finding:
        """A line beside the judged one, with what holds for every line of this hunch."""
        return self.subject.line(level, method, estimate, warnings=(*self.warnings, *warnings), **more)


def frame_question(table: pd.DataFrame, hunch: Hunch, errors: Errors) -> Asked:
    """Take the rows a hunch needs from a swing table.

    Raises
    ------
    BadRequest
        An unknown quantity, or a strike quantity as the cause of another.
    BadTable
        Columns that are missing, or no complete row.
    """
    posture = columns.event_column_name(hunch.posture, hunch.event)
    covariates = [_covariate(table, name, hunch.event) for name in hunch.adjust]
    _refuse_strike_as_cause(hunch, covariates)
    check_columns(table, [GOLFER, hunch.outcome, posture, *covariates])
    faults = [f"{n} is not numeric" for n in (hunch.outcome, posture) if not is_number(table[n])]
    if hunch.outcome in CONTACTS:
        faults = faults[1:]
    if faults:
        raise BadTable("; ".join(faults))
    wanted = [GOLFER, hunch.outcome, posture, *covariates]
    kept = table[wanted].notna().all(axis=1)
    if hunch.outcome in CONTACTS:
        kept &= table[hunch.outcome].astype(str).isin(("fat", "clean", "thin"))
    if not kept.any():
        raise BadTable(f"no swing has a value in every one of {', '.join(wanted)}")
    source = table.loc[kept]
    rows = pd.DataFrame({GOLFER: source[GOLFER].to_numpy(), X: source[posture].to_numpy(float) / STEP})
    rows[Y] = source[hunch.outcome].to_numpy()
    rows[SESSION] = (
        source[SESSION].astype(object).fillna("").astype(str).to_numpy() if SESSION in source else ""
    )
    rows[CELL] = rows[GOLFER].astype(str) + " | " + rows[SESSION]
    ordered = ORDER in source and is_number(source[ORDER]) and bool(source[ORDER].notna().all())
    rows[ORDER] = source[ORDER].to_numpy(float) if ordered else np.arange(1.0, len(rows) + 1.0)
    methods = measured_ways(source, names=[hunch.posture, hunch.outcome], event=hunch.event)
    extra = source[covariates].reset_index(drop=True)
    rows[WAY] = "" if methods is None else methods
    coded, names, _, _ = code_predictors(extra, list(extra.columns), intercept=False)
    rows[list(names)] = coded
    c = columns.quantity_column(hunch.posture)
    outcome_unit = columns.column(hunch.outcome).unit if columns.is_column(hunch.outcome) else ""
    return Asked(
        hunch=hunch,
        subject=Subject(
            hunch.name,
            "hunch",
            hunch.outcome,
            hunch.posture,
            hunch.event,
            outcome_unit,
            f"10 {c.unit} of {c.label[0].lower()}{c.label[1:]}",
            hunch.smallest_effect,
            names,
        ),
        rows=rows,
        adjust=names,
        swing_variance=_swing_variance(source, posture, c.unit, errors),
        placement_variance=_placement_variance(c.unit, errors),
        sessions=rows[CELL].nunique() > rows[GOLFER].nunique(),
        warnings=_warnings(hunch, covariates, int((~kept).sum()))
        + (() if columns.error_column_name(posture) in source else (Note("no_posture_error"),)),
    )


def _covariate(table: pd.DataFrame, name: str, event: str) -> str:
    """The column a covariate's name stands for: itself, or a posture quantity at its own or the hunch's event."""
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
            f"{', '.join(both)} and {hunch.outcome} come from the same path of the club, so one cannot explain the "
            "other",
            do=f"take {', '.join(both)} out of adjust",
        )


def with_method_term(rows: pd.DataFrame, adjust: Sequence[str]) -> tuple[pd.DataFrame, list[str], list[Note]]:
    """The rows with a coded term for how they were measured, the covariates with it, and the note on it."""
    coded, names, _, _ = code_predictors(rows.rename(columns={WAY: "method"}), ["method"], intercept=False)
    said = [ways_words(rows[WAY].to_numpy())] if names else []
    return rows.assign(**dict(zip(names, coded.T, strict=True))), [*adjust, *names], said


def _swing_variance(source: pd.DataFrame, posture: str, unit: str, errors: Errors) -> float:
    name = columns.error_column_name(posture)
    own = float((source[name].astype(float) ** 2).mean()) if name in source else float("nan")
    soft = (errors.soft_tissue_deg or 0.0) ** 2 if unit == "deg" else 0.0
    return ((0.0 if np.isnan(own) else own) + soft) / STEP**2


def _placement_variance(unit: str, errors: Errors) -> float | None:
    """In steps squared; 0 for positions, which an angle's error does not describe; None where not known."""
    if unit != "deg":
        return 0.0
    return None if errors.placement_deg is None else (errors.placement_deg / STEP) ** 2


def _warnings(hunch: Hunch, covariates: Sequence[str], dropped: int) -> tuple[Note, ...]:
    said = []
    if dropped:
        said.append(Note("swings_dropped", swings=dropped))
    ball = columns.event_column_name("ball_ahead_of_lead_heel_cm", "address")
    if hunch.outcome.removeprefix("measured_").startswith("low_point_ahead_cm") and ball not in covariates:
        said.append(Note("ball_not_adjusted", column=ball))
    shared = shared_markers(hunch)
    if shared:
        said.append(Note("shared_markers", what=shared))
    return tuple(said)


def shared_markers(hunch: Hunch) -> str:
    """What posture and outcome are both measured from, in words; empty where nothing is known to be shared."""
    if not columns.is_column(hunch.outcome) or columns.column(hunch.outcome).kind == "measured":
        return ""
    c, outcome = columns.quantity_column(hunch.posture), columns.column(hunch.outcome)
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
