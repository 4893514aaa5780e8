"""Forest plot of an answer: the estimates of all methods, with intervals."""

from __future__ import annotations

import math
from collections.abc import Sequence

from swinglab import figures
from swinglab.figures.forest import Row
from swinglab.records import Finding
from swinglab.report import wording
from swinglab.report.pictures import Drawn

#: Largest number of rows in the figure.
_MOST = 8


def draw_answer(lines: Sequence[Finding]) -> Drawn | None:
    """Return the forest plot of one answer; None if no finding has an estimate.

    lines : the findings of one question.
    """
    default = next(f for f in lines if f.role == "default")
    rows = forest_rows(lines)
    if not any(math.isfinite(row.estimate) for row in rows):
        return None
    unit = wording.unit_words(default.unit)
    axis = ", ".join(part for part in (wording.label(default.outcome), unit) if part)
    per = f"per {default.per}" if default.kind == "hunch" else default.per
    axes = figures.draw_forest(rows, axis=f"{axis}\n{per}", smallest_effect=default.smallest_effect)
    values = "; ".join(
        f"{row.words} {wording.rounded(row.estimate, default)}"
        + (
            f" [{wording.rounded(row.low, default)}, {wording.rounded(row.high, default)}]"
            if math.isfinite(row.low)
            else ""
        )
        for row in rows
    )
    caption = "Filled: the primary method; open: supplementary methods; squares: the same quantity at another level. "
    caption += "Lines: 95 % intervals." + (
        " Dotted: the smallest effect that matters." if math.isfinite(default.smallest_effect) else ""
    )
    return Drawn(axes, f"Estimates of {axis}, {per}, by method: {values}.", caption)


def forest_rows(lines: Sequence[Finding]) -> list[Row]:
    """Return the rows of a forest plot.

    First comes the judged finding, then supplementary methods for the same quantity, then one row for the same quantity
    at each other level (within or between golfers). lines : the findings of one question.
    """
    default = next(f for f in lines if f.role == "default")
    alike = [
        f
        for f in lines
        if f is not default
        and _key(f) == _key(default)
        and f.level == default.level
        and math.isfinite(f.estimate)
    ]
    rows = [_row(default, "judged"), *(_set_apart(_row(f, "companion"), f, default) for f in alike)]
    others: dict[str, Row] = {}
    for f in lines:
        if f.level != default.level and _key(f) == _key(default) and math.isfinite(f.estimate):
            others.setdefault(f.level, _row(f, "other")._replace(words=f"{f.level} golfers"))
    return [*rows[: _MOST - len(others)], *others.values()]


def _set_apart(row: Row, f: Finding, default: Finding) -> Row:
    """Return a supplementary method's row, labelled adjusted or unadjusted where the judged line differs in this."""
    if bool(f.adjusted_for) == bool(default.adjusted_for):
        return row
    return row._replace(words=f"{row.words}, {'adjusted' if f.adjusted_for else 'not adjusted'}")


def _key(f: Finding) -> tuple[str, ...]:
    return (f.outcome, f.predictor, f.event, f.per, f.unit)


def _row(f: Finding, weight: str) -> Row:
    return Row(wording.short_method(f), f.estimate, f.ci_low, f.ci_high, weight)
