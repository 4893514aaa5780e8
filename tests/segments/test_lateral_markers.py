"""Marker sets with one marker at elbows, knees and ankles, given centres among markers, and the markers' radius."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation
from segments.made_body import STANDING, in_study_frame, make_trial

from swinglab.records import Setup
from swinglab.segments import measure_posture
from swinglab.segments.centres import hip_centres
from swinglab.segments.lateral_marker import JOINT_WIDTH_M, hinge_centre

MEDIAL = tuple(f"{joint}_medial_{side}" for joint in ("elbow", "knee", "ankle") for side in ("left", "right"))


@given(st.floats(8.0, 140.0), st.booleans(), st.integers(0, 10**6))
@settings(max_examples=40, deadline=None)
def test_centre_and_axis_of_a_bent_hinge_are_recovered(bend_deg: float, forward: bool, seed: int) -> None:
    """Truth: made. Two segments bent about a lateral axis, turned at random (scipy), marker at an offset on it."""
    bend = np.radians(bend_deg) * (1.0 if forward else -1.0)
    upper, centre, axis = np.array([0.0, 0.30, 0.0]), np.zeros(3), np.array([0.0, 0.0, 1.0])
    lower = 0.26 * np.array([np.sin(bend), -np.cos(bend), 0.0])
    turn = Rotation.random(rng=np.random.default_rng(seed))
    points = [turn.apply(p) for p in (upper, centre + 0.02 * axis, lower)]
    found, along = hinge_centre(points[0], points[1], points[2], 0.02, forward)
    np.testing.assert_allclose(found, 0.0, atol=1e-9)
    np.testing.assert_allclose(along, turn.apply(axis), atol=1e-9)


def test_a_straight_limb_has_its_centre_on_the_line() -> None:
    """Truth: made. The marker beside a straight arm, nearer than half its width and as far."""
    upper, lower = np.array([0.0, 0.3, 0.0]), np.array([0.0, -0.3, 0.0])
    for distance in (0.015, 0.02):
        place, _ = hinge_centre(upper, np.array([0.0, 0.0, distance]), lower, 0.02, True)
        np.testing.assert_allclose(place, 0.0, atol=1e-9)


def one_sided(points: dict[str, np.ndarray]) -> dict[str, np.ndarray]:
    """The body without medial markers, the lateral ones at half the usual width from the joints' centres."""
    found = {name: xyz for name, xyz in points.items() if name not in MEDIAL}
    for joint, width in JOINT_WIDTH_M.items():
        for side in ("left", "right"):
            lateral, medial = (points[f"{joint}_{end}_{side}"] for end in ("lateral", "medial"))
            axis = (lateral - medial) / np.linalg.norm(lateral - medial)
            found[f"{joint}_lateral_{side}"] = (lateral + medial) / 2 + width / 2 * axis
    return found


def bent() -> dict[str, np.ndarray]:
    """The standing body with elbows and knees bent by 40 degrees about their own axes, ankles moved with the shanks."""
    points = dict(STANDING)
    for side in ("left", "right"):
        for joint, moved, angle in (
            ("elbow", ("wrist_radial", "wrist_ulnar", "hand"), 40.0),
            ("knee", ("ankle_lateral", "ankle_medial", "heel", "toe"), -40.0),
        ):
            lateral, medial = (points[f"{joint}_{end}_{side}"] for end in ("lateral", "medial"))
            middle, axis = (lateral + medial) / 2, (lateral - medial) / np.linalg.norm(lateral - medial)
            axis = axis if side == "right" else -axis
            for name in moved:
                turned = Rotation.from_rotvec(np.radians(angle) * axis).apply(
                    points[f"{name}_{side}"] - middle
                )
                points[f"{name}_{side}"] = middle + turned
    return points


def test_a_set_with_lateral_markers_alone_loses_internal_rotations_only() -> None:
    """Truth: made. The 23 quantities that a missing medial marker cost are back, but for the turns about long axes."""
    points = in_study_frame(bent())
    whole, one = (measure_posture(make_trial(p)) for p in (points, one_sided(points)))
    lost = set(whole.quantities) - set(one.quantities)
    assert lost == {f"{s}_{j}_internal_rotation_deg" for s in ("lead", "trail") for j in ("hip", "shoulder")}
    assert all("long axis" in one.missing[name] for name in lost)
    assert "lateral epicondyle" in one.methods["lead_elbow_flexion_deg"]
    limits = {
        "knee_flexion": 3.0,
        "elbow_flexion": 6.0,
        "hip_": 1.0,
        "shoulder_elevation": 1.0,
        "elbow_spacing": 1.0,
    }
    for name in one.quantities:
        for part, limit in limits.items():
            if part in name:
                assert one.curve(name)[0] == pytest.approx(whole.curve(name)[0], abs=limit), name


def test_given_centres_serve_among_markers() -> None:
    """Truth: made. A marker set whose file holds elbow and knee centres in place of epicondyles."""
    points = in_study_frame(bent())
    mixed = {n: p for n, p in points.items() if not n.startswith(("elbow", "knee"))}
    for joint in ("elbow", "knee"):
        for side in ("left", "right"):
            mixed[f"{joint}_{side}"] = (
                points[f"{joint}_lateral_{side}"] + points[f"{joint}_medial_{side}"]
            ) / 2
    posture, whole = (measure_posture(make_trial(p)) for p in (mixed, points))
    for name in (
        "lead_elbow_flexion_deg",
        "trail_knee_flexion_deg",
        "lead_hip_flexion_deg",
        "elbow_spacing_cm",
    ):
        assert posture.curve(name)[0] == pytest.approx(whole.curve(name)[0], abs=6.0), name


def test_the_markers_radius_is_taken_off_the_hip_regression() -> None:
    """Truth: published (Harrington et al. 2007, by `hip_centres`), on markers moved out by their radius."""
    radius = 0.007
    skin = in_study_frame(STANDING)
    forward = {"asis": 1.0, "psis": -1.0}
    # The pelvis's forward axis in the study frame, from the bony points.
    front = (skin["asis_left"] + skin["asis_right"]) / 2 - (skin["psis_left"] + skin["psis_right"]) / 2
    front /= np.linalg.norm(front)
    moved = {
        n: p + radius * forward.get(n.split("_")[0], 0.0) * front
        for n, p in skin.items()
        if "sacrum" not in n
    }
    bare = {n: p for n, p in skin.items() if "sacrum" not in n}
    truth = measure_posture(make_trial(bare)).centres_m["hip_right"]
    trial = make_trial(moved)
    corrected = measure_posture(replace(trial, setup=Setup(marker_radius_mm=7.0)))
    np.testing.assert_allclose(corrected.centres_m["hip_right"], truth, atol=1e-5)
    assert np.linalg.norm(measure_posture(trial).centres_m["hip_right"] - truth) > 0.004
    assert "markers' radius" in corrected.methods["lead_hip_flexion_deg"]
    assert hip_centres(0.24, 0.15, 0.9).shape == (3,)
