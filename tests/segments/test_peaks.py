"""Peaks of turning speeds: their standard errors against many noisy copies, and the probability of their order."""

from __future__ import annotations

import numpy as np
import pytest
from segments.made_body import make_events, make_trial
from segments.test_reading_posture import turning_body

from swinglab.columns import error_column_name
from swinglab.segments import measure_posture, measure_swing
from swinglab.segments.peaks import TurnNoise, find_peaks, peaks_of_noisy
from swinglab.segments.turning_speeds import without_noise

TIMES = {"takeaway": 0.1, "top": 0.5, "shaft_horizontal_down": 0.62, "impact": 0.9, "finish": 1.15}
PARTS = ("pelvis", "thorax", "lead_arm", "club")


def gradient(angle: np.ndarray) -> np.ndarray:
    return np.gradient(angle, 1 / 240, axis=-1)


@pytest.mark.parametrize("shape", ["sharp", "flat"])
def test_the_error_of_a_peak_is_that_of_many_noisy_copies(shape: str) -> None:
    """Truth: made. 300 copies of one speed with new noise; a flat peak moves farther than its curvature says."""
    t = np.arange(120) / 240
    power = 2 if shape == "sharp" else 6
    speed = 500 - 500 * np.abs((t - 0.25) / 0.25) ** power
    window, noise = np.arange(10, 110), TurnNoise(0.02, None)
    random = np.random.default_rng(8)
    copies = speed + gradient(random.normal(0, noise.sd_deg, (300, len(t))))
    found = find_peaks(t, copies, window)
    expected = np.sqrt(np.mean((found.time_s - 0.25) ** 2)), np.sqrt(np.mean((found.value - 500) ** 2))
    predicted = []
    for copy in copies[:40]:
        calm = without_noise("pelvis", copy, t, np.nan)
        own = find_peaks(t, calm[None], window)
        drawn = peaks_of_noisy(t, calm, window, [noise], gradient, seed=1)
        predicted.append(
            [np.mean((d - m) ** 2) for d, m in ((drawn.time_s, own.time_s), (drawn.value, own.value))]
        )
    for error, ours in zip(expected, np.sqrt(np.mean(predicted, axis=0)), strict=True):
        assert 0.7 < error / ours < 1.4


def late(trial, part: tuple[str, ...], by_s: float):
    """The trial with some landmarks later by a time."""
    points = {
        name: np.column_stack(
            [
                np.interp(trial.time_s - by_s * (name.startswith(part)), trial.time_s, axis)
                for axis in trial.point(name).T
            ]
        )
        for name in trial.landmarks
    }
    return make_trial(points, rate_hz=trial.rate_hz, noise_m=2e-4)


def test_a_sequence_has_the_probability_of_its_order() -> None:
    """Truth: made. Pelvis 30 ms before three parts that peak together: no order is sure. No points: no probability."""
    trial = late(
        turning_body(), ("jugular", "xiphoid", "c7", "t8", "acromion", "elbow", "wrist", "hand", "club"), 0.03
    )
    posture, events = measure_posture(trial), make_events(TIMES, error_s=0.003)
    found = measure_swing(posture, events, trial)
    times = [found[f"{part}_peak_axial_speed_time_s"] for part in PARTS]
    assert times[0] == pytest.approx(times[1] - 0.03, abs=0.005)
    assert 0.0 < found["peak_order_probability"] < 0.7
    for part in PARTS:
        assert found[error_column_name(f"{part}_peak_axial_speed_dps")] > 0
        assert found[error_column_name(f"{part}_peak_axial_speed_time_s")] > 0.003
    again = measure_swing(posture, events, trial)
    assert again == pytest.approx(found, nan_ok=True)  # the draws are always the same
    without = measure_swing(posture, events)
    assert np.isnan(without["peak_order_probability"])
    assert np.isnan(without[error_column_name("club_peak_axial_speed_dps")])
