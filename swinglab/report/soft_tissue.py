"""Table of the report that shows how an answer would change with soft tissue error, if the study does not know it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from swinglab.answers import SupposedTissue, suppose_soft_tissue
from swinglab.answers.found import confirming_rows
from swinglab.errors import SwinglabError
from swinglab.records import Comparison, Finding, Hunch, Lesson
from swinglab.report import wording
from swinglab.study import Results, Study

INTRODUCTION = (
    "study.toml gives no soft_tissue_deg under [errors]. The table shows the slope of the primary method if soft "
    "tissue motion changed this posture by the given amount from swing to swing (standard deviation). Soft tissue "
    "motion that is the same in every swing of a golfer does not change slopes within golfers. The answer above "
    "does not include this error."
)


def soft_tissue_table(
    study: Study, results: Results, question: Hunch | Comparison | Lesson, lines: Sequence[Finding]
) -> dict[str, Any] | None:
    """Return the table that shows how the answer to a question would change with different soft tissue errors.

    The keys are words (introduction), head (header) and body (rows). None if study.toml states the soft tissue error,
    or if it does not affect the answer. lines : the findings of the question.
    """
    if not isinstance(question, Hunch):
        return None
    try:
        errors = study.errors_of(confirming_rows(results.swings, question)[0])
        supposed = suppose_soft_tissue(results.swings, question, lines, errors)
    except SwinglabError:
        return None  # the question's own line says why it has no answer
    if not supposed:
        return None
    unit = f"{wording.unit_words(lines[0].unit)} per {lines[0].per}".strip()
    head = ["soft tissue", f"slope ({unit})", "95 % interval", "reading"]
    return {"words": INTRODUCTION, "head": head, "body": [_row(one) for one in supposed]}


def _row(one: SupposedTissue) -> list[str]:
    size = f"{one.tissue_deg:g} deg"
    if one.line is None:
        swings = f"the swings differ by {wording.number(one.spread_deg)} deg (standard deviation) as measured"
        why = (
            "the error cannot be so large"
            if one.tissue_deg >= one.spread_deg
            else "too much of this would be error"
        )
        return [size, wording.NONE, wording.NONE, f"no slope: {swings}; {why}"]
    line = one.line
    return [size, wording.rounded(line.estimate, line), wording.interval(line), line.reading]
