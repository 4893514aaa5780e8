"""The sketch of the arc's bottom: heights of a circle, and what it shows as text."""

from __future__ import annotations

import xml.etree.ElementTree as ET

import numpy as np
import pytest

from swinglab.figures.arc_sketch import BOTTOM, LEFT, PIXELS, TALLER, TOP, sketch_arcs, sole_height

ARC = {"low_point_ahead_cm": 9.0, "low_point_height_cm": -0.8, "arc_radius_m": 1.4,
       "arc_plane_inclination_deg": 62.0}  # fmt: skip


def test_heights_are_those_of_a_circle_in_a_tilted_plane() -> None:
    """Truth: made. Points of a circle of 1.4 m in a plane inclined by 62 deg, seen along the ground and in height."""
    angle = np.radians(np.linspace(-15, 15, 31))
    x = 9.0 + 140 * np.sin(angle)
    height = -0.8 + 140 * (1 - np.cos(angle)) * np.sin(np.radians(62.0))
    assert sole_height(ARC, x) == pytest.approx(height, abs=1e-9)


def test_a_sketch_is_well_formed_and_says_its_numbers() -> None:
    """Truth: made. Two arcs: two curves, two low points where they belong, and a label for who cannot see it."""
    other = ARC | {"low_point_ahead_cm": 6.0}
    root = ET.fromstring(sketch_arcs([("as swung", ARC), ("changed", other)]))
    curves = [e for e in root if e.tag.endswith("polyline")]
    assert len(curves) == 2 and curves[0].get("stroke-dasharray") != curves[1].get("stroke-dasharray")
    assert "+9.0 cm" in root.get("aria-label", "") and "+6.0 cm" in root.get("aria-label", "")
    lows = [e for e in root if e.tag.endswith("path")]
    at = [float(e.get("d", "").split()[1]) + 6 for e in lows]
    assert at == pytest.approx([PIXELS * (9.0 - LEFT), PIXELS * (6.0 - LEFT)], abs=0.1)
    points = np.array([p.split(",") for p in curves[0].get("points", "").split()], float)
    assert points[:, 1].max() == pytest.approx(PIXELS * TALLER * (TOP + 0.8), abs=0.2)
    assert points[:, 1].max() < PIXELS * TALLER * (TOP - BOTTOM)
