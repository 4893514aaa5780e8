"""How much markers shake together: what is estimated from what smoothing took off, against the shake that was made."""

from __future__ import annotations

from dataclasses import replace
from functools import partial

import numpy as np
import pytest
from load.made_swing import as_captured, truth

from swinglab.conventions import SEGMENT_LANDMARKS
from swinglab.load import load_trial
from swinglab.load.noise import MarkerNoise, measure_noise
from swinglab.records import Setup, Trial
from swinglab.signals import filter_stretches, smooth

Y_UP = Setup(up="+Y", target="+X", ball_position=(0.0, 0.0, 0.0))
BODY = [name for own in SEGMENT_LANDMARKS.values() for name in own]


def shaken(rate_hz: float, shake: np.ndarray, names: tuple[str, ...]) -> Trial:
    """The swing by formula, its landmarks moved by shake (n, k, 3), as the loader hands it on."""
    points = truth(rate_hz, start_s=0.0004)
    moved = {name: points[name] + shake[:, k] for k, name in enumerate(names)}
    return load_trial(as_captured(points | moved, rate_hz=rate_hz), Y_UP, swing="s", golfer="g")


def correlations(trial: Trial) -> np.ndarray:
    """(3k, 3k) of the trial's covariance."""
    assert trial.noise_covariance is not None
    own = np.sqrt(np.diag(trial.noise_covariance))
    return trial.noise_covariance / np.outer(own, own)


def frames_and_names(rate_hz: float) -> tuple[int, tuple[str, ...]]:
    """Length of the swing and its landmarks but the ball."""
    points = truth(rate_hz)
    return len(points["c7"]), tuple(name for name in points if name != "ball")


@pytest.mark.parametrize("rate", [60.0, 240.0])
@pytest.mark.parametrize("noise", [0.0002, 0.001])
def test_independent_noise_comes_out_as_independent(rate: float, noise: float) -> None:
    """Truth: made. The downswing's motion that smoothing takes off makes no correlation, and no axis stands out.

    Beyond chance, that is: n samples scatter a correlation by the root of 1 / n. Over many it comes out as none.
    """
    n, names = frames_and_names(rate)
    trial = shaken(rate, np.random.default_rng(5).normal(0, noise, (n, len(names), 3)), names)
    body = [3 * k + axis for k, name in enumerate(trial.landmarks) if name in BODY for axis in range(3)]
    off = correlations(trial)[np.ix_(body, body)]
    off = off[~np.eye(len(body), dtype=bool)]
    assert np.sqrt(np.mean(off**2)) < 1.5 / np.sqrt(n)
    assert abs(off.mean()) < 0.25 / np.sqrt(n)
    axes = np.diag(trial.noise_covariance)[body].reshape(-1, 3)
    assert axes.std() < 3 / np.sqrt(n)
    np.testing.assert_allclose(axes.mean(axis=0), 1.0, atol=1 / np.sqrt(n))


