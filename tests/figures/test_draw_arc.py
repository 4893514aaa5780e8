"""Figures of the strike by their data and labels. Truth: made."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from strike.arcs import make_arc, make_trial

from swinglab.errors import BadRequest, BadTable
from swinglab.figures import draw_arc, draw_low_points
from swinglab.strike import measure_strike


@pytest.fixture(scope="module")
def swing():
    trial, events = make_trial(
        make_arc("two levers"), 240.0, noise=5e-4, kink=2.0, loss=0.2, sole_at_impact=0.003
    )
    return measure_strike(trial, events), trial


def by_label(ax, label: str) -> np.ndarray:
    """(n, 2) data of the line of this label."""
    return next(np.column_stack(line.get_data()) for line in ax.lines if line.get_label() == label)


def test_the_arc_in_its_plane_shows_points_fit_ball_and_turf(swing) -> None:
    strike, trial = swing
    ax = draw_arc(strike, trial)
    points = by_label(ax, "before impact")
    assert len(points) == (strike.arc["used"] > 0).sum()
    curve = by_label(ax, "undisturbed arc")
    nearest = np.linalg.norm(points[:, None] - curve[None], axis=2).min(axis=1)
    assert nearest.max() < 1.5  # cm: the curve is drawn through its points
    assert len(ax.patches) == 1
    assert {"impact", "low point", "sole on the turf"} <= set(ax.get_legend_handles_labels()[1])
    assert "toward the target" in ax.get_xlabel()


def test_from_above_the_golfer_stands_at_the_top(swing) -> None:
    ax = draw_arc(*swing, view="above")
    low, high = ax.get_ylim()
    assert low > high and "away from the golfer" in ax.get_ylabel()


def test_near_the_ball_heights_are_the_soles(swing) -> None:
    strike, trial = swing
    ax = draw_arc(strike, trial, view="ball")
    low = by_label(ax, "low point")[0]
    assert low[0] == pytest.approx(strike.values["low_point_ahead_cm"], abs=1e-6)
    assert low[1] == pytest.approx(strike.values["low_point_height_cm"], abs=1e-6)


def test_what_cannot_be_drawn_is_said(swing) -> None:
    strike, trial = swing
    with pytest.raises(BadRequest, match="no view fce_on"):
        draw_arc(strike, trial, view="fce_on")
    _, events = make_trial(make_arc("circle"), 240.0)
    empty = measure_strike(replace(trial, landmarks=("club_butt", "ball")), events)
    with pytest.raises(BadRequest, match="no arc to draw: no clubhead"):
        draw_arc(empty, trial)


def test_low_points_of_all_golfers_with_their_errors() -> None:
    table = pd.DataFrame(
        {
            "golfer": ["G02", "G01", "G01", "G02"],
            "low_point_ahead_cm": [3.0, 5.0, np.nan, 7.0],
            "low_point_ahead_se_cm": [1.0, 0.5, np.nan, 0.8],
            "contact": ["fat", "clean", "", "thin"],
        }
    )
    ax = draw_low_points(table)
    assert [t.get_text() for t in ax.get_yticklabels()] == ["G01", "G02"]
    assert len(ax.containers) == 3
    assert set(ax.get_legend_handles_labels()[1]) == {"fat", "clean", "thin"}
    with pytest.raises(BadTable, match="no column low_point_ahead_cm"):
        draw_low_points(table.drop(columns="low_point_ahead_cm"))
    with pytest.raises(BadTable, match="no swing"):
        draw_low_points(table.iloc[[2]])
