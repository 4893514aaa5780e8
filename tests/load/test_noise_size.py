"""How large the noise is said to be, against the noise that was made: among motion, at low rates, standing still."""

from __future__ import annotations

import numpy as np
import pytest

from swinglab.load import load_trial
from swinglab.load.smoothing import STILL_M, stands_still
from swinglab.records import Capture, Setup, Trial
from swinglab.signals import smooth, white_noise_passed

NAMES = ("asis_left", "asis_right", "sacrum", "c7", "t8", "hand_left", "wrist_radial_left", "heel_left")


def standing(shake: np.ndarray, rate_hz: float = 200.0) -> Trial:
    """A body that sways by a millimetre at 0.4 Hz, its landmarks shaken besides by (n, k, 3)."""
    places = np.random.default_rng(7).uniform(0.2, 1.5, (len(NAMES), 3))
    sway = 0.001 * np.sin(2 * np.pi * 0.4 * np.arange(len(shake)) / rate_hz)
    capture = Capture("made.c3d", NAMES, places + sway[:, None, None] + shake, rate_hz)
    return load_trial(
        capture, Setup(up="+Y", target="+X", ball_position=(0.0, 0.0, 0.0)), swing="s", golfer="g"
    )


def test_a_still_body_is_told_from_a_moving_one() -> None:
    """Truth: made. One landmark that moves is enough, a frame that jumps is not; less than a second tells nothing."""
    points = np.random.default_rng(3).normal(0, 5e-4, (400, 4, 3))
    assert stands_still(points, 100.0)
    assert not stands_still(points, 500.0)
    jumped = points.copy()
    jumped[200, 1] += 1.0
    assert stands_still(jumped, 100.0)
    moved = points.copy()
    moved[:, 2, 1] += np.linspace(0, 1.2 * STILL_M, 400)
    assert not stands_still(moved, 100.0)
    assert not stands_still(np.full((50, 2, 3), np.nan), 25.0)


def test_white_noise_of_a_still_body_is_found() -> None:
    """Truth: made. 0.4 mm over 30 s; told from the frequencies that smoothing passes, within a tenth."""
    shake = np.random.default_rng(4).normal(0, 4e-4, (6000, len(NAMES), 3))
    np.testing.assert_allclose(standing(shake).noise_m, 4e-4, rtol=0.1)


def test_a_still_capture_that_was_smoothed_before_is_told() -> None:
    """Truth: made. Its sway above 5 Hz is no measure of what a filter took off before."""
    rng = np.random.default_rng(6)
    said = "they were smoothed before"
    rough = standing(rng.normal(0, 2e-4, (2000, len(NAMES), 3)))
    assert not any(said in words for words in rough.warnings)
    shake = smooth(rng.normal(0, 1e-3, (3 * len(NAMES), 2000)), 200.0, 8.0)
    before = standing(shake.T.reshape(2000, len(NAMES), 3))
    assert any(said in words for words in before.warnings)
    assert np.median(before.noise_m) > 1e-5


@pytest.mark.parametrize(("rate", "cutoff"), [(60.0, 12.0), (200.0, 15.0)])
def test_tremor_of_a_still_body_counts_as_noise_and_as_shared(rate: float, cutoff: float) -> None:
    """Truth: made. Hand and wrist tremble together at 6 to 10 Hz by 0.3 mm, with 0.02 mm of noise beside.

    As the kit smooths them they shake by 0.2 (60 Hz) or 0.3 mm; so says their noise, and their difference is quiet.
    """
    n = 6000
    rng = np.random.default_rng(5)
    band = np.fft.rfftfreq(n, 1 / rate)
    tremor = np.fft.irfft(
        np.fft.rfft(rng.normal(size=(n, 3)), axis=0) * ((band > 6) & (band < 10))[:, None], n, axis=0
    )
    tremor *= 3e-4 / tremor.std(axis=0)
    shake = rng.normal(0, 2e-5, (n, len(NAMES), 3))
    shake[:, [5, 6]] += tremor[:, None]
    trial = standing(shake, rate)
    left = np.sqrt(white_noise_passed(rate, cutoff)) * trial.noise_m[[5, 6]]
    shaken = smooth(tremor.T, rate, cutoff).std()
    np.testing.assert_allclose(left, shaken, rtol=0.25)
    assert trial.noise_m[0] < 4e-5
    assert trial.noise_covariance is not None
    together = trial.noise_covariance[3 * 5 : 3 * 5 + 3, 3 * 6 : 3 * 6 + 3]
    assert (np.diag(together) > 0.85).all()
