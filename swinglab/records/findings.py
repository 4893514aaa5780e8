"""Answers: one `Finding` a line, and the table of findings.csv."""

from __future__ import annotations

from dataclasses import dataclass, fields

import pandas as pd

from swinglab.errors import BadRequest


@dataclass(frozen=True, slots=True, eq=False)
class Finding:
    """One line of an answer; its fields are the columns of findings.csv, in that order.

    kind : hunch | comparison | lesson. level : within | between | group | golfer. role : "default" for the
    method that is judged, "beside" for its companions. per : what the estimate is per ("10 deg of ...").
    reading : the words of the design's rules, on the judged line alone.
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
    smallest_effect: float = float("nan")
    reading: str = ""
    warnings: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        if self.role not in ("default", "beside"):
            raise BadRequest(f"a finding's role is default or beside, not {self.role}")


FINDING_COLUMNS = tuple(item.name for item in fields(Finding))


def findings_table(findings: tuple[Finding, ...] | list[Finding]) -> pd.DataFrame:
    """Findings as the table of findings.csv, warnings joined by `` | ``."""
    rows = [[getattr(f, name) for name in FINDING_COLUMNS] for f in findings]
    table = pd.DataFrame(rows, columns=list(FINDING_COLUMNS))
    table["warnings"] = [" | ".join(f.warnings) for f in findings]
    return table
