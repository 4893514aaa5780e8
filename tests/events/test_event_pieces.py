"""The pieces that the events are found with, against general-purpose libraries and closed forms."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.interpolate import CubicSpline
from scipy.spatial.transform import Rotation

from swinglab.conventions import BALL_RADIUS_M
from swinglab.events.crossings import find_crossing
from swinglab.events.extrapolation import Path, last_undisturbed, reach_ball
from swinglab.events.lines import Line, elevation_deg, line_through
from swinglab.events.search_window import Window
from swinglab.signals.local_polynomial import fit_local_polynomial


def test_a_local_fit_is_numpys_weighted_polynomial() -> None:
    """Truth: other (numpy.polynomial): value, derivatives and covariance of a weighted fit."""
    rng = np.random.default_rng(4)
    time = np.sort(rng.uniform(1.0, 1.2, 12))
    noise = rng.uniform(0.5, 2.0, 12)
    values = np.sin(20 * time) + noise * rng.normal(size=12)
    fit = fit_local_polynomial(time, values, noise, 1.1, 3)
    theirs = np.polynomial.Polynomial.fit(time, values, 3, w=1 / noise, domain=[0.9, 1.3])
    for when in (1.0, 1.07, 1.2):
        assert fit.at(when)[0] == pytest.approx(theirs(when), abs=1e-9)
        assert fit.at(when, 1)[0] == pytest.approx(theirs.deriv()(when), abs=1e-7)
        assert fit.at(when, 2)[0] == pytest.approx(theirs.deriv(2)(when), abs=1e-5)
    design = np.vander(time - 1.1, 4, increasing=True) / noise[:, None]
    row = (1.07 - 1.1) ** np.arange(4)
    assert fit.error_at(1.07) == pytest.approx(
        np.sqrt(row @ np.linalg.inv(design.T @ design) @ row), rel=1e-6
    )


def test_a_root_is_the_one_nearest_to_where_it_is_looked_for() -> None:
    """Truth: made: (t - 1)(t - 2)(t - 3) has three."""
    time = np.linspace(0.5, 3.5, 9)
    fit = fit_local_polynomial(time, (time - 1) * (time - 2) * (time - 3), np.zeros(9), 2.0, 3)
    assert fit.root(0.0, 1.2) == pytest.approx(1.0, abs=1e-9)
    assert fit.root(0.0, 2.9) == pytest.approx(3.0, abs=1e-9)
    assert fit.root(0.0, 2.5, derivative=1) == pytest.approx(2 + 1 / np.sqrt(3), abs=1e-9)
    assert np.isnan(fit.root(99.0, 2.0))


@given(st.integers(0, 10**6))
@settings(max_examples=25, deadline=None)
def test_the_line_through_points_turns_with_them(seed: int) -> None:
    """Truth: other (scipy's Rotation): a rigid motion of the points turns the line, grip to head, the same way."""
    rng = np.random.default_rng(seed)
    points = np.outer([0.0, 0.4, 0.9], [1.0, 0.0, 0.0])[None] + rng.normal(0, 0.01, (5, 3, 3))
    turn = Rotation.random(rng=rng).as_matrix()
    before, error = line_through(points, np.full(3, 1e-3))
    after, same_error = line_through(points @ turn.T + rng.normal(size=3), np.full(3, 1e-3))
    np.testing.assert_allclose(after, before @ turn.T, atol=1e-9)
    np.testing.assert_allclose(same_error, error, rtol=1e-9)
    assert (before[:, 0] > 0.9).all()


def test_the_lines_error_is_what_noise_makes_of_it() -> None:
    """Truth: made: scatter of the elevation over 4000 noisy frames; and a lost point leaves the other two."""
    rng = np.random.default_rng(2)
    still = np.outer([0.0, 0.5, 0.95], [np.cos(0.3), np.sin(0.3), 0.0])
    noisy = still + rng.normal(0, 1e-3, (4000, 3, 3))
    line, error = line_through(noisy, np.full(3, 1e-3))
    assert elevation_deg(line).std() == pytest.approx(error.mean(), rel=0.05)
    noisy[:, 1] = np.nan
    line, error = line_through(noisy, np.full(3, 1e-3))
    assert elevation_deg(line).std() == pytest.approx(np.degrees(np.sqrt(2) * 1e-3 / 0.95), rel=0.05)
    assert error.mean() == pytest.approx(np.degrees(np.sqrt(2) * 1e-3 / 0.95), rel=0.01)


def rising_line(time: np.ndarray, elevation: np.ndarray, noise: float = 0.0) -> Line:
    """A line of a given elevation, in the X-Y plane."""
    way = np.stack([np.cos(np.radians(elevation)), np.sin(np.radians(elevation)), 0 * time], axis=1)
    return Line("shaft", "made", way, way, np.full(len(time), noise))


def test_a_crossing_agrees_with_a_cubic_spline() -> None:
    """Truth: other (scipy's CubicSpline on dense samples of the same curve)."""
    dense = np.linspace(0, 0.4, 4001)

    def curve(t: np.ndarray) -> np.ndarray:
        return -50 + 60 * np.sin(6 * t) + 8 * np.sin(17 * t)

    root = min(r for r in CubicSpline(dense, curve(dense)).roots() if 0 < r < 0.3)
    time = np.arange(0, 0.4, 1 / 200)
    window = Window(time, 0.0, 0.4, -np.inf, np.inf, 0.05, "in the window")
    found = find_crossing("x", (rising_line(time, curve(time)),), 0.0, True, window, "first")
    assert found.time_s == pytest.approx(root, abs=2e-6)


def test_an_error_in_degrees_becomes_one_in_seconds_by_the_rate() -> None:
    """Truth: made: 200 deg/s, 0.1 deg of noise; scatter over 400 draws beside the predicted error."""
    rng = np.random.default_rng(6)
    time = np.arange(0, 0.4, 1 / 240)
    window = Window(time, 0.0, 0.4, -np.inf, np.inf, 0.05, "in the window")
    answers = []
    for _ in range(400):
        noisy = 200 * (time - 0.2013) + rng.normal(0, 0.1, len(time))
        answers.append(find_crossing("x", (rising_line(time, noisy, 0.1),), 0.0, True, window, "first"))
    spread = np.std([a.time_s for a in answers])
    assert spread / np.mean([a.standard_error_s for a in answers]) == pytest.approx(0.95, abs=0.15)
    assert np.mean([a.time_s for a in answers]) == pytest.approx(0.2013, abs=5e-5)


@pytest.mark.parametrize("phase", [0.1, 0.6])
def test_contact_on_a_circle_at_constant_speed(phase: float) -> None:
    """Truth: closed form: the tangent's distance to the ball is R sin(angle); contact at asin(r / R) before it."""
    radius, speed, rate = 1.5, 36.0, 240.0
    time = (np.arange(40) + phase) / rate
    angle = speed / radius * (time - time[30] - 0.0017)
    points = radius * np.stack([np.sin(angle), 1 - np.cos(angle), 0 * angle], axis=1)
    path = Path(time, points, 0.0, np.zeros(3), BALL_RADIUS_M)
    # (ball - p) . v = R sin(-angle) for a ball at the circle's lowest point
    exact = time[30] + 0.0017 - np.arcsin(BALL_RADIUS_M / radius) * radius / speed
    reached = reach_ball(path, last_undisturbed(path, time[30], 0.0), rate)
    assert reached is not None
    assert reached.time_s == pytest.approx(exact, abs=2e-6)
    assert reached.speed_mps == pytest.approx(speed, rel=1e-3)
    assert reached.beside_m < 1e-3
