"""Curves of posture over the whole swing, related to the strike within golfers or compared between two groups."""

from __future__ import annotations

import numpy as np
import pandas as pd

from swinglab.answers.cells import cells_of
from swinglab.answers.found import judged_rows
from swinglab.errors import BadRequest, BadTable
from swinglab.records import Comparison, Hunch
from swinglab.statistics.curves import CurveTest, compare_curves, relate_curves
from swinglab.statistics.screen_within import FEWEST_SWINGS

#: Times (s) this close to impact are left out: the low-pass filter spreads the impact transient to both sides.
NEAR_IMPACT_S = 0.01


def rows_over_time(table: pd.DataFrame, question: Hunch | Comparison) -> pd.DataFrame:
    """Return the swings whose curves are tested: those on which the question is judged.

    Swings without a value of the outcome (hunch) or without a group (comparison) are left out.

    Raises
    ------
    BadRequest
        A hunch about one golfer, whose curves cannot be tested.
    BadTable
        No swing is left by the selection `where`.
    """
    _need_golfers(question)
    rows = judged_rows(table, question)
    needed = question.outcome if isinstance(question, Hunch) else question.between
    return rows[rows[needed].notna()]


def _need_golfers(question: Hunch | Comparison) -> None:
    """Raise BadRequest if a hunch is about one golfer: the test over time compares the slopes of several golfers."""
    if isinstance(question, Hunch) and question.level == "golfer":
        raise BadRequest(
            f"curves of posture are tested in several golfers, but the hunch {question.name} is about golfer "
            f"{question.golfer} alone",
            do="choose a hunch within golfers",
        )


def answer_over_time(
    rows: pd.DataFrame, curves: np.ndarray, question: Hunch | Comparison, time_s: np.ndarray
) -> tuple[CurveTest, str]:
    """Test the posture of a question at every time of the swing; p is adjusted for testing many times.

    Swings in which half of the curve or more is missing are left out. For a hunch, swings that are alone in their
    cell, and then golfers with fewer than five remaining swings, are left out as well.

    Parameters
    ----------
    rows : pandas.DataFrame
        The swings, one row each, as returned by `rows_over_time`. Columns: golfer, the outcome (hunch) or group
        (comparison) and, for a hunch, session, club and shot as far as they are known.
    curves : numpy.ndarray, (swings, n)
        The posture of each swing over time, in its unit; NaN where it was not measured.
    question : Hunch or Comparison
        For a hunch, golfers' own slopes at every time are tested, with posture and outcome centred on the means of
        their cell (golfer, session, club and shot), whether the hunch is judged within or between golfers. For a
        comparison, golfers' mean curves of two groups are compared.
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
        A hunch about one golfer, an outcome that is not numeric, more or fewer than two groups, too few golfers, or
        no time at which every swing has a value.
    """
    _need_golfers(question)
    kept = np.isfinite(curves).mean(axis=1) > 0.5
    if isinstance(question, Hunch):
        kept &= _size(cells_of(rows), kept) >= 2
        kept &= _size(rows["golfer"], kept) >= FEWEST_SWINGS
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


def _size(names: pd.Series, kept: np.ndarray) -> np.ndarray:
    """Return, for each row, the number of rows with the same name; only rows that are True in `kept` are counted."""
    return pd.Series(kept, index=names.index).groupby(names).transform("sum").to_numpy()


def _related(
    rows: pd.DataFrame, curves: np.ndarray, outcome: str, time_s: np.ndarray, mask: np.ndarray
) -> CurveTest:
    """Test golfers' own slopes at every time, with posture and strike centred on the means of their cell."""
    if not pd.api.types.is_numeric_dtype(rows[outcome]):
        raise BadRequest(
            f"the outcome {outcome} is not numeric, so curves of posture cannot be related to it",
            do="choose a numeric outcome",
        )
    cell = cells_of(rows)
    strike = rows[outcome] - rows.groupby(cell)[outcome].transform("mean")
    frame = pd.DataFrame(curves)
    own = (frame - frame.groupby(cell).transform("mean")).to_numpy()
    return relate_curves(time_s, own, strike.to_numpy(float), rows["golfer"].to_numpy(), mask=mask)
