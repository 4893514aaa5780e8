"""A published capture: not golf, but an implement swung at an object on the ground."""

from __future__ import annotations

import numpy as np
import pytest
from captures import capture_path
from segments.real_bodies import GAIT_LAB

from swinglab.events import find_events
from swinglab.load import load_trial, read_capture
from swinglab.records import Setup, Trial


@pytest.fixture(scope="module")
def trial() -> Trial:
    """The stick as a club, its blade as the clubhead; the puck stands where it is when it is shot, not dragged."""
    landmarks = {name: (f"Reed:{label}",) for name, label in GAIT_LAB.items()} | {
        "club_shaft_1": ("Stick:1", "Stick:2"), "club_shaft_2": ("Stick:3", "Stick:4"),
        "club_shaft_3": ("Stick:5", "Stick:6"), "clubhead": ("Stick:7", "Stick:9"),
    }  # fmt: skip
    setup = Setup(up="+Z", target=(1.0, 0.24, 0.0), landmarks=landmarks, ball_position=(-219.0, -86.0, 45.0))
    capture = read_capture(capture_path("stick_shot_full_body.c3d"))
    return load_trial(capture, setup, swing="shot", golfer="P1")


def test_the_shot_is_found_where_the_blade_goes_by_the_puck(trial: Trial) -> None:
    """Truth: other: an own look at the capture, blade nearest to the puck's place while fast; looked at as a figure."""
    found = find_events(trial, None)
    fast = (trial.time_s > 0.95) & (trial.time_s < 1.2)
    away = np.where(fast, np.linalg.norm(trial.point("clubhead") - trial.ball_m, axis=1), np.inf)
    assert abs(found.time_s("impact") - trial.time_s[np.argmin(away)]) < 0.012
    assert "ball's place from the study" in found["impact"].method


def test_a_stick_that_stays_low_has_no_horizontal_shaft(trial: Trial) -> None:
    """Truth: other: the stick's ends in the file, by their heights alone; and the player stands still until 0.78 s."""
    found = find_events(trial, None, by_hand={"impact": 1.0333})
    highest = (trial.point("club_shaft_3") - trial.point("club_shaft_1"))[:, 1].max()
    assert highest < 0
    for name in (
        "shaft_horizontal_back",
        "shaft_horizontal_down",
        "shaft_horizontal_through",
        "shaft_45_down",
    ):
        assert "stays below" in found[name].note
    blade = trial.point("clubhead")
    still = np.linalg.norm(blade - blade[0], axis=1) < 0.01
    assert found.time_s("takeaway") == pytest.approx(trial.time_s[np.argmin(still)], abs=0.03)
    assert (
        found.time_s("address") < found.time_s("takeaway") < found.time_s("impact") < found.time_s("finish")
    )
