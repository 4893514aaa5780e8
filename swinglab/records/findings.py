"""Findings: each is one result of one method for one question, and one row of findings.csv."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields

import pandas as pd

from swinglab.errors import BadRequest

_NOT_KNOWN = float("nan")


@dataclass(frozen=True, slots=True, eq=False)
class Finding:
    """One result of one method for one question; its fields are the columns of findings.csv, in that order.

    name : name of the question. kind : hunch | comparison | lesson. level : within | between | group | golfer. role :
    "default" for the primary method, on which the reading is based, "beside" for supplementary methods. outcome : the
    dependent quantity. predictor : the posture, or the groups or phases that are compared. event : event of the
    posture. estimate : slope or difference, in `unit`. per : change of the predictor to which the estimate refers ("10
    deg of ..."). df : degrees of freedom. p, p_adjusted : p value, and p value adjusted over all judged findings of
    `family`. ci_low, ci_high : limits of the 95 % interval. method, reading, warnings : texts (finding_words.py).
    method_key, reading_key, warning_keys : keys of these texts; decisions use the keys only. n_golfers, n_swings :
    numbers of golfers and swings in the fit. smallest_effect : the smallest effect that matters, as the study states
    it. correction : whether the estimate is corrected for measurement error of the posture: corrected | as_fitted, or
    "" if the error is not known or does not apply. placement_deg : placement error (deg) that was assumed because the
    study gives none. adjusted_for : covariates in the model. golfer : code of the golfer, if level is "golfer".
    ci90_low to ci80_high : limits of the 90 % and 80 % intervals. family : name of the set of questions over which p
    was adjusted. needed : number of golfers (at the level golfer, of swings) that would probably settle a question with
    the reading "not settled"; infinite if it is too large to report. not_supported_by : method_key of a supplementary
    method that does not support the reading. aim : how the posture of a lesson moved relative to its target range:
    toward | away | past (from one side to the other) | within (in the range before and after), or "". A number that
    does not apply is NaN.
    """

    name: str
    kind: str
    level: str
    role: str
    outcome: str
    predictor: str
    event: str
    estimate: float
    standard_error: float
    df: float
    p: float
    p_adjusted: float
    ci_low: float
    ci_high: float
    unit: str
    per: str
    method: str
    n_golfers: int
    n_swings: int
    smallest_effect: float = _NOT_KNOWN
    reading: str = ""
    warnings: tuple[str, ...] = ()
    method_key: str = ""
    reading_key: str = ""
    warning_keys: tuple[str, ...] = ()
    correction: str = ""
    placement_deg: float = _NOT_KNOWN
    adjusted_for: tuple[str, ...] = ()
    golfer: str = ""
    ci90_low: float = _NOT_KNOWN
    ci90_high: float = _NOT_KNOWN
    ci80_low: float = _NOT_KNOWN
    ci80_high: float = _NOT_KNOWN
    family: str = ""
    needed: float = _NOT_KNOWN
    not_supported_by: str = ""
    aim: str = ""

    def __post_init__(self) -> None:
        if self.role not in ("default", "beside"):
            raise BadRequest(f"the role of a finding must be default or beside, not {self.role}")


FINDING_COLUMNS = tuple(item.name for item in fields(Finding))
#: Column -> text that separates several entries in one cell.
SEVERAL = {"warnings": " | ", "warning_keys": ";", "adjusted_for": ";"}


def findings_table(findings: Sequence[Finding]) -> pd.DataFrame:
    """Return findings as a table with the columns of findings.csv.

    Several entries in one cell are joined, warnings by `` | ``, keys and covariates by ``;``.
    """
    rows = [[getattr(f, name) for name in FINDING_COLUMNS] for f in findings]
    table = pd.DataFrame(rows, columns=list(FINDING_COLUMNS))
    for name, mark in SEVERAL.items():
        table[name] = [mark.join(getattr(f, name)) for f in findings]
    return table


def finding_of_row(row: dict) -> Finding:
    """Return the `Finding` in a row of findings.csv, given as column -> value."""
    made = {str(name): value for name, value in row.items()}
    for name, mark in SEVERAL.items():
        made[name] = tuple(str(made[name]).split(mark)) if made.get(name) else ()
    made |= {name: int(made[name]) for name in ("n_golfers", "n_swings")}
    # A column without any number is read as empty text.
    numbers = [item.name for item in fields(Finding) if item.type == "float" and made.get(item.name) == ""]
    return Finding(**made | dict.fromkeys(numbers, _NOT_KNOWN))
