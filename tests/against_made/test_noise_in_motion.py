"""Made swings whose markers shake more the faster they move, from samples to values at events; truth: made."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from swinglab.conventions import EVENTS
from swinglab.events import find_events
from swinglab.load import load_trial
from swinglab.records import Capture, Event, Events, Setup, Trial
from swinglab.segments import measure_at, measure_posture
from swinglab.simulate import make_golfer, make_swing

SETUP = Setup(up="+Y", target="+X", ball_position=(0.0, 0.0, 0.0), unit="m", reference_behind_face_cm=0.0)
FAST = ("lead_arm_horizontal_down", "shaft_45_down", "shaft_horizontal_down", "impact")


@pytest.fixture(scope="module")
def ratios() -> dict[str, pd.DataFrame]:
    """Root-mean-square error over mean predicted error of every quantity at every event: as it is, and as steady.

    Ten captures of one swing with four seconds of address; 0.2 mm at rest, 1 mm from 0.5 m/s on, as a real capture of
    a stick shot has it.
    """
    swing = make_swing(make_golfer(), seed=4, before_s=5.0)
    names = tuple(name for name in swing.trial().landmarks if name != "ball")
    exact = np.stack([swing.exact[name] for name in names], axis=1)
    speed = np.linalg.norm(np.gradient(exact, 1 / swing.rate_hz, axis=0), axis=2, keepdims=True)
    sd = 2e-4 + 8e-4 * np.minimum(speed / 0.5, 1.0)
    random = np.random.default_rng(12)
    events = Events(
        "s", "G", swing.rate_hz, tuple(Event(e, swing.true_events[e], 0.0, "true") for e in EVENTS)
    )

    def read(trial: Trial) -> pd.DataFrame:
        table = measure_at(measure_posture(trial), events).set_index(["event", "quantity"])
        return table[table["unit"] == "deg"]

    values, errors = [], {"as it is": [], "as steady": []}
    for _ in range(10):
        shaken = Capture("m", names, exact + random.normal(0, 1, exact.shape) * sd, swing.rate_hz)
        trial = load_trial(shaken, SETUP, swing="s", golfer="G")
        table = read(trial)
        values.append(table["value"])
        errors["as it is"].append(table["standard_error"])
        errors["as steady"].append(read(replace(trial, noise_in_time=None))["standard_error"])
    scatter = pd.concat(values, axis=1).std(axis=1)
    return {
        name: (scatter / pd.concat(own, axis=1).mean(axis=1)).dropna().unstack("event")
        for name, own in errors.items()
    }


def test_errors_at_the_fast_events_hold(ratios: dict[str, pd.DataFrame]) -> None:
    """Truth: made. Medians over the angles near 1, where one estimate for the capture is too small by three."""
    for event in FAST:
        assert ratios["as it is"][event].median() == pytest.approx(1.0, abs=0.3), event
        assert ratios["as steady"][event].median() > 2.0, event


def test_errors_at_address_hold(ratios: dict[str, pd.DataFrame]) -> None:
    """Truth: made. Standing still as before."""
    assert ratios["as it is"]["address"].median() == pytest.approx(1.0, abs=0.25)


def test_times_of_events_hold_the_noise_of_their_frames() -> None:
    """Truth: made. Threefold noise about takeaway, delivery and impact: three times the errors there, but that
    takeaway's hold its model too."""
    swing = make_swing(make_golfer(), seed=4, noise_m=1e-3)
    trial = swing.trial()
    named = ("takeaway", "shaft_horizontal_down", "impact")
    loud = np.ones((len(trial.time_s), len(trial.landmarks)))
    for name in named:
        loud[np.abs(trial.time_s - swing.true_events[name]) < 0.1] = 3.0
    usual, louder = (find_events(replace(trial, noise_in_time=f), None) for f in (np.ones_like(loud), loud))
    ratio = {name: louder[name].standard_error_s / usual[name].standard_error_s for name in named}
    assert ratio["impact"] == pytest.approx(3.0, abs=0.4)
    assert ratio["shaft_horizontal_down"] == pytest.approx(3.0, abs=0.4)
    assert 1.2 < ratio["takeaway"] < 3.1
