"""Cardan angles in closed form, against scipy's general way."""

import warnings

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from swinglab.conventions import ISB_ORDER, SHOULDER_ORDER, TURN_FIRST
from swinglab.segments.geometry import cardan

ORDERS = (TURN_FIRST, ISB_ORDER, SHOULDER_ORDER)


@pytest.mark.parametrize("order", ORDERS)
def test_angles_are_those_of_scipy(order):
    """other: scipy.spatial.transform.Rotation, on 5,000 random orientations."""
    turned = Rotation.random(5000, rng=3)
    np.testing.assert_allclose(
        cardan(turned.as_matrix(), order).T, turned.as_euler(order, degrees=True), atol=1e-9
    )


@pytest.mark.parametrize(
    ("order", "middle"),
    [
        (TURN_FIRST, 90),
        (TURN_FIRST, -90),
        (ISB_ORDER, 90),
        (ISB_ORDER, -90),
        (SHOULDER_ORDER, 0),
        (SHOULDER_ORDER, 180),
    ],
)
def test_where_two_axes_coincide_the_last_angle_is_zero(order, middle):
    """other: scipy, which warns there; the kit's warning is made from the values."""
    matrices = Rotation.from_euler(order, [[30, middle, 20], [-120, middle, 50]], degrees=True).as_matrix()
    with warnings.catch_warnings():
        warnings.filterwarnings("ignore", message="Gimbal lock")
        expected = Rotation.from_matrix(matrices).as_euler(order, degrees=True)
    np.testing.assert_allclose(cardan(matrices, order).T, expected, atol=1e-6)


@pytest.mark.parametrize("order", ORDERS)
def test_a_missing_number_makes_all_three_angles_missing(order):
    """made: a frame of which one axis is not known has no angles; its neighbours have theirs."""
    matrices = Rotation.random(3, rng=1).as_matrix()
    matrices[1, 0, 0] = np.nan
    assert np.isnan(cardan(matrices, order)).all(axis=0).tolist() == [False, True, False]
