"""Diagnostics of judged lines: residuals, leverage, influence, and the test of a bend."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
import statsmodels.api as sm

from swinglab.answers import diagnose, relate_posture_to_strike
from swinglab.answers.bend import BEND, bend_within, own_bends
from swinglab.answers.question import CELL, GOLFER, X
from swinglab.answers.within import DEVIATION
from swinglab.errors import BadTable
from swinglab.figures import draw_diagnostics
from swinglab.records import Comparison, Diagnostics, Errors, Hunch, Lesson
from swinglab.statistics.spline import natural_spline, spline_knots
from tests.made_questions import BEND as FLEXION
from tests.made_questions import group_table, lesson_table
from tests.made_swing_table import COLUMN, EVENT, POSTURE, swing_table

HUNCH = Hunch("tilt", "attack_angle_deg", POSTURE, EVENT)
BETWEEN = Hunch("tilt", "attack_angle_deg", POSTURE, EVENT, level="between")
LESSON = Lesson("a lesson", "G07", "phase", "thorax_flexion_deg", "impact", "low_point_ahead_cm")
GROUPS = Comparison("groups", "thorax_flexion_deg", "impact", "group")
CLUBS = Comparison("clubs", "thorax_flexion_deg", "impact", "club")


def one(table: pd.DataFrame, question: Hunch | Comparison | Lesson) -> Diagnostics:
    (found,) = diagnose(table, question, errors=Errors())
    return found


def bent(table: pd.DataFrame, size: float) -> pd.DataFrame:
    """The table with a strike whose slope on a swing's posture rises by `size` deg per 10 deg from low to high."""
    posture = table[COLUMN].to_numpy() / 10
    own = natural_spline(posture, spline_knots(posture))
    return table.assign(attack_angle_deg=table["attack_angle_deg"] + size * own)


def test_between_residuals_leverage_and_bend_are_those_of_ols() -> None:
    """Truth: other (statsmodels OLS on golfers' means, its hat values and the spline as a term)."""
    table = bent(swing_table(golfers=14), 3.0)
    found = one(table, BETWEEN)
    means = table.groupby("golfer")[[COLUMN, "attack_angle_deg"]].mean()
    x, y = means[COLUMN].to_numpy() / 10, means["attack_angle_deg"].to_numpy()
    line = sm.OLS(y, sm.add_constant(x)).fit()
    assert found.points["residual"].to_numpy() == pytest.approx(line.resid)
    assert found.points["fitted"].to_numpy() == pytest.approx(line.fittedvalues)
    # Shares of the information on the slope: hat values minus the mean's own 1/n.
    shares = line.get_influence().hat_matrix_diag - 1 / len(x)
    assert found.golfers["leverage"].sort_index().to_numpy() == pytest.approx(shares)
    knots = np.percentile(x, [10, 50, 90])
    spline = sm.OLS(y, np.column_stack([np.ones(len(x)), x, natural_spline(x, knots)])).fit()
    assert (found.bend, found.bend_p) == pytest.approx((spline.params[2], spline.pvalues[2]))
    low, high = spline.conf_int()[2]
    assert (found.bend_low, found.bend_high) == pytest.approx((low, high))
    grid = found.curve["predictor"].to_numpy() / 10
    drawn = spline.get_prediction(np.column_stack([np.ones(61), grid, natural_spline(grid, knots)]))
    assert found.curve["bend"].to_numpy() == pytest.approx(drawn.predicted_mean - spline.fittedvalues.mean())
    without = sm.OLS(y[1:], sm.add_constant(x[1:])).fit().params[1]
    assert found.golfers.loc[str(means.index[0]), "without"] == pytest.approx(without)


def test_group_residuals_are_those_of_ols() -> None:
    """Truth: other (statsmodels OLS on a group's indicator)."""
    found = one(group_table(), GROUPS)
    means = group_table().groupby("golfer").agg({FLEXION: "mean", "group": "first"})
    later = (means["group"] == "skilled").to_numpy(float)
    line = sm.OLS(means[FLEXION].to_numpy(), sm.add_constant(later)).fit()
    assert found.points["residual"].to_numpy() == pytest.approx(line.resid)
    assert found.estimate == pytest.approx(line.params[1])
    assert found.golfers["leverage"].sum() == pytest.approx(1.0)
    assert found.reading_key == "no_line" and found.curve.empty


def test_the_same_golfers_with_two_clubs_give_their_differences() -> None:
    """Truth: made. A residual is a golfer's difference minus the mean difference."""
    table = group_table()
    means = table.groupby(["golfer", "club"])[FLEXION].mean().unstack()
    apart = means["wedge"] - means["iron 7"]
    found = one(table, CLUBS)
    assert found.points["residual"].to_numpy() == pytest.approx((apart - apart.mean()).to_numpy())
    assert found.golfers.loc["G00", "without"] == pytest.approx(apart.drop("G00").mean())


