"""The plane of the clubhead before impact, with and without frames in which it is not seen."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from strike.arcs import Arc, make_trial
from strike.families import family_arcs

from swinglab.strike import measure_strike

NAMES = ("arc_plane_inclination_deg", "arc_plane_direction_in_to_out_deg")
#: make_trial puts shaft_horizontal_down this long before impact.
START_S = 0.055


def true_plane(arc: Arc) -> np.ndarray:
    """Inclination and direction (deg) of the plane nearest to the path, by a singular value decomposition."""
    path = arc.path(np.linspace(-START_S, 0.0, 400))
    normal = np.linalg.svd(path - path.mean(axis=0))[2][2]
    normal *= np.sign(normal[1])
    return np.degrees(
        [np.arctan2(np.hypot(normal[0], normal[2]), normal[1]), np.arctan2(-normal[0], normal[2])]
    )


@pytest.mark.parametrize("hidden_s", [0.0, 0.012, 0.025])
@pytest.mark.parametrize("rate", [120.0, 240.0, 500.0])
def test_errors_of_the_plane_know_hidden_frames(rate: float, hidden_s: float) -> None:
    """Truth: made. 36 paths of three families, 0.5 mm of noise, frames hidden at random before impact."""
    ratios = []
    for family in ("ellipses", "moving hubs", "two levers"):
        for arc in family_arcs(family, 12, seed=57):
            seed = int(rate) * 100 + len(ratios)
            trial, events = make_trial(arc, rate, noise=5e-4, kink=2.0, loss=0.2, seed=seed)
            lag = trial.time_s - events.time_s("shaft_horizontal_down") - START_S
            start = np.random.default_rng([5, seed]).uniform(-0.06, -hidden_s)
            points = trial.raw_m.copy()
            points[(lag > start) & (lag < start + hidden_s), 0] = np.nan
            strike = measure_strike(replace(trial, raw_m=points, points_m=points), events)
            errors = np.array([strike.values[name] for name in NAMES]) - true_plane(arc)
            ratios.append(errors / [strike.standard_errors[name] for name in NAMES])
    seen = np.array(ratios)[np.isfinite(ratios).all(axis=1)]
    assert len(seen) > 20
    assert 0.6 < np.sqrt(np.mean(seen**2)) < 1.4
    assert (np.abs(seen) < 1.96).mean() > 0.88


def test_a_plane_that_is_not_known_is_missing() -> None:
    """Truth: made. Nothing seen from shortly after delivery until just before impact."""
    trial, events = make_trial(family_arcs("two levers", 1)[0], 500.0, noise=5e-4, seed=3)
    lag = trial.time_s - events.time_s("shaft_horizontal_down") - START_S
    points = trial.raw_m.copy()
    points[(lag > -0.0545) & (lag < -0.008), 0] = np.nan
    strike = measure_strike(replace(trial, raw_m=points, points_m=points), events)
    for name in NAMES:
        assert np.isnan(strike.values[name]) and "not determined" in strike.missing[name]
