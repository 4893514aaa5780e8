"""The panel that moves a posture: what it predicts, measures and judges, without a browser."""

from __future__ import annotations

import time

import pytest

from swinglab.controls import choose_study, set_choice, try_posture
from swinglab.controls.what_if_panel import WhatIfPanel

TILT, LOW = "thorax_lateral_flexion_deg", "low_point_ahead_cm"


@pytest.fixture(scope="module")
def panel(tmp_path_factory: pytest.TempPathFactory) -> WhatIfPanel:
    """A panel on a simulated golfer; the study has no swings to choose."""
    folder = tmp_path_factory.mktemp("study")
    (folder / "study.toml").write_text('title = "t"\n[lab]\nup = "+Z"\ntarget = "+X"\n', encoding="utf-8")
    (folder / "golfers.csv").write_text("golfer,hand\nG01,right\n", encoding="utf-8")
    (folder / "swings.csv").write_text("swing,golfer,capture\n", encoding="utf-8")
    return try_posture(choose_study(folder))


def test_a_slider_predicts_and_a_look_measures(panel: WhatIfPanel) -> None:
    """Truth: made. For 3 deg of tilt the straight line and the measured swing agree within 0.15 cm."""
    panel.reset()
    assert panel.predicted() == pytest.approx(
        {**panel.predicted(), LOW: panel.strike.values[LOW]}
    )  # nothing is changed
    panel.sliders[TILT].value = 3.0
    panel.attack.value, panel.low.value = "more", "more"
    panel.look()
    moved = panel.effect.change[LOW]
    assert moved == pytest.approx(panel.predicted()[LOW] - panel.strike.values[LOW], abs=0.15)
    assert moved < -1.0
    assert "attack angle (deg): as you expected" in panel.outcome.value
    assert "low point ahead of the ball (cm): not as you expected" in panel.outcome.value
    assert "not a prescription" in panel.outcome.value
    assert panel.viewer is not None and len(panel.viewer.layout_of_frames["swings"]) == 2
    assert panel.sketch.value.count("<polyline") == 2
    panel.reset()
    assert panel.sketch.value.count("<polyline") == 1 and not panel.outcome.value


def test_an_effect_that_cannot_be_predicted_is_not_drawn_as_none(panel: WhatIfPanel) -> None:
    """Truth: made. A slope that is not known; before, the arc was drawn as if the posture had no effect."""
    panel.reset()
    panel.sliders[TILT].value = 1.0
    panel.slopes[TILT] = panel.slopes[TILT].where(panel.slopes[TILT].index != LOW)
    panel.sliders[TILT].value = 2.0
    assert panel.predicted()[LOW] != panel.predicted()[LOW]
    assert "<polyline" not in panel.sketch.value
    assert "not known: low point ahead of the ball (cm) changed" in panel.sketch.value
    panel.slopes.clear()
    panel.reset()


def test_moving_a_slider_is_quick(panel: WhatIfPanel) -> None:
    """Truth: other. Once its slope is known, fifty moves take less than one measured look."""
    panel.sliders[TILT].value = 1.0
    start = time.perf_counter()
    panel.look()
    look = time.perf_counter() - start
    start = time.perf_counter()
    for k in range(50):
        panel.sliders[TILT].value = 1.0 + 0.5 * (k % 5)
    assert time.perf_counter() - start < look
    panel.reset()


def test_a_choice_is_judged(panel: WhatIfPanel) -> None:
    """Truth: made. No choice, the wrong one, the right one, and the hint."""
    task = set_choice(
        panel.chosen, "Which?", ["a", "b", "cannot be known"], answer=3, hint="think", because="so"
    )
    task.check_button.click()
    assert task.is_right is None and "Choose" in task.response.value
    task.given.value = 1
    task.check_button.click()
    assert task.is_right is False
    task.hint_button.click()
    assert "think" in task.response.value
    task.given.value = 3
    task.check_button.click()
    assert task.is_right and "so" in task.response.value
