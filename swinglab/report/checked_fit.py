"""Model diagnostics of an answer, as a figure and a sentence for the appendix of the report."""

from __future__ import annotations

from pathlib import Path
from typing import NamedTuple

from swinglab import figures
from swinglab.errors import SwinglabError
from swinglab.records import Comparison, Diagnostics, Hunch, Lesson
from swinglab.report import pictures
from swinglab.report.wording import first_capital, p_value, unit_words, value_text, with_limits
from swinglab.study import Results, Study, diagnose_question

_CAPTION = (
    "Residuals are the outcome minus the fitted value of each swing (or golfer's mean). Leverage: the share of the "
    "information on the estimate that comes from one golfer. Influence: the estimate if that golfer is left out. "
    "Estimates are as fitted, not corrected for measurement error. Curve: a natural cubic spline, with pointwise "
    "95 % limits."
)


class CheckedFit(NamedTuple):
    """Model diagnostics of a question for the report: figures, sentences, and reasons for missing figures."""

    pictures: list[pictures.Picture]
    sentences: list[str]
    undrawn: list[str]


def checked_fit(
    study: Study, results: Results, question: Hunch | Comparison | Lesson, place: int, folder: Path
) -> CheckedFit:
    """Return the model diagnostics of one question, after writing its figures to a folder.

    place : number of the question, used in the names of the figures.
    """
    try:
        found = diagnose_question(study, results, question)
    except SwinglabError as fault:
        return CheckedFit([], [], [f"No model could be fitted, so there are no diagnostics: {fault.what}."])
    drawn = [
        (f"question_{place}_fit{f'_{i}' if i > 1 else ''}", fit_drawn(one))
        for i, one in enumerate(found, start=1)
    ]
    kept, failed = pictures.keep_all(drawn, folder)
    return CheckedFit(kept, [fit_sentence(one) for one in found], failed)


def fit_drawn(found: Diagnostics) -> pictures.Drawn:
    """Return the figure of the diagnostics of one fitted model, with a description for screen readers and a caption."""
    residual = found.points["residual"]
    unit = unit_words(found.outcome_unit)
    alt = (
        f"Diagnostics of the fit {found.about}: {len(residual)} residuals, SD {value_text(residual.std(ddof=1))} "
        f"{unit}, from {value_text(residual.min())} to {value_text(residual.max())}; {found.reading}."
    )
    return pictures.Drawn(figures.draw_diagnostics(found), alt, f"{first_capital(found.about)}. {_CAPTION}")


def fit_sentence(found: Diagnostics) -> str:
    """Return the result of the test of curvature, and the golfer with the largest influence, in words."""
    parts = [f"{first_capital(found.about)} ({found.fitted_by}): {found.reading}."]
    if found.bend_method:
        per = unit_words(found.predictor_unit) or "swings"
        parts.append(
            f"Slope at the high end of the range minus slope at the low end: "
            f"{with_limits(found.bend, found.bend_low, found.bend_high)} {unit_words(found.outcome_unit)} per "
            f"{found.step:g} {per}, {p_value(found.bend_p)} "
            f"({found.bend_method}; not adjusted for the number of questions)."
        )
    if len(found.golfers):
        first = found.golfers["leverage"].index[0]
        share = found.golfers["leverage"].iloc[0]
        parts.append(f"Golfer {first} provides {share:.0%} of the information on the estimate.")
    return " ".join(parts)
