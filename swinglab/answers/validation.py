"""Measurement errors estimated from validation captures: marker placement, examiners, another device, marked turf."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import combinations
from typing import Any, TypeVar

import pandas as pd

from swinglab import columns
from swinglab.errors import BadTable
from swinglab.records import Validation
from swinglab.statistics import Agreement, NestedSpread, agreement_by_golfer, nested_spread, reliability

VALIDATION_COLUMNS = [
    "what", "quantity", "unit", "estimate", "ci_low", "ci_high", "golfers", "n", "method"
]  # fmt: skip
#: The strip of marked turf shows where the sole entered it.
TURF = "turf_entry_ahead_cm"
_BY_GOLFER = "agreement by golfer"
T = TypeVar("T")


@dataclass(frozen=True, slots=True, eq=False)
class ValidationAnswer:
    """Measurement errors of a study, estimated from its own validation captures.

    table : one row for each estimate with its 95 % interval (columns: `VALIDATION_COLUMNS`); n is the number of
    sessions for placement, of pairs for examiners, of swings for a device. placement : marker placement error, pooled
    over the angles in `named`. named : angles listed in the section [validate] of study.toml. not_given : errors that
    could not be estimated, with the reason.
    """

    table: pd.DataFrame
    placement: NestedSpread | None
    named: tuple[str, ...]
    not_given: tuple[str, ...]

    def shown(self, what: str) -> pd.DataFrame:
        """Return the rows of `table` with one kind of error, such as "placement_sd".

        Errors of angles (placement and examiners) are returned for the angles in `named` only.
        """
        rows = self.table[self.table["what"] == what]
        angle = what.startswith(("placement_sd", "examiner"))
        return rows[rows["quantity"].isin(self.named)] if angle else rows


def validate_setup(table: pd.DataFrame, asked: Validation) -> ValidationAnswer:
    """Estimate marker placement error, and agreement of examiners and devices, from the swing table of a study.

    Placement error is the SD between sessions of one golfer (`statistics.nested_spread`) at one event; a real change
    of posture between sessions counts as placement error. Two examiners are compared on the angles of the sessions in
    which they placed the markers, the first session of one with the first of the other, and so on. Another device,
    and the turf entry read from marked turf, are compared with the value of swinglab swing by swing.

    Parameters
    ----------
    table : pandas.DataFrame
        The swing table: golfer, session, examiner, posture at events, strike, and the columns measured_* with the
        values of another device.
    asked : Validation
        The section [validate] of study.toml.

    Returns
    -------
    ValidationAnswer
        Differences are the first examiner minus the second (in the order of their codes), and swinglab minus device.
    """
    rows: list[dict] = []
    not_given: list[str] = []
    angles = _angles(table, asked)
    repeated = table.iloc[:0]
    if "session" in table:
        repeated = table[table["session"].isin(asked.sessions)]
    placement = _placement(repeated, asked, angles, rows, not_given) if asked.sessions else None
    _examiners(repeated if asked.sessions else table, angles, rows, not_given)
    _devices(table, rows, not_given)
    return ValidationAnswer(
        pd.DataFrame(rows, columns=VALIDATION_COLUMNS), placement, asked.angles, tuple(not_given)
    )


def _angles(table: pd.DataFrame, asked: Validation) -> dict[str, str]:
    """Return angle -> its column at the event, for each angle of the body that any swing has.

    Other conventions of an angle, and angles of the club, are included only if the study names them.
    """
    found = {}
    for name, column in columns.QUANTITIES.items():
        other_form = column.motion.endswith(("_isb", "_from_neutral")) or column.group == "club"
        if column.unit != "deg" or asked.event not in column.events:
            continue
        at = columns.event_column_name(name, asked.event)
        if (name in asked.angles or not other_form) and at in table and table[at].notna().any():
            found[name] = at
    return found


# --- placement -------------------------------------------------------------------------------------------------


def _placement(
    repeated: pd.DataFrame, asked: Validation, angles: dict[str, str], rows: list[dict], not_given: list[str]
) -> NestedSpread | None:
    """Add the placement error of every angle to `rows`; return the pooled error over the angles that are named."""
    named = [name for name in asked.angles if name in angles]
    missing = [name for name in asked.angles if name not in angles]
    if missing:
        not_given.append(f"placement error of {', '.join(missing)}: not measured at {asked.event}")
    overall = None
    if named:
        answer = _tried("placement error", not_given, nested_spread, repeated, [angles[n] for n in named])
        if answer is None:
            return None
        overall = answer
        words = f"mean variance of {len(named)} angles" if len(named) > 1 else "one angle"
        rows.append(_placement_row("placement_deg", "; ".join(named), answer, f"{words} at {asked.event}"))
    for name, at in angles.items():
        one = _tried(f"placement error of {name}", not_given, nested_spread, repeated, [at])
        if one is not None:
            rows.append(_placement_row("placement_sd", name, one, f"at {asked.event}"))
    return overall


def _placement_row(what: str, quantity: str, answer: NestedSpread, words: str) -> dict:
    swings = "less that of swings" if answer.n_swings > answer.n_sessions else "that of swings included"
    method = f"variance of sessions within golfers, {swings}; {words}"
    return _row(what, quantity, "deg", (answer.sd, answer.ci_low, answer.ci_high), answer.n_golfers,
                answer.n_sessions, method)  # fmt: skip


# --- agreement -------------------------------------------------------------------------------------------------


def _examiners(table: pd.DataFrame, angles: dict[str, str], rows: list[dict], not_given: list[str]) -> None:
    """Add the agreement of every pair of examiners for each angle, and the reliability over all examiners."""
    if "examiner" not in table:
        return
    seen = table[table["examiner"].notna() & (table["examiner"] != "")]
    people = sorted(seen["examiner"].unique())
    if len(people) < 2:
        not_given.append("agreement of examiners: swings.csv names fewer than two in the column examiner")
        return
    for name, at in angles.items():
        means = _session_means(seen, at)
        for a, b in combinations(people, 2):
            pairs = means.pivot(index=["golfer", "turn"], columns="examiner", values=at)
            pairs = pairs.reindex(columns=[a, b]).dropna().reset_index()
            words = f"examiner {a} minus {b}"
            answer = _tried(f"{words}, {name}", not_given, agreement_by_golfer, pairs, a, b)
            if answer is not None:
                rows += _agreement_rows("examiner", name, "deg", answer, pairs, f"{words}: {_BY_GOLFER}")
        icc = _tried(f"reliability of {name}", not_given, reliability, means, at)
        if icc is not None:
            rows.append(_row("examiner_icc", name, "", (icc.icc, icc.ci_low, icc.ci_high), icc.n_golfers,
                             icc.n_swings, "ICC(1) of one session by one examiner"))  # fmt: skip


def _session_means(seen: pd.DataFrame, at: str) -> pd.DataFrame:
    """Return the mean of each golfer, examiner and session, with the number of the session by that examiner."""
    by = ["golfer", "examiner", *(["session"] if "session" in seen else [])]
    means = seen.dropna(subset=[at]).groupby(by, sort=False)[at].mean().reset_index()
    return means.assign(turn=means.groupby(["golfer", "examiner"]).cumcount())


def _devices(table: pd.DataFrame, rows: list[dict], not_given: list[str]) -> None:
    """Add the agreement of every strike quantity that another device or marked turf measured too."""
    for name, column in {**columns.STRIKES, **columns.DELIVERIES}.items():
        measured = f"measured_{name}"
        if name not in table or measured not in table or table[measured].isna().all():
            continue
        kind, words = ("turf", "marked turf") if name == TURF else ("device", "device")
        answer = _tried(f"{name} against the {words}", not_given, agreement_by_golfer, table, name, measured)
        if answer is not None:
            pairs = table.dropna(subset=[name, measured])
            rows += _agreement_rows(
                kind, name, column.unit, answer, pairs, f"kit minus {words}: {_BY_GOLFER}"
            )


def _agreement_rows(
    kind: str, quantity: str, unit: str, answer: Agreement, pairs: pd.DataFrame, method: str
) -> list[dict]:
    golfers = pairs["golfer"].nunique()
    parts = (
        ("bias", (answer.bias, answer.bias_low, answer.bias_high)),
        ("lower_limit", (answer.lower, answer.lower_low, answer.lower_high)),
        ("upper_limit", (answer.upper, answer.upper_low, answer.upper_high)),
    )
    return [
        _row(f"{kind}_{part}", quantity, unit, values, golfers, answer.n, method) for part, values in parts
    ]


def _row(
    what: str, quantity: str, unit: str, values: tuple[float, float, float], golfers: int, n: int, method: str
) -> dict:
    return dict(zip(VALIDATION_COLUMNS, (what, quantity, unit, *values, golfers, n, method), strict=True))


def _tried(words: str, not_given: list[str], estimate: Callable[..., T], *given: Any) -> T | None:
    """Return the result of `estimate`; if it raises BadTable, return None and add the reason to `not_given`.

    `words` : what is estimated. `given` : arguments of `estimate`.
    """
    try:
        return estimate(*given)
    except BadTable as fault:
        not_given.append(f"{words}: {fault.what}")
        return None
