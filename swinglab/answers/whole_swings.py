"""When in the swing: a posture over time, beside the strike within golfers or between two groups."""

from __future__ import annotations

import numpy as np
import pandas as pd

from swinglab.errors import BadRequest, BadTable
from swinglab.records import Comparison, Hunch
from swinglab.statistics.curves import CurveTest, compare_curves, relate_curves
from swinglab.statistics.screen_within import FEWEST_SWINGS

#: The body's filter carries the jolt of impact about so far to both sides: left out.
NEAR_IMPACT_S = 0.01


def answer_over_time(
    rows: pd.DataFrame, curves: np.ndarray, question: Hunch | Comparison, time_s: np.ndarray
) -> tuple[CurveTest, str]:
    """A question's posture at every moment of the swing, all of them looked at together.

    Parameters
    ----------
    rows : pandas.DataFrame
        Swings that have the outcome or the group: golfer, session, and that column.
    curves : numpy.ndarray, (swings, n)
        The posture of each over time; NaN where it was not measured.
    question : Hunch or Comparison
        A hunch: golfers' own slopes of the outcome at every moment, about the means of golfers' sessions. A
        comparison: golfers' mean curves of two groups.
    time_s : numpy.ndarray, (n,)
        From impact.

    Returns
    -------
    found : CurveTest
        Masked where a swing has no value, and next to impact.
    words : str
        "one group minus the other"; empty for a hunch.

    Raises
    ------
    BadRequest, BadTable
        An outcome that is no number, not two groups, too few golfers, no moment that all swings have.
    """
    is_hunch = isinstance(question, Hunch)
    some = np.isfinite(curves).mean(axis=1) > 0.5
    counts = rows["golfer"].map(rows.loc[some, "golfer"].value_counts())
    kept = some & (counts >= (FEWEST_SWINGS if is_hunch else 1)).to_numpy()
    rows, curves = rows[kept].reset_index(drop=True), curves[kept]
    mask = ~np.isfinite(curves).all(axis=0) | (np.abs(time_s) < NEAR_IMPACT_S)
    if rows.empty or mask.all():
        raise BadTable("no moment of the swing was measured in all of these swings")
    if isinstance(question, Hunch):
        return _related(rows, curves, question.outcome, time_s, mask), ""
    groups = sorted(rows[question.between].unique(), key=str)
    if len(groups) != 2:
        raise BadRequest(f"{len(groups)} groups: whole swings are compared between two")
    label = [rows[question.between].to_numpy(), rows["golfer"].to_numpy()]
    means = pd.DataFrame(curves).groupby(label).mean()
    one, two = (means.loc[name].to_numpy() for name in groups)
    return compare_curves(time_s, one, other=two, mask=mask), f"{groups[1]} minus {groups[0]}"


def _related(
    rows: pd.DataFrame, curves: np.ndarray, outcome: str, time_s: np.ndarray, mask: np.ndarray
) -> CurveTest:
    """Golfers' own slopes at every time, posture and strike about the means of golfers' sessions."""
    if not pd.api.types.is_numeric_dtype(rows[outcome]):
        raise BadRequest(f"{outcome} is not a number: whole swings cannot be related to it")
    cell = (
        [rows["golfer"].to_numpy(), rows["session"].to_numpy()]
        if "session" in rows
        else rows["golfer"].to_numpy()
    )
    strike = rows[outcome] - rows.groupby(cell)[outcome].transform("mean")
    frame = pd.DataFrame(curves)
    own = (frame - frame.groupby(cell).transform("mean")).to_numpy()
    return relate_curves(time_s, own, strike.to_numpy(float), rows["golfer"].to_numpy(), mask=mask)
