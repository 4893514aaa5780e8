"""The bend of a natural cubic spline with three knots."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.interpolate import CubicSpline

from swinglab.statistics.spline import natural_spline, spline_knots

KNOTS = np.array([-1.2, 0.3, 2.0])


def test_between_the_knots_it_is_the_natural_interpolating_spline() -> None:
    """Truth: other (scipy's CubicSpline, natural at both ends, through its values at the knots)."""
    inside = np.linspace(KNOTS[0], KNOTS[2], 41)
    known = CubicSpline(KNOTS, natural_spline(KNOTS, KNOTS), bc_type="natural")
    assert natural_spline(inside, KNOTS) == pytest.approx(known(inside), abs=1e-12)


def test_beyond_the_knots_it_is_straight_with_slopes_0_and_1() -> None:
    """Truth: made. Its coefficient beside a line is the slope at the high end minus that at the low end."""
    step = 0.5
    low, high = np.arange(-4.0, -1.2, step), np.arange(2.0, 9.0, step)
    assert np.diff(natural_spline(low, KNOTS)) == pytest.approx(0.0)
    assert np.diff(natural_spline(high, KNOTS)) == pytest.approx(step)


def test_two_values_cannot_bend() -> None:
    """Truth: made."""
    x = np.repeat([1.0, 2.0], [9, 1])
    assert not natural_spline(x, spline_knots(x)).any()
