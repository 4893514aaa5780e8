"""Single-frame spikes of a static capture are found, reported and filled, and nothing else. Truth: made."""

from __future__ import annotations

import numpy as np
import pytest

from swinglab.load import load_trial
from swinglab.load.untrue_samples import drop_spikes
from swinglab.records import Capture, Setup

NAMES = ("asis_left", "asis_right", "sacrum", "c7")


def standing(n: int = 300, noise_m: float = 1e-4, seed: int = 1) -> np.ndarray:
    """(n, 4, 3) landmarks that sway by 2 mm at 0.5 Hz and shake."""
    rng = np.random.default_rng(seed)
    sway = 0.002 * np.sin(np.pi * np.arange(n) / 100.0)
    return rng.uniform(0, 1, (4, 3)) + sway[:, None, None] + rng.normal(0, noise_m, (n, 4, 3))


def test_single_frame_spikes_are_missing_with_a_warning() -> None:
    """Truth: made. Two landmarks in one frame and one in another; the frames beside them stay."""
    points = standing()
    points[40, :2] += [0.0, 0.003, 0.0]
    points[200, 3, 0] -= 0.002
    kept, warnings = drop_spikes(NAMES, points)
    gone = np.isnan(kept)
    assert gone[40, :2].all() and gone[200, 3].all() and gone.sum() == 9
    np.testing.assert_array_equal(kept[~gone], points[~gone])
    assert warnings == [
        "3 samples jump for a single frame in a static capture (3 landmarks, the first is asis_left; frames 41, 201); "
        "they were treated as missing"
    ]


@pytest.mark.parametrize("noise", [0.0, 1e-5, 1e-3])
def test_noise_and_rounding_are_no_spikes(noise: float) -> None:
    """Truth: made. A thousand frames of noise, as measured and rounded to a tenth of a millimetre, gaps among them."""
    points = standing(1000, noise)
    points[100:120, 2] = np.nan
    points[:, 3] = np.nan
    for given in (points, np.round(points, 4)):
        kept, warnings = drop_spikes(NAMES, given)
        assert warnings == []
        np.testing.assert_array_equal(kept, given)


def test_the_loader_fills_them_and_ignores_swings() -> None:
    """Truth: made. The same jump in a body that walks off is left: there it may be a jolt."""
    jumped = standing()
    jumped[150] += [0.0, 0.004, 0.0]
    walking = jumped + np.linspace(0, 1.0, 300)[:, None, None] * [1.0, 0.0, 0.0]
    setup = Setup(up="+Y", target="+X", ball_position=(0.0, 0.0, 0.0))
    still, moving = (
        load_trial(Capture("made.c3d", NAMES, points, 100.0), setup, swing="s", golfer="g")
        for points in (jumped, walking)
    )
    assert still.filled[150].all() and still.filled.sum() == 4
    assert any("jump for a single frame" in words for words in still.warnings)
    assert not moving.filled.any() and not any("jump" in words for words in moving.warnings)
