"""Specification curves: how the answer to a question depends on choices of processing and model."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import pandas as pd

from swinglab import columns
from swinglab.answers.specification import AS_MEASURED, SpecificationCurve
from swinglab.figures import draw_specifications
from swinglab.report.pictures import Drawn
from swinglab.report.wording import p_value, unit_words, value_text

FILE = "specifications.csv"


def write_specifications(curves: Sequence[SpecificationCurve], out: Path) -> Path:
    """Write the specification curves of all questions to specifications.csv in a results folder; return its path."""
    joined = [curve.table.assign(name=curve.hunch.name) for curve in curves]
    table = pd.concat(joined, ignore_index=True) if joined else pd.DataFrame()
    order = [*(name for name in table.columns if name != "correction"), "correction"]
    table.reindex(columns=order).to_csv(out / FILE, index=False)
    return out / FILE


def draw_choices(curve: SpecificationCurve) -> Drawn:
    """Return a figure of a specification curve: the answer to one question under every combination of choices."""
    name = curve.hunch.outcome
    unit = unit_words(columns.column(name).unit) if columns.is_column(name) else ""
    axes = draw_specifications(
        curve.table, median=curve.median, unit=unit, smallest_effect=curve.hunch.smallest_effect
    )
    caption = (
        "Above: the estimate under each combination of choices, with its 95 % interval. Below: the choices."
    )
    return Drawn(axes, specification_sentences(curve)[0], caption)


def specification_sentences(curve: SpecificationCurve) -> list[str]:
    """Return a specification curve in words: range and median of the answers, p, and the share with the same sign."""
    plain = curve.table[curve.table["correction"] == AS_MEASURED]
    low, high = (value_text(end) for end in (plain["estimate"].min(), plain["estimate"].max()))
    said = [
        f"{len(plain)} ways of answering this question with the same swings: estimates from {low} to {high}, median "
        f"{value_text(curve.median)} ({p_value(curve.p_median)} for the median, by a test that flips the signs of the "
        f"same golfers' slopes in all ways). {curve.share:.0%} of the estimates have the sign of the median."
    ]
    if curve.median_corrected == curve.median_corrected:
        said.append(
            "These slopes are not corrected for the measurement error of the posture. The median of the corrected "
            f"slopes, with all golfers, is {value_text(curve.median_corrected)}; corrected slopes are drawn but "
            "not counted above."
        )
    if curve.refused:
        said.append(
            f"Ways not used, because they are impossible or answer another question: {'; '.join(curve.refused)}."
        )
    return said
