"""The numbers behind one judged line that show whether its model fits."""

from __future__ import annotations

from dataclasses import dataclass

import pandas as pd

_NOT_KNOWN = float("nan")


@dataclass(frozen=True, slots=True, eq=False)
class Diagnostics:
    """Residuals, leverage, influence and curvature of one judged line; numbers only.

    name : of the question. about : whose line it is ("within golfers", "golfer G07", "skilled against
    learners"). fitted_by : the fit in words. outcome, outcome_unit, predictor, predictor_unit : labels and units.
    points : one row a residual: golfer, swing (its place in order, NaN where there is none), fitted, residual,
    predictor, partial (the outcome without the other terms; NaN where there is no line). golfers : index
    golfer: leverage (share of the information on the term, 0 to 1, adding to 1), without (the estimate without
    that golfer), change (without minus estimate); empty for one golfer. estimate : of the term, as fitted, not
    corrected for measurement error. curve : predictor, line, bend, low, high (95 % limits of the bend,
    pointwise); empty where there is no line. bend, bend_low, bend_high, bend_df, bend_p : the bend of a
    natural cubic spline: its slope above the 90th percentile of the predictor minus that below the 10th, per step
    units, with its 95 % limits. bend_golfers : golfers in its test.
    bend_method, reading, reading_key : words and key of the test and of what it found.
    """

    name: str
    about: str
    fitted_by: str
    outcome: str
    outcome_unit: str
    predictor: str
    predictor_unit: str
    points: pd.DataFrame
    golfers: pd.DataFrame
    estimate: float
    curve: pd.DataFrame
    step: float = 10.0
    bend: float = _NOT_KNOWN
    bend_low: float = _NOT_KNOWN
    bend_high: float = _NOT_KNOWN
    bend_df: float = _NOT_KNOWN
    bend_p: float = _NOT_KNOWN
    bend_golfers: int = 0
    bend_method: str = ""
    reading: str = ""
    reading_key: str = ""
