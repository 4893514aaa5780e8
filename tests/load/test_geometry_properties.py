"""What must not change a trial: where the laboratory's axes point, the unit of the file, the hand of a mirror image."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from load.made_swing import as_captured, truth
from scipy.spatial.transform import Rotation

from swinglab.load import load_trial
from swinglab.load.study_frame import study_axes, turn
from swinglab.records import Setup

ANGLE = st.floats(-180, 180)
SHORT = {name: path[300:420] for name, path in truth().items()}


@given(ANGLE, ANGLE, ANGLE)
def test_axes_are_a_right_handed_frame_for_any_two_directions(first, second, third) -> None:
    """Truth: made. Rows orthonormal, determinant 1, up kept, target level."""
    turned = Rotation.from_euler("xyz", [first, second, third], degrees=True).as_matrix()
    axes = study_axes(Setup(up=tuple(turned[1]), target=tuple(turned[0] + 0.3 * turned[1])))
    np.testing.assert_allclose(axes, turned, atol=1e-9)
    np.testing.assert_allclose(np.linalg.det(axes), 1, atol=1e-9)


@settings(deadline=None, max_examples=15)
@given(
    ANGLE, ANGLE, ANGLE, st.sampled_from(["m", "cm", "mm"]), st.booleans(), st.floats(-2, 2), st.floats(-1, 1)
)
def test_a_trial_does_not_know_its_laboratory(first, second, third, unit, mirrored, along, ground) -> None:
    """Truth: made. A rigid motion of the laboratory, the file's unit and a mirror leave every point alone."""
    axes = Rotation.from_euler("xyz", [first, second, third], degrees=True).as_matrix()
    hand = "left" if mirrored else "right"
    size = {"m": 1.0, "cm": 100.0, "mm": 1000.0}[unit]
    setup = Setup(up=tuple(axes[1]), target=tuple(axes[0]), hand=hand, ground=ground * size)
    capture = as_captured(SHORT, hand=hand, axes=axes, ground_m=ground, shift_m=(along, -along), unit=unit)
    trial = load_trial(capture, setup, swing="s", golfer="g")
    plain = load_trial(as_captured(SHORT), Setup(up="+Y", target="+X"), swing="s", golfer="g")
    assert trial.landmarks == plain.landmarks
    np.testing.assert_allclose(trial.points_m, plain.points_m, atol=1e-7)
    np.testing.assert_allclose(trial.raw_m, plain.raw_m, atol=1e-9)


@given(ANGLE, st.booleans())
def test_turning_keeps_distances(angle, mirrored) -> None:
    """Truth: made."""
    axes = Rotation.from_euler("y", angle, degrees=True).as_matrix()
    setup = Setup(up="+Y", target=tuple(axes[0]), hand="left" if mirrored else "right")
    points = np.random.default_rng(0).normal(0, 1, (10, 3))
    turned = turn(points, setup, 1.0)
    np.testing.assert_allclose(
        np.linalg.norm(turned[1:] - turned[:-1], axis=1),
        np.linalg.norm(points[1:] - points[:-1], axis=1),
        atol=1e-12,
    )
