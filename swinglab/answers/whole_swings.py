"""Curves of posture over the whole swing, related to the strike within golfers or compared between two groups."""

from __future__ import annotations

import numpy as np
import pandas as pd

from swinglab.errors import BadRequest, BadTable
from swinglab.records import Comparison, Hunch
from swinglab.statistics.curves import CurveTest, compare_curves, relate_curves
from swinglab.statistics.screen_within import FEWEST_SWINGS

#: Times (s) this close to impact are left out: the low-pass filter spreads the impact transient to both sides.
NEAR_IMPACT_S = 0.01


def answer_over_time(
    rows: pd.DataFrame, curves: np.ndarray, question: Hunch | Comparison, time_s: np.ndarray
) -> tuple[CurveTest, str]:
    """Test the posture of a question at every time of the swing; p is adjusted for testing many times.

    Swings in which half of the curve or more is missing are left out. For a hunch, golfers with fewer than
    five remaining swings are left out as well.

    Parameters
    ----------
    rows : pandas.DataFrame
        The swings, one row each, with the columns golfer, session, and the outcome (hunch) or group (comparison).
    curves : numpy.ndarray, (swings, n)
        The posture of each swing over time, in its unit; NaN where it was not measured.
    question : Hunch or Comparison
        For a hunch, golfers' own slopes at every time are tested, with posture and outcome centred on session
        means. For a comparison, golfers' mean curves of two groups are compared.
    time_s : numpy.ndarray, (n,)
        Time from impact in s; negative before impact.

    Returns
    -------
    found : CurveTest
        Result; NaN at times at which any swing has no value, and close to impact.
    words : str
        For a comparison, the direction of the difference, such as "B minus A"; "" for a hunch.

    Raises
    ------
    BadRequest, BadTable
        An outcome that is not numeric, more or fewer than two groups, too few golfers, or no time at which every
        swing has a value.
    """
    is_hunch = isinstance(question, Hunch)
    some = np.isfinite(curves).mean(axis=1) > 0.5
    counts = rows["golfer"].map(rows.loc[some, "golfer"].value_counts())
    kept = some & (counts >= (FEWEST_SWINGS if is_hunch else 1)).to_numpy()
    rows, curves = rows[kept].reset_index(drop=True), curves[kept]
    mask = ~np.isfinite(curves).all(axis=0) | (np.abs(time_s) < NEAR_IMPACT_S)
    if rows.empty or mask.all():
        raise BadTable(
            "there is no time of the swing at which the posture was measured in every swing of this question",
            do="select swings without long gaps with `where`",
        )
    if isinstance(question, Hunch):
        return _related(rows, curves, question.outcome, time_s, mask), ""
    groups = sorted(rows[question.between].unique(), key=str)
    if len(groups) != 2:
        raise BadRequest(
            f"the column {question.between} has {len(groups)} groups, but curves are compared between exactly two",
            do="select two groups with `where`",
        )
    label = [rows[question.between].to_numpy(), rows["golfer"].to_numpy()]
    means = pd.DataFrame(curves).groupby(label).mean()
    one, two = (means.loc[name].to_numpy() for name in groups)
    return compare_curves(time_s, one, other=two, mask=mask), f"{groups[1]} minus {groups[0]}"


def _related(
    rows: pd.DataFrame, curves: np.ndarray, outcome: str, time_s: np.ndarray, mask: np.ndarray
) -> CurveTest:
    """Test golfers' own slopes at every time, with posture and strike centred on session means."""
    if not pd.api.types.is_numeric_dtype(rows[outcome]):
        raise BadRequest(
            f"the outcome {outcome} is not numeric, so curves of posture cannot be related to it",
            do="choose a numeric outcome",
        )
    cell = (
        [rows["golfer"].to_numpy(), rows["session"].to_numpy()]
        if "session" in rows
        else rows["golfer"].to_numpy()
    )
    strike = rows[outcome] - rows.groupby(cell)[outcome].transform("mean")
    frame = pd.DataFrame(curves)
    own = (frame - frame.groupby(cell).transform("mean")).to_numpy()
    return relate_curves(time_s, own, strike.to_numpy(float), rows["golfer"].to_numpy(), mask=mask)
