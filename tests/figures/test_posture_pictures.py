"""Curves of posture and stick figures: their data and their labels."""

from __future__ import annotations

import numpy as np
import pytest
from segments.made_body import STANDING, in_study_frame, make_events, moving, standing

from swinglab.columns import quantity_column
from swinglab.errors import BadRequest, MissingInput
from swinglab.figures import draw_posture_curves, draw_stick_figure
from swinglab.segments import measure_posture


@pytest.fixture(scope="module")
def posture():
    """A moving body with noise."""
    return measure_posture(moving(80, noise_m=0.001))


def test_curves_show_values_errors_and_events(posture) -> None:
    """Truth: made. The line is the posture's curve from impact on, the band one standard error, events by name."""
    events = make_events({"top": 0.1, "impact": 0.25})
    names = ["pelvis_axial_rotation_deg", "thorax_axial_rotation_deg"]
    ax = draw_posture_curves(posture, names, events)
    lines = [line for line in ax.lines if len(line.get_xdata()) == len(posture.time_s)]
    for name, line in zip(names, lines, strict=True):
        assert np.array_equal(line.get_ydata(), posture.curve(name))
        assert np.allclose(line.get_xdata(), posture.time_s - 0.25)
        assert line.get_label() == quantity_column(name).label
    assert lines[0].get_linestyle() != lines[1].get_linestyle()
    band = ax.collections[0].get_paths()[0].vertices[:, 1]
    error = posture.standard_errors[:, posture.quantities.index(names[0])]
    assert band.max() == pytest.approx((posture.curve(names[0]) + error).max())
    assert {text.get_text() for text in ax.texts} == {"top", "impact"}
    assert ax.get_xlabel() == "time from impact (s)" and ax.get_ylabel() == "deg"


def test_one_curve_carries_its_full_label(posture) -> None:
    """Truth: made. Label, unit and positive direction of columns.py; time counts from the file's start."""
    ax = draw_posture_curves(posture, ["thorax_flexion_deg"])
    assert ax.get_ylabel() == quantity_column("thorax_flexion_deg").axis_label
    assert ax.get_xlabel() == "time (s)" and ax.get_legend() is None


def test_curves_refuse_mixed_units_and_missing_quantities(posture) -> None:
    """Truth: made. Degrees and centimetres share no axis; an unknown name gets near names."""
    with pytest.raises(BadRequest, match="one unit"):
        draw_posture_curves(posture, ["thorax_flexion_deg", "elbow_spacing_cm"])
    with pytest.raises(BadRequest, match="thorax_flexion_deg"):
        draw_posture_curves(posture, ["thorax_flexon_deg"])
    with pytest.raises(BadRequest):
        draw_posture_curves(posture, [])
    bare = measure_posture(standing(landmarks=tuple(f"{n}x" for n in STANDING)))
    with pytest.raises(MissingInput, match="no landmark jugular_notch"):
        draw_posture_curves(bare, ["thorax_flexion_deg"])


@pytest.mark.parametrize(("view", "toe"), [("face_on", (0, 1)), ("down_the_line", (2, 1)), ("above", (0, 2))])
def test_stick_figure_draws_the_frame_in_each_view(view: str, toe: tuple[int, int]) -> None:
    """Truth: made. The lead toe lies where its coordinates say, seen from where the view is named for."""
    trial = standing()
    ax = draw_stick_figure(trial, 0.05, view=view)
    drawn = np.concatenate([line.get_xydata() for line in ax.lines])
    xyz = in_study_frame(STANDING)["toe_left"]
    expected = np.array([xyz[toe[0]], xyz[toe[1]] * (-1 if view == "above" else 1)])
    assert np.linalg.norm(drawn - expected, axis=1).min() < 1e-12
    assert ax.get_aspect() == 1.0
    texts = {text.get_text() for text in ax.get_legend().get_texts()}
    assert texts == {"lead", "trail", "trunk", "club", "ball"}
    dashes = {line.get_label(): line.get_linestyle() for line in ax.lines}
    assert dashes["lead"] != dashes["trail"]


def test_stick_figure_refuses_unknown_views_and_times() -> None:
    """Truth: made. Near names for the view, the capture's span for the time."""
    with pytest.raises(BadRequest, match="face_on"):
        draw_stick_figure(standing(), 0.05, view="face on")
    with pytest.raises(BadRequest, match="outside the capture"):
        draw_stick_figure(standing(), 5.0)