@pytest.mark.parametrize("rate", [120.0, 500.0])
def test_a_level_shake_of_all_markers_is_found(rate: float) -> None:
    """Truth: made. Variance 1 level, three quarters of it shared, and 0.25 upright: found within a tenth."""
    n, names = frames_and_names(rate)
    rng, size = np.random.default_rng(3), 0.0006
    shake = rng.normal(0, 0.5 * size, (n, len(names), 3))
    shake[..., [0, 2]] += rng.normal(0, np.sqrt(0.75) * size, (n, 1, 2))
    trial = shaken(rate, shake, names)
    body = [3 * k + axis for k, name in enumerate(trial.landmarks) if name in BODY for axis in range(3)]
    square = correlations(trial)[np.ix_(body, body)].reshape(len(body) // 3, 3, -1, 3)
    apart = ~np.eye(len(body) // 3, dtype=bool)
    for first, second, expected in ((0, 0, 0.75), (2, 2, 0.75), (1, 1, 0.0), (0, 2, 0.0), (0, 1, 0.0)):
        assert square[:, first, :, second][apart].mean() == pytest.approx(expected, abs=0.1)
    axes = np.diag(trial.noise_covariance)[body].reshape(-1, 3).mean(axis=0)
    np.testing.assert_allclose(axes, np.array([1.0, 0.25, 1.0]) / 0.75, atol=0.12)


def test_the_club_shakes_alone() -> None:
    """Truth: made. Club and ball stand in no correlation, whatever all markers do."""
    n, names = frames_and_names(240.0)
    shake = np.random.default_rng(1).normal(0, 0.001, (n, 1, 3)).repeat(len(names), axis=1)
    trial = shaken(240.0, shake, names)
    club = [3 * k + axis for k, name in enumerate(trial.landmarks) if name not in BODY for axis in range(3)]
    assert club
    np.testing.assert_array_equal(trial.noise_covariance[club], np.eye(3 * len(trial.landmarks))[club])


# --- gaps, short captures, jumps ---------------------------------------------------------------------------

NAMES = ("asis_left", "asis_right", "psis_left", "c7", "t8")


def still_noise(shake: np.ndarray, seen: np.ndarray | None = None, **cutoffs: float) -> MarkerNoise:
    """Noise of five landmarks that stand still but for their shake (n, 5, 3), where they are seen."""
    cutoffs = {"pelvis": 12.0, "thorax": 12.0} | cutoffs
    seen = np.ones(shake.shape[:2], dtype=bool) if seen is None else seen
    raw = np.where(seen[..., None], shake, np.nan)
    smoothed = raw.copy()
    for segment, cutoff in cutoffs.items():
        places = [k for k, name in enumerate(NAMES) if name in SEGMENT_LANDMARKS[segment]]
        smoothed[:, places] = filter_stretches(
            raw[:, places], partial(smooth, rate_hz=240.0, cutoff_hz=cutoff)
        )
    return measure_noise(NAMES, raw, smoothed, seen, 240.0, cutoffs)


def in_common(n: int, seed: int = 1) -> np.ndarray:
    """A shake of which all five landmarks share nine tenths of the variance."""
    rng = np.random.default_rng(seed)
    return 0.001 * (np.sqrt(0.9) * rng.normal(0, 1, (n, 1, 3)) + np.sqrt(0.1) * rng.normal(0, 1, (n, 5, 3)))


def test_landmarks_that_are_never_seen_together_are_taken_as_independent() -> None:
    """Truth: made. Each of two landmarks is seen half of the time: none between them, the others as made."""
    seen = np.ones((600, 5), dtype=bool)
    seen[290:, 0], seen[:310, 1] = False, False
    covariance = still_noise(in_common(600), seen).covariance
    assert covariance is not None
    assert np.linalg.eigvalsh(covariance)[0] > -1e-9
    assert covariance[6, 9] == pytest.approx(0.9, abs=0.1)
    assert abs(covariance[0, 3]) < covariance[6, 9] - 0.2  # pulled up a little to stay a covariance


def test_noise_is_correlated_alike_whatever_the_cutoffs() -> None:
    """Truth: made. A pelvis smoothed at 40 Hz beside a thorax at 12 Hz: their shared noise is found all the same."""
    covariance = still_noise(in_common(3000), pelvis=40.0).covariance
    assert covariance is not None
    assert covariance[0, 9] == pytest.approx(0.9, abs=0.06)


def test_two_jumps_of_the_whole_system_change_little() -> None:
    """Truth: made. All markers off by thirty times the noise in two frames of 400, as seen in a real capture."""
    rng = np.random.default_rng(8)
    shake = rng.normal(0, 0.001, (400, 5, 3))
    jumped = shake.copy()
    jumped[[60, 301]] += [0.03, 0.0, 0.03]
    before, after = still_noise(shake), still_noise(jumped)
    np.testing.assert_allclose(after.sd_m, before.sd_m, rtol=0.1)
    assert before.covariance is not None and after.covariance is not None
    assert np.abs(after.covariance - before.covariance).max() < 0.2


def test_a_short_capture_says_that_its_noise_is_taken_as_independent() -> None:
    """Truth: made. Landmarks with enough samples each and too few together."""
    seen = np.zeros((150, 5), dtype=bool)
    for k in range(5):
        seen[30 * k : 30 * (k + 1), k] = True
    noise = still_noise(in_common(150), seen)
    assert noise.covariance is None and np.isfinite(noise.sd_m).all()
    assert noise.told == (
        "no two body points are seen together in 20 frames: their noise is taken as independent",
    )
    few = still_noise(in_common(15))
    assert few.covariance is None and np.isnan(few.sd_m).all() and few.told == ()


def test_a_record_refuses_a_covariance_of_another_size() -> None:
    """Truth: made."""
    n, names = frames_and_names(240.0)
    trial = shaken(240.0, np.zeros((n, len(names), 3)), names)
    with pytest.raises(Exception, match="noise_covariance has shape"):
        replace(trial, noise_covariance=np.eye(3))
