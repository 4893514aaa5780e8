"""Knee, elbow, wrist and hip of limbs that move in one plane, against the plane's own geometry."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.spatial.transform import Rotation
from segments.made_body import make_trial

from swinglab.conventions import GOLFER_AXES
from swinglab.segments import measure_posture


def straight_body() -> dict[str, np.ndarray]:
    """Right limbs straight and true to the axes, in the golfer's frame, with pelvis and thorax upright."""
    up = {
        "hip": 0.90,
        "knee": 0.50,
        "ankle": 0.10,
        "shoulder": 1.40,
        "elbow": 1.10,
        "wrist": 0.85,
        "hand": 0.75,
    }
    points = {
        "asis_left": (0.05, 1.0, -0.12), "asis_right": (0.05, 1.0, 0.12), "psis_left": (-0.09, 1.0, -0.04),
        "psis_right": (-0.09, 1.0, 0.04), "jugular_notch": (0.05, 1.45, 0), "c7": (-0.05, 1.45, 0),
        "xiphoid": (0.08, 1.25, 0), "t8": (-0.08, 1.25, 0), "hand_right": (0, up["hand"], 0.2),
        "hand_left": (0, up["hand"], -0.2), "hip_right": (0, up["hip"], 0.1), "hip_left": (0, up["hip"], -0.1),
        "shoulder_right": (0, up["shoulder"], 0.2), "shoulder_left": (0, up["shoulder"], -0.2),
    }  # fmt: skip
    for side, sign in (("right", 1), ("left", -1)):
        for joint, z in (("knee", 0.1), ("ankle", 0.1), ("elbow", 0.2)):
            points[f"{joint}_lateral_{side}"] = (0, up[joint], sign * (z + 0.04))
            points[f"{joint}_medial_{side}"] = (0, up[joint], sign * (z - 0.04))
        points[f"wrist_radial_{side}"] = (0, up["wrist"], sign * 0.23)
        points[f"wrist_ulnar_{side}"] = (0, up["wrist"], sign * 0.17)
    return {name: np.array(xyz, dtype=float) for name, xyz in points.items()}


def turned(
    points: dict[str, np.ndarray], stems: tuple[str, ...], about: np.ndarray, axis: str, deg: float
) -> None:
    """Turn the landmarks of these stems about a point, in place; left ones as in a mirror."""
    for side, sign in (("right", 1.0), ("left", -1.0)):
        signed = deg if axis == "z" else sign * deg
        rotation = Rotation.from_euler(axis, signed, degrees=True)
        centre = about * (1, 1, sign)
        for stem in stems:
            name = f"{stem}_{side}"
            points[name] = rotation.apply(points[name] - centre) + centre


def first_values(points: dict[str, np.ndarray]) -> dict[str, float]:
    """Every quantity of the first frame."""
    posture = measure_posture(make_trial({name: xyz @ GOLFER_AXES.T for name, xyz in points.items()}))
    return dict(zip(posture.quantities, posture.values[0], strict=True))


@pytest.mark.parametrize("bend", [-5.0, 0.0, 20.0, 90.0, 130.0])
def test_knee_flexion_is_the_shanks_turn_backward(bend: float) -> None:
    """Truth: made. The shank turned backward about the knee by a known angle, both legs (Grood & Suntay 1983)."""
    points = straight_body()
    turned(points, ("ankle_lateral", "ankle_medial"), np.array([0, 0.5, 0.1]), "z", -bend)
    found = first_values(points)
    assert found["lead_knee_flexion_deg"] == pytest.approx(bend, abs=1e-9)
    assert found["trail_knee_flexion_deg"] == pytest.approx(bend, abs=1e-9)


@pytest.mark.parametrize("bend", [-5.0, 0.0, 45.0, 110.0])
def test_elbow_flexion_is_the_forearms_turn_forward(bend: float) -> None:
    """Truth: made. The forearm turned forward about the elbow by a known angle, both arms."""
    points = straight_body()
    turned(points, ("wrist_radial", "wrist_ulnar", "hand"), np.array([0, 1.1, 0.2]), "z", bend)
    found = first_values(points)
    assert found["lead_elbow_flexion_deg"] == pytest.approx(bend, abs=1e-9)
    assert found["trail_elbow_flexion_deg"] == pytest.approx(bend, abs=1e-9)


def test_wrist_flexes_toward_the_palm_and_deviates_to_the_little_finger() -> None:
    """Truth: made. Palms face forward: the hand turned forward is flexed, turned inward deviates ulnarly."""
    points = straight_body()
    straight = first_values(points)
    turned(points, ("hand",), np.array([0, 0.85, 0.2]), "z", 30.0)
    found = first_values(points)
    assert found["lead_wrist_flexion_deg"] - straight["lead_wrist_flexion_deg"] == pytest.approx(
        30.0, abs=1.0
    )
    points = straight_body()
    turned(points, ("hand",), np.array([0, 0.85, 0.2]), "x", 20.0)  # toward the middle of the body
    change = (
        first_values(points)["lead_wrist_ulnar_deviation_deg"] - straight["lead_wrist_ulnar_deviation_deg"]
    )
    assert change == pytest.approx(20.0, abs=1e-9)


@pytest.mark.parametrize(
    ("axis", "deg", "motion"),
    [("z", 40.0, "flexion"), ("x", 15.0, "adduction"), ("y", 25.0, "internal_rotation")],
)
def test_hip_signs(axis: str, deg: float, motion: str) -> None:
    """Truth: made. Thigh forward, toward the mid-line, turned inward are positive on both sides (Wu 2002)."""
    points = straight_body()
    leg = ("knee_lateral", "knee_medial", "ankle_lateral", "ankle_medial")
    turned(points, leg, np.array([0, 0.9, 0.1]), axis, deg)
    found = first_values(points)
    for word in ("lead", "trail"):
        for other in ("flexion", "adduction", "internal_rotation"):
            expected = deg if other == motion else 0.0
            assert found[f"{word}_hip_{other}_deg"] == pytest.approx(expected, abs=1e-9)


@pytest.mark.parametrize(
    ("axis", "deg", "plane", "elevation"), [("x", -90.0, 0.0, 90.0), ("z", 60.0, 90.0, 60.0)]
)
def test_shoulder_plane_and_elevation(axis: str, deg: float, plane: float, elevation: float) -> None:
    """Truth: made. An arm raised sideways is in plane 0, forward in plane 90 (Wu 2005)."""
    points = straight_body()
    arm = ("elbow_lateral", "elbow_medial", "wrist_radial", "wrist_ulnar", "hand")
    turned(points, arm, np.array([0, 1.4, 0.2]), axis, deg)
    found = first_values(points)
    for word in ("lead", "trail"):
        assert found[f"{word}_shoulder_plane_of_elevation_deg"] == pytest.approx(plane, abs=1e-9)
        assert found[f"{word}_shoulder_elevation_deg"] == pytest.approx(elevation, abs=1e-9)