def test_each_golfers_bend_is_that_of_ols_on_drift_and_posture() -> None:
    """Truth: other (statsmodels OLS for each golfer: intercept, order, posture and the spline of its deviation)."""
    table = bent(swing_table(golfers=8), 2.0)
    found = one(table, HUNCH)
    terms = []
    deviation = (table[COLUMN] - table.groupby("golfer")[COLUMN].transform("mean")).to_numpy() / 10
    knots = np.percentile(deviation, [10, 50, 90])
    for _, own in table.groupby("golfer"):
        x = own[COLUMN].to_numpy() / 10
        x = x - x.mean()
        columns = np.column_stack([np.ones(len(x)), own["order"], x, natural_spline(x, knots)])
        terms.append(sm.OLS(own["attack_angle_deg"].to_numpy(), columns).fit().params[3])
    assert found.bend == pytest.approx(np.mean(terms))
    assert found.bend_df == 7 and found.bend_golfers == 8
    without = found.golfers["without"].to_numpy()
    assert np.isfinite(without).all() and found.golfers["leverage"].sum() == pytest.approx(1.0)


@pytest.mark.parametrize(("question", "reading"), [(HUNCH, "bend_found"), (BETWEEN, "bend_found")])
def test_a_planted_bend_is_found(question: Hunch, reading: str) -> None:
    """Truth: made. A slope that rises by 20 deg per 10 deg from low to high postures."""
    found = one(bent(swing_table(golfers=14), 20.0), question)
    assert found.reading_key == reading and found.bend_low > 0


def test_a_planted_bend_of_one_golfer_and_of_a_drift_is_found() -> None:
    """Truth: made. A bend of 10 in one golfer's series; a drift of a lesson that turns at its middle."""
    table = bent(swing_table(golfers=1, swings=60), 10.0)
    found = one(table, HUNCH)
    assert found.reading_key == "bend_found" and found.bend_low < 10 < found.bend_high
    lesson = lesson_table()
    own = lesson["golfer"] == "G07"
    lesson.loc[own, "low_point_ahead_cm"] += 1.5 * ((lesson.loc[own, "order"] - 25) / 10) ** 2
    drift = one(lesson, LESSON)
    assert drift.reading_key == "drift_bent" and drift.bend_low > 0
    assert one(lesson_table(), LESSON).reading_key == "drift_straight"


def test_the_size_of_the_test_within_is_its_level() -> None:
    """Truth: made. 300 sets of straight lines, 8 golfers with 12 swings and unequal spreads: about 15 of p < .05."""
    rng = np.random.default_rng(6)
    found = 0
    for _ in range(300):
        golfer = np.repeat(np.arange(8), 12)
        x = rng.normal(0, 1, 96) * rng.uniform(0.7, 1.4, 8)[golfer]
        y = rng.normal(1, 0.5, 8)[golfer] * x + rng.normal(0, 1, 96)
        term = natural_spline(x, spline_knots(x))
        rows = pd.DataFrame({GOLFER: golfer, CELL: golfer, X: x, DEVIATION: y, BEND: term})
        names = [X, DEVIATION, BEND]
        rows[names] -= rows.groupby(GOLFER)[names].transform("mean")
        found += bend_within(own_bends(rows, [])).p < 0.05
    assert 6 <= found <= 25


def test_golfers_with_few_swings_share_a_bend() -> None:
    """Truth: made. Six swings a golfer: no bend of one's own, a common one with errors by golfer finds the bend."""
    table = swing_table(golfers=10, swings=6)
    plain, found = one(table, HUNCH), one(bent(table, 20.0), HUNCH)
    assert "CR2" in found.bend_method and found.bend_golfers == 10
    assert plain.reading_key == "line_enough" and found.reading_key == "bend_found"
    assert found.bend > plain.bend


def test_few_golfers_are_each_looked_at_alone() -> None:
    """Truth: made. Three golfers: three series, no claim about golfers in general."""
    found = diagnose(swing_table(golfers=3), HUNCH, errors=Errors())
    assert [len(d.points) for d in found] == [20] * 3 and all(d.about.startswith("golfer ") for d in found)
    with pytest.raises(BadTable, match=r"G000: .*2 swings without missing values"):
        diagnose(swing_table(golfers=3, swings=2), HUNCH, errors=Errors())


def test_the_estimate_is_that_of_the_answer_as_fitted() -> None:
    """Truth: made. The diagnostics are of the fit that is judged."""
    table = swing_table(golfers=10)
    for question in (HUNCH, BETWEEN):
        lines = relate_posture_to_strike(table, question, errors=Errors())
        assert lines[0].correction == ""
        assert one(table, question).estimate == pytest.approx(lines[0].estimate)


@pytest.mark.parametrize(
    ("table", "question", "panels"),
    [
        (swing_table(golfers=8), HUNCH, 6),
        (swing_table(golfers=8), BETWEEN, 5),
        (swing_table(golfers=1), HUNCH, 4),
        (group_table(), GROUPS, 4),
        (lesson_table(), LESSON, 4),
    ],
)
def test_the_figure_has_its_panels_with_titles_and_units(
    table: pd.DataFrame, question: Hunch | Comparison | Lesson, panels: int
) -> None:
    """Truth: made. Panels without sense are left out; all marks are the record's."""
    found = one(table, question)
    axes = draw_diagnostics(found)
    drawn = axes.figure.axes
    assert len(drawn) == panels
    assert all(ax.get_title(loc="left") and ax.get_xlabel() and ax.get_ylabel() for ax in drawn)
    unit = {"lesson": "cm"}.get(type(question).__name__.lower(), "deg")
    assert f"({unit})" in axes.get_ylabel()
    assert axes.lines[0].get_ydata() == pytest.approx(found.points["residual"].to_numpy())
