"""How large the noise is said to be, against the noise that was made: among motion, at low rates, standing still."""

from __future__ import annotations

import numpy as np

from swinglab.load import load_trial
from swinglab.load.smoothing import STILL_M, stands_still
from swinglab.records import Capture, Setup, Trial
from swinglab.signals import smooth

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
    """Truth: made. One landmark that moves is enough, a frame that jumps is not; less than a second is too short."""
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
    """Truth: made. 0.4 mm over 30 s; found within a tenth."""
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
