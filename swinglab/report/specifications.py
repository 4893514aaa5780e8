"""Specification curves on disk: one table for all questions, one picture for each."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import pandas as pd

from swinglab import columns
from swinglab.answers.specification import SpecificationCurve
from swinglab.figures import draw_specifications
from swinglab.report.wording import number, p_value, unit_words

FILE = "specifications.csv"


def write_specifications(curves: Sequence[SpecificationCurve], out: Path) -> Path:
    """Write specifications.csv and figures/specifications_1.png, ... into a results folder; the table's path."""
    (out / "figures").mkdir(parents=True, exist_ok=True)
    for place, curve in enumerate(curves, start=1):
        name = curve.hunch.outcome
        unit = unit_words(columns.column(name).unit) if columns.is_column(name) else ""
        axes = draw_specifications(
            curve.table, median=curve.median, unit=unit, smallest_effect=curve.hunch.smallest_effect
        )
        figure = axes.get_figure(root=True)
        assert figure is not None
        figure.savefig(out / "figures" / f"specifications_{place}.png", dpi=140, metadata={"Software": None})
    joined = [curve.table.assign(name=curve.hunch.name) for curve in curves]
    table = pd.concat(joined, ignore_index=True) if joined else pd.DataFrame()
    table.to_csv(out / FILE, index=False)
    return out / FILE


def specification_sentence(curve: SpecificationCurve) -> str:
    """The curve in a sentence."""
    ends = curve.table["estimate"].min(), curve.table["estimate"].max()
    left = (
        f" {len(curve.refused)} more could not be made or answer another question." if curve.refused else ""
    )
    return (
        f"{curve.hunch.name}: {len(curve.table)} specifications, from {number(ends[0])} to {number(ends[1])}, median "
        f"{number(curve.median)} ({p_value(curve.p_median)} for the median of all, by the same golfers' signs); "
        f"{curve.share:.0%} have the sign of the median ({p_value(curve.p_share)}).{left}"
    )
