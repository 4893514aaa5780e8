"""Noise level, stretches, filter gain and planes against scipy and against signals that were made."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import integrate, ndimage, signal, stats
from scipy.spatial.transform import Rotation

from swinglab.signals import (
    filter_stretches,
    fit_local_polynomials,
    gain,
    middle_value,
    noise_from_differences,
    principal_axes,
    robust_sd,
    sliding_polynomial,
    smooth,
    stretches,
    unit,
    white_noise_passed,
)
from swinglab.signals.noise_level import SQUARE_WITHIN, WITHIN


def test_robust_sd_is_the_standard_deviation_of_a_normal_distribution() -> None:
    """Truth: other (scipy's truncated normal distribution), and made samples, by column and by itself."""
    within = stats.truncnorm(-WITHIN, WITHIN).var()
    assert within == pytest.approx(SQUARE_WITHIN, abs=2e-4)
    values = np.random.default_rng(0).normal(0, [1.0, 3.0], (20_000, 2))
    np.testing.assert_allclose(robust_sd(values), [1.0, 3.0], rtol=0.02)
    assert robust_sd(values[:, 0]) == pytest.approx(1.0, rel=0.02)
    np.testing.assert_array_equal(robust_sd(np.zeros((30, 2))), 0.0)
    gappy = values.copy()
    gappy[::3, 1] = np.nan
    np.testing.assert_allclose(
        robust_sd(gappy), [robust_sd(values[:, 0]), robust_sd(np.delete(values[:, 1], np.s_[::3]))]
    )


def test_a_fifth_of_the_samples_in_motion_moves_it_by_less_than_the_median() -> None:
    """Truth: made. Three to ten times the noise in one sample of five."""
    rng = np.random.default_rng(1)
    values = rng.normal(0, 1.0, (5000, 3))
    values[::5] = rng.uniform(3, 10, (1000, 3)) * rng.choice([-1, 1], (1000, 3))
    by_median = 1.4826 * np.median(np.abs(values), axis=0)
    assert (robust_sd(values) < 1.12).all()
    assert (by_median > 1.25).all()


def test_sixth_differences_estimate_the_noise_of_a_fast_point() -> None:
    """Truth: made. A point that circles with 1 m at 9 rad/s at 60 Hz, noise 0.5 mm, each axis separately."""
    time = np.arange(6000) / 60
    circle = np.stack([np.cos(9 * time), np.sin(9 * time), 0 * time], axis=1)
    noise = np.random.default_rng(2).normal(0, [5e-4, 1e-3, 2e-3], circle.shape)
    found = noise_from_differences(circle + noise)
    np.testing.assert_allclose(found, [5e-4, 1e-3, 2e-3], rtol=0.06)
    assert np.isnan(noise_from_differences(circle[:20])).all()


@given(st.floats(0.2, 3.0), st.integers(0, 10**6))
@settings(max_examples=25, deadline=None)
def test_noise_on_a_slow_motion_is_within_20_percent_from_300_samples(sigma_mm: float, seed: int) -> None:
    """Truth: made: white noise on a slow motion."""
    rng = np.random.default_rng(seed)
    time = np.arange(300) / 240
    path = np.stack([np.sin(2 * time), np.cos(3 * time), time], axis=1)
    found = noise_from_differences(path + rng.normal(0, sigma_mm / 1000, path.shape))
    assert np.sqrt(np.mean(found**2)) == pytest.approx(sigma_mm / 1000, rel=0.2)


@given(st.lists(st.booleans(), min_size=1, max_size=60))
@settings(deadline=None)
def test_stretches_are_the_labelled_regions_of_a_mask(mask: list[bool]) -> None:
    """Truth: other (scipy.ndimage.label and find_objects)."""
    labelled, _ = ndimage.label(np.array(mask, dtype=int))
    assert stretches(np.array(mask, dtype=bool)) == [found[0] for found in ndimage.find_objects(labelled)]


@pytest.mark.parametrize(("rate", "cutoff"), [(60.0, 12.0), (240.0, 12.0), (500.0, 15.0), (100.0, 45.0)])
def test_the_share_of_white_noise_that_passes_is_the_integral_of_the_squared_gain(rate, cutoff) -> None:
    """Truth: other (scipy.integrate.quad)."""
    mean = 2 / rate * integrate.quad(lambda f: float(gain(rate, cutoff, f)) ** 2, 0, rate / 2)[0]
    assert white_noise_passed(rate, cutoff) == pytest.approx(mean, rel=1e-9)
    assert white_noise_passed(rate, 0.5 * rate) == 1.0


def test_the_smoothing_filter_has_the_gain_and_passes_the_noise_that_are_stated() -> None:
    """Truth: made. Sines of known frequency and white noise through the filter itself, away from the ends."""
    time = np.arange(4000) / 240.0
    for frequency in (3.0, 12.0, 20.0):
        passed = smooth(np.sin(2 * np.pi * frequency * time)[None], 240.0, 12.0)[0, 500:3500]
        assert np.sqrt(2 * np.mean(passed**2)) == pytest.approx(float(gain(240.0, 12.0, frequency)), abs=1e-3)
    noise = np.random.default_rng(3).normal(size=(60, 4000))
    assert smooth(noise, 60.0, 12.0).var() == pytest.approx(white_noise_passed(60.0, 12.0), rel=0.01)


def test_each_stretch_is_filtered_separately() -> None:
    """Truth: made. A step across a gap does not leak over it, and missing samples stay missing."""
    points = np.zeros((100, 2, 3))
    points[50:] = 1.0
    points[48:52, 0] = np.nan
    done = filter_stretches(points, lambda columns: smooth(columns, 240.0, 12.0))
    np.testing.assert_allclose(done[:48, 0], 0.0, atol=1e-12)
    np.testing.assert_allclose(done[52:, 0], 1.0, atol=1e-12)
    assert np.isnan(done[48:52, 0]).all() and np.abs(done[45, 1]).max() > 0.01


@given(st.integers(0, 10**6))
@settings(max_examples=20, deadline=None)
def test_the_third_principal_axis_is_the_normal_of_the_plane(seed: int) -> None:
    """Truth: made: points in a plane turned at random (scipy's Rotation)."""
    rng = np.random.default_rng(seed)
    turn = Rotation.random(rng=rng).as_matrix()
    flat = np.column_stack([rng.normal(0, 3, 20), rng.normal(0, 1, 20), np.zeros(20)])
    axes = principal_axes((flat - flat.mean(axis=0)) @ turn.T)
    assert abs(axes[2] @ turn[:, 2]) == pytest.approx(1.0)
    np.testing.assert_allclose(axes @ axes.T, np.eye(3), atol=1e-12)
    assert principal_axes(turn[:1]).shape == (3, 3)


def test_a_vector_without_length_has_no_direction() -> None:
    """Truth: made."""
    np.testing.assert_array_equal(unit(np.array([[0.0, 3, 4], [0, 0, 0]])), [[0, 0.6, 0.8], [np.nan] * 3])


@pytest.mark.parametrize(("length", "order"), [(5, 2), (25, 3)])
def test_sliding_polynomials_are_those_of_savitzky_and_golay(length: int, order: int) -> None:
    """Truth: other (scipy.signal.savgol_filter, its ends interpolated); a missing sample takes its windows with it."""
    values = np.random.default_rng(3).normal(size=120).cumsum()
    for derivative in (0, 1):
        expected = signal.savgol_filter(values, length, order, deriv=derivative, delta=0.004)
        found = sliding_polynomial(np.stack([values, values[::-1]]), length, order, 0.004, derivative)
        np.testing.assert_allclose(found[0], expected, rtol=1e-9, atol=1e-9)
    values[60] = np.nan
    lost = np.flatnonzero(np.isnan(sliding_polynomial(values, length, order, 0.004)))
    assert lost.tolist() == list(range(60 - length // 2, 60 + length // 2 + 1))


def test_polynomials_of_one_factorisation_are_those_fitted_alone() -> None:
    """Truth: other (numpy.polynomial). Value, rate and the time at which a level is reached; noise weighs samples."""
    rng = np.random.default_rng(4)
    time = np.linspace(1.0, 1.2, 24)
    values, noise = np.sin(9 * time) + rng.normal(0, 1e-3, 24), rng.uniform(1e-3, 2e-3, 24)
    fits = fit_local_polynomials(time, values, noise, 1.1, (5, 7, 4))
    for order, fit in zip((5, 7, 4), fits, strict=True):
        expected = np.polynomial.Polynomial.fit(time, values, order, w=1 / noise)
        np.testing.assert_allclose(fit.at(time)[:, 0], expected(time), rtol=1e-9)
        np.testing.assert_allclose(fit.at(time, 1)[:, 0], expected.deriv()(time), rtol=1e-7)
        roots = (expected - 0.0).roots()
        real = roots.real[np.abs(roots.imag) < 1e-9]
        inside = real[(real > 1.0) & (real < 1.2)]
        nearest = inside[np.argmin(np.abs(inside - 1.05))]
        assert fit.root(0.0, 1.05) == pytest.approx(nearest, abs=1e-9)


@pytest.mark.parametrize("number", [1, 2, 7, 8])
def test_the_middle_value_is_the_median(number: int) -> None:
    """Truth: other (numpy)."""
    values = np.random.default_rng(number).normal(size=number)
    assert middle_value(values) == np.median(values)
