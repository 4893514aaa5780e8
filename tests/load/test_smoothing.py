"""The filter, its cut-off by residual analysis, and what is never smoothed."""

from __future__ import annotations

from functools import partial

import numpy as np
import pytest
from load.made_swing import as_captured, truth
from scipy.signal import butter, filtfilt

from swinglab.load import load_trial, smoothing
from swinglab.load.smoothing import choose_cutoffs, residual_cutoffs
from swinglab.records import Setup, Trial
from swinglab.signals import filter_stretches, gain, smooth

Y_UP = Setup(up="+Y", target="+X")


def loaded(rate: float = 240.0, noise: float = 0.0, **given: object) -> Trial:
    """The made swing, loaded."""
    setup = Setup(up="+Y", target="+X", **given)
    return load_trial(as_captured(truth(rate), rate_hz=rate, noise_m=noise), setup, swing="s", golfer="g")


@pytest.mark.parametrize(("rate", "cutoff"), [(240.0, 12.0), (240.0, 40.0), (60.0, 6.0), (500.0, 20.0)])
def test_a_sine_at_the_cut_off_keeps_seven_tenths(rate, cutoff) -> None:
    """Truth: made. The two passes together: gain 0.7071 at the cut-off, no shift in time; `gain` says the same."""
    time = np.arange(int(40 * rate / cutoff)) / rate
    for frequency in (0.5 * cutoff, cutoff, 1.5 * cutoff):
        sine = np.sin(2 * np.pi * frequency * time)
        passed = smooth(sine[None], rate, cutoff)[0]
        middle = slice(len(time) // 4, 3 * len(time) // 4)
        measured = (passed[middle] @ sine[middle]) / (sine[middle] @ sine[middle])
        assert measured == pytest.approx(float(gain(rate, cutoff, frequency)), abs=2e-3)
    assert float(gain(rate, cutoff, cutoff)) == pytest.approx(0.70711, abs=1e-5)


def test_straight_lines_pass_unchanged() -> None:
    """Truth: made. Odd padding keeps a straight line straight to its ends."""
    line = np.linspace(-1, 3, 200)[None] * [[1.0], [2.0]]
    np.testing.assert_allclose(smooth(line, 240.0, 12.0), line, atol=1e-7)


def test_a_gap_splits_the_filter() -> None:
    """Truth: made. Each side is filtered alone, short runs stay as they are, NaN stays NaN."""
    rng = np.random.default_rng(0)
    points = rng.normal(0, 1, (200, 2, 3))
    holed = points.copy()
    holed[100:103, 1] = np.nan
    holed[108:110, 1] = np.nan
    made = filter_stretches(holed, partial(smooth, rate_hz=240.0, cutoff_hz=12.0))
    np.testing.assert_allclose(made[:, 0], smooth(points[:, 0].T, 240.0, 12.0).T, atol=1e-12)
    np.testing.assert_allclose(made[:100, 1], smooth(points[:100, 1].T, 240.0, 12.0).T, atol=1e-12)
    np.testing.assert_array_equal(made[103:108, 1], points[103:108, 1])
    np.testing.assert_array_equal(np.isnan(made), np.isnan(holed))


def test_residual_analysis_recovers_a_known_cut_off() -> None:
    """Truth: made. Where the distortion of a known signal equals the noise passed, within a fifth.

    Signals are sums of sines of falling size; the truth is computed from signal and noise apart.
    """
    rate, n = 240.0, 400
    rng = np.random.default_rng(8)
    time = np.arange(n) / rate
    found, true = [], []
    for noise in (0.0005, 0.001, 0.002):
        for _ in range(8):
            tops = rng.uniform(0.5, 1.0, 30) * 0.3 / np.arange(1, 31) ** 2.5
            phases = rng.uniform(0, 2 * np.pi, 30)
            signal = sum(
                a * np.sin(2 * np.pi * f * time + p)
                for f, (a, p) in enumerate(zip(tops, phases, strict=True), 1)
            )
            shake = rng.normal(0, noise, n)
            found.append(residual_cutoffs((signal + shake)[None], rate)[0])
            grid = np.linspace(4, 60, 113)
            distortion = [np.std(signal - smooth(signal[None], rate, f)[0]) for f in grid]
            passed = [np.std(smooth(shake[None], rate, f)[0]) for f in grid]
            true.append(grid[np.argmax(np.array(distortion) < np.array(passed))])
    ratio = np.array(found) / np.array(true)
    assert np.median(ratio) == pytest.approx(1.0, abs=0.2)
    assert np.all((ratio > 0.6) & (ratio < 1.6))


def test_the_cut_off_of_a_short_window_is_that_of_the_filters(monkeypatch) -> None:
    """Truth: made. One product with kept matrices in place of eighteen filters changes nothing."""
    columns = np.random.default_rng(2).normal(size=(6, 157)).cumsum(axis=1)
    by_product = residual_cutoffs(columns, 240.0)
    monkeypatch.setattr(smoothing, "MOST_IN_MATRIX", 0)
    np.testing.assert_allclose(by_product, residual_cutoffs(columns, 240.0), rtol=1e-9)


def test_cut_offs_have_a_floor_and_a_ceiling() -> None:
    """Truth: made. 12 Hz trunk, 15 Hz arms, 0.2 x rate; a slow rate gives a warning."""
    names = ("c7", "t8", "wrist_radial_left", "asis_left")
    still = np.random.default_rng(0).normal(0, 0.001, (3000, 4, 3))
    cutoffs, warnings = choose_cutoffs(names, still, 240.0, None, "residual")
    assert cutoffs == {"pelvis": 12.0, "thorax": 12.0, "hand_left": 15.0}
    assert warnings == ()
    slow, warnings = choose_cutoffs(names, still, 50.0, 3.0, "residual")
    assert slow == {"pelvis": 10.0, "thorax": 10.0, "hand_left": 10.0}
    assert warnings == (
        "at a frame rate of 50 Hz the cut-off is at most 10 Hz, so posture in the downswing, arms most of all, are "
        "smoothed more than they should be",
    )
    _, warnings = choose_cutoffs(names, still, 70.0, 2.0, "residual")
    assert warnings == (
        "at a frame rate of 70 Hz the cut-off is at most 14 Hz, so arm and hand quantities are smoothed more than they "
        "should be",
    )
    asked, _ = choose_cutoffs(names, still, 240.0, 0.6, 6.0)
    assert set(asked.values()) == {6.0}
    capped, _ = choose_cutoffs(names, still, 240.0, 0.6, 200.0)
    assert set(capped.values()) == {48.0}


def test_one_cut_off_a_segment_the_largest_of_its_coordinates() -> None:
    """Truth: made. A marker that moves quickly lifts the whole segment's cut-off, and no other's."""
    time = np.arange(400) / 240
    rng = np.random.default_rng(2)
    points = rng.normal(0, 0.0005, (400, 4, 3))
    points[:, 1, 1] += 0.02 * np.sin(2 * np.pi * 18 * time)
    cutoffs, _ = choose_cutoffs(("c7", "t8", "asis_left", "asis_right"), points, 240.0, 0.8, "residual")
    assert cutoffs["thorax"] > 18
    assert cutoffs["pelvis"] < 14


def test_club_and_ball_are_never_smoothed() -> None:
    """Truth: made. The body is."""
    trial = loaded(noise=0.001)
    for name in ("clubhead", "club_butt", "ball"):
        k = trial.landmarks.index(name)
        np.testing.assert_array_equal(trial.points_m[:, k], trial.raw_m[:, k])
    k = trial.landmarks.index("c7")
    shake = (
        np.std(np.diff(trial.points_m[:, k], n=2, axis=0)),
        np.std(np.diff(trial.raw_m[:, k], n=2, axis=0)),
    )
    assert shake[0] < 0.1 * shake[1]


def test_smoothing_takes_noise_off_and_leaves_the_motion() -> None:
    """Truth: made. 1 mm of noise: the trunk's points come nearer to the truth, by more than half."""
    points = truth()
    trial = loaded(noise=0.001)
    for name in ("c7", "asis_left", "xiphoid"):
        k = trial.landmarks.index(name)
        assert np.std(trial.points_m[:, k] - points[name]) < 0.5 * np.std(trial.raw_m[:, k] - points[name])


def test_the_filter_is_scipys() -> None:
    """Truth: other (scipy.signal.butter, filtfilt): the same design, written out."""
    column = np.cumsum(np.random.default_rng(1).normal(0, 1, 300))
    design = 250 / np.pi * np.arctan(np.tan(np.pi * 12 / 250) / (2**0.5 - 1) ** 0.25)
    expected = filtfilt(*butter(2, design / 125), column, padlen=round(3 * 250 / 12))
    np.testing.assert_allclose(smooth(column[None], 250.0, 12.0)[0], expected, atol=1e-9)
