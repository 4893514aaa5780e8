"""How noise changes during a capture, told from samples as measured, against the noise that was made."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from load.made_swing import as_captured, truth

from swinglab.conventions import SEGMENT_LANDMARKS
from swinglab.errors import BadRequest
from swinglab.load import load_trial
from swinglab.load.noise_in_time import noise_in_time
from swinglab.records import Setup, Trial
from swinglab.simulate import make_golfer, make_swing

Y_UP = Setup(up="+Y", target="+X", ball_position=(0.0, 0.0, 0.0))
PELVIS = ("asis_left", "asis_right", "psis_left", "psis_right")


def told(
    sd_m: np.ndarray, rate_hz: float = 240.0, seed: int = 0, names: tuple[str, ...] = PELVIS
) -> np.ndarray:
    """What is told of markers that stand still and shake by sd_m (n,)."""
    shake = np.random.default_rng(seed).normal(0, 1, (len(sd_m), len(names), 3)) * sd_m[:, None, None]
    found = noise_in_time(names, shake, np.ones(shake.shape[:2], dtype=bool), rate_hz)
    assert found is not None
    return found


@pytest.mark.parametrize("rate", [120.0, 240.0, 500.0])
def test_noise_that_grows_fourfold_is_found(rate: float) -> None:
    """Truth: made. Three seconds at 0.3 mm, one at 1.2: found within a seventh, and the step within 0.1 s."""
    seconds = np.arange(int(4 * rate)) / rate
    factor = np.mean(
        [told(np.where(seconds < 3, 3e-4, 12e-4), rate, seed)[:, 0] for seed in range(8)], axis=0
    )
    usual = factor[
        seconds < 2.9
    ].mean()  # a quarter of the capture is loud: its usual frame is louder than this
    assert factor[seconds > 3.1].mean() / usual == pytest.approx(4.0, rel=0.15)
    assert np.ptp(factor[seconds < 2.9]) < 0.3 * usual


def test_steady_noise_is_told_as_steady() -> None:
    """Truth: made. Eight swings of one noise: on average 1, in most frames 1 to a tenth, nowhere off by a half."""
    for seed in range(8):
        factor = told(np.full(700, 1e-3), seed=seed)
        assert factor.mean() == pytest.approx(1.0, abs=0.03)
        assert np.mean(np.abs(factor - 1) < 0.1) > 0.9
        assert factor.min() > 0.67 and factor.max() < 1.5


def in_delivery(rate_hz: float) -> np.ndarray:
    """Mean over six swings with 0.5 mm of noise at all speeds: trail hand, clubhead and C7, 30 ms before impact."""
    factors = []
    for seed in range(6):
        swing = make_swing(make_golfer(), seed=seed, rate_hz=rate_hz, noise_m=5e-4)
        names = tuple(name for name in swing.points if name != "ball")
        points = np.stack([swing.points[name] for name in names], axis=1)
        factor = noise_in_time(names, points, np.ones(points.shape[:2], dtype=bool), rate_hz)
        assert factor is not None
        delivery = int((swing.true_events["impact"] - 0.03) * rate_hz)
        factors.append([factor[delivery, names.index(name)] for name in ("hand_right", "clubhead", "c7")])
    return np.mean(factors, axis=0)


@pytest.mark.parametrize("rate", [120.0, 240.0])
def test_a_swings_motion_is_not_taken_for_noise(rate: float) -> None:
    """Truth: made. Noise does not change: hands and club within a fifth of usual."""
    np.testing.assert_allclose(in_delivery(rate), 1.0, atol=0.2)


def test_below_the_lowest_rate_nothing_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    """Truth: made. At 60 Hz motion would be taken for noise, so that nothing is told; nor of a fifth of a second."""
    seen = np.ones((400, 4), dtype=bool)
    assert noise_in_time(PELVIS, np.zeros((400, 4, 3)), seen, 100.0) is None
    assert noise_in_time(PELVIS, np.zeros((20, 4, 3)), seen[:20], 240.0) is None
    monkeypatch.setattr("swinglab.load.noise_in_time.LOWEST_RATE_HZ", 0.0)
    assert in_delivery(60.0).max() > 1.3


def test_one_wild_marker_and_two_jumps_change_nothing() -> None:
    """Truth: made. A marker lost by half a metre for 0.2 s, and two frames in which all jump by 3 cm."""
    shake = np.random.default_rng(4).normal(0, 1e-3, (700, 4, 3))
    wild = shake.copy()
    wild[300:348, 2] += np.random.default_rng(5).normal(0, 0.5, (48, 3))
    wild[[500, 600]] += [0.03, 0.0, 0.03]
    seen = np.ones((700, 4), dtype=bool)
    before, after = (noise_in_time(PELVIS, xyz, seen, 240.0) for xyz in (shake, wild))
    assert before is not None and after is not None
    assert (after / before).max() < 1.7


def test_samples_that_are_missing_leave_the_others() -> None:
    """Truth: made. One marker unseen for a second, all of them for 0.4 s: as usual there, told beside."""
    sd = np.where(np.arange(960) < 720, 3e-4, 12e-4)
    shake = np.random.default_rng(1).normal(0, 1, (960, 4, 3)) * sd[:, None, None]
    seen = np.ones((960, 4), dtype=bool)
    seen[:240, 1] = False
    seen[480:576] = False
    shake[~seen] = np.nan
    factor = noise_in_time(PELVIS, shake, seen, 240.0)
    assert factor is not None and np.isfinite(factor).all()
    assert factor[528, 0] == 1.0
    assert factor[760:].mean() / factor[:460].mean() == pytest.approx(4.0, rel=0.2)


def test_a_capture_without_noise_has_no_change_of_it() -> None:
    """Truth: made. Differences below a hundredth of a millimetre are roundings; the ball has no factor."""
    swing = make_swing(make_golfer(), seed=3, rate_hz=240.0)
    names = tuple(swing.exact)
    points = np.stack(list(swing.exact.values()), axis=1)
    factor = noise_in_time(names, points, np.ones(points.shape[:2], dtype=bool), 240.0)
    np.testing.assert_allclose(factor, 1.0, atol=0.1)
    assert (factor[:, names.index("ball")] == 1.0).all()


def loaded(rate_hz: float) -> Trial:
    """The swing by formula, noise of 0.3 mm and fourfold from 1.2 s on, as the loader hands it on."""
    points = truth(rate_hz)
    random = np.random.default_rng(2)
    sd = np.where(np.arange(len(points["c7"])) < 1.2 * rate_hz, 3e-4, 12e-4)[:, None]
    shaken = {
        name: xyz + random.normal(0, 1, xyz.shape) * sd for name, xyz in points.items() if name != "ball"
    }
    return load_trial(as_captured(points | shaken, rate_hz=rate_hz), Y_UP, swing="s", golfer="g")


def test_the_loader_tells_it_alike_for_a_segments_landmarks() -> None:
    """Truth: made. Shape and segments; at 60 Hz not; a record refuses another shape."""
    trial = loaded(240.0)
    assert trial.noise_in_time is not None
    assert trial.noise_in_time.shape == (len(trial.time_s), len(trial.landmarks))
    late, early = trial.time_s > 1.4, trial.time_s < 1.1
    for segment in ("pelvis", "thorax"):
        places = [k for k, name in enumerate(trial.landmarks) if name in SEGMENT_LANDMARKS[segment]]
        own = trial.noise_in_time[:, places]
        assert (own == own[:, :1]).all()
        assert own[late].mean() / own[early].mean() == pytest.approx(4.0, rel=0.2)
    assert loaded(60.0).noise_in_time is None
    with pytest.raises(BadRequest, match="noise_in_time has shape"):
        replace(trial, noise_in_time=trial.noise_in_time[:-1])
