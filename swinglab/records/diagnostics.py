"""Model diagnostics of a finding, which show whether the assumptions of its model are met."""

from __future__ import annotations

from dataclasses import dataclass

import pandas as pd

_NOT_KNOWN = float("nan")


@dataclass(frozen=True, slots=True, eq=False)
class Diagnostics:
    """Model diagnostics of one finding: residuals, leverage, influence and curvature of its fit.

    name : name of the question. about : level or golfers of the finding ("within golfers", "golfer G07", "skilled
    against learners"). fitted_by : text on the method of the fit. outcome, outcome_unit, predictor, predictor_unit :
    labels and units. points : table with one row for each residual: golfer, swing (its position in the order of play;
    NaN if a row is the mean of a golfer), fitted, residual, predictor, partial (the outcome adjusted for the other
    terms; NaN if there is no slope). golfers : table with one row for each golfer (the index): leverage (share of the
    information on the estimate, 0 to 1, with sum 1), without (the estimate without that golfer), change (without minus
    estimate); empty for one golfer. estimate : slope or difference that the finding reports, as fitted, not corrected
    for measurement error. curve : table for a figure: predictor, line (linear fit), bend (fitted spline), low, high
    (pointwise 95 % limits of the spline); empty if there is no slope. bend, bend_low, bend_high, bend_df, bend_p :
    curvature from a natural cubic spline (its slope above the 90th percentile of the predictor minus its slope below
    the 10th, per `step` units of the predictor) with 95 % limits, degrees of freedom and p. bend_golfers : number of
    golfers in this test. bend_method : text on the test of curvature. reading, reading_key : text and key of its
    result.
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
