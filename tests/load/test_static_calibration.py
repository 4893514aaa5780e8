"""Landmarks of a static capture, carried through a swing by clusters. Truth: made."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from swinglab.conventions import SEGMENT_LANDMARKS
from swinglab.errors import MissingInput
from swinglab.load import load_trial
from swinglab.records import Capture, Setup
from swinglab.segments import measure_posture
from swinglab.simulate import Swing, make_golfer, make_swing

MEDIAL = ("knee_medial_left", "knee_medial_right")
SETUP = Setup(up="+Y", target="+X", ball_position=(0.0, 0.0, 0.0), unit="m", reference_behind_face_cm=0.0)


@pytest.fixture(scope="module")
def swing() -> Swing:
    """A simulated swing with every landmark, without noise."""
    return make_swing(make_golfer(), seed=2)


def capture_of(
    swing: Swing, leave_out: tuple[str, ...] = (), cluster: bool = True, noise_m: float = 0.0
) -> Capture:
    """The swing with three unnamed markers on each thigh, fixed to knee and hip, as a file would hold it."""
    exact = dict(swing.exact)
    if cluster:
        for side in ("left", "right"):
            lateral, medial = exact[f"knee_lateral_{side}"], exact[f"knee_medial_{side}"]
            hip = swing.exact[f"asis_{side}"] - [0.0, 0.09, 0.0]
            across = (lateral - medial) / np.linalg.norm(lateral - medial, axis=1, keepdims=True)
            along = hip - (lateral + medial) / 2
            along -= (along * across).sum(axis=1, keepdims=True) * across
            along /= np.linalg.norm(along, axis=1, keepdims=True)
            front = np.cross(across, along)
            middle = (lateral + medial) / 2 + 0.15 * along
            for k, (a, b, c) in enumerate(
                ((0.06, 0.0, 0.05), (0.05, 0.08, 0.0), (0.06, 0.0, -0.05)), start=1
            ):
                exact[f"thigh_{side}_{k}"] = middle + a * across + b * along + c * front
    names = tuple(name for name in exact if name not in leave_out and name != "ball")
    points = np.stack([exact[name] for name in names], axis=1)
    noise = np.random.default_rng(1).normal(0, noise_m, points.shape) if noise_m else 0.0
    return Capture("simulated.c3d", names, points + noise, swing.rate_hz)


def static_of(capture: Capture) -> Capture:
    """The golfer standing still as at address, for a second."""
    return replace(capture, points_m=np.repeat(capture.points_m[:1], int(capture.rate_hz), axis=0))


def test_virtual_medial_markers_are_where_the_markers_were(swing: Swing) -> None:
    """Truth: made. Medial knee markers taken off for the swing: 3 mm off at most, and every angle is back."""
    whole = capture_of(swing)
    without = capture_of(swing, leave_out=MEDIAL)
    trial = load_trial(without, SETUP, swing="s", golfer="g", static=static_of(whole))
    truth = load_trial(whole, SETUP, swing="s", golfer="g")
    for name in MEDIAL:
        off = np.linalg.norm(trial.point(name) - truth.point(name), axis=1)
        assert np.nanmax(off) < 0.003, name
        assert any(
            f"{name} was reconstructed from the static capture" in warning for warning in trial.warnings
        )
    with_static, all_markers = measure_posture(trial), measure_posture(truth)
    assert set(with_static.quantities) == set(all_markers.quantities)
    for name in ("lead_knee_flexion_deg", "trail_hip_internal_rotation_deg"):
        np.testing.assert_allclose(with_static.curve(name), all_markers.curve(name), atol=2.5)


def test_left_handers_are_carried_alike(swing: Swing) -> None:
    """Truth: made. The same file read as a left-hander's: its sides are exchanged after carrying."""
    trial = load_trial(
        capture_of(swing, leave_out=MEDIAL), replace(SETUP, hand="left"), swing="s", golfer="g",
        static=static_of(capture_of(swing)),
    )  # fmt: skip
    assert trial.has(*MEDIAL)


def test_without_a_cluster_the_landmark_stays_missing_with_the_reason(swing: Swing) -> None:
    """Truth: made. Only the lateral knee marker is on the thigh."""
    static = static_of(capture_of(swing, cluster=False))
    without = capture_of(swing, leave_out=MEDIAL, cluster=False)
    trial = load_trial(without, SETUP, swing="s", golfer="g", static=static)
    reasons = [w for w in trial.warnings if "have the same distances" in w]
    assert not trial.has("knee_medial_left") and len(reasons) == 2


def test_a_landmark_named_in_the_study_may_be_in_the_static_capture_alone(swing: Swing) -> None:
    """Truth: made. Its label is missing in the swing's file: an error without the static capture, none with it."""
    setup = replace(SETUP, landmarks={name: (name,) for name in MEDIAL})
    without = capture_of(swing, leave_out=MEDIAL, noise_m=2e-4)
    with pytest.raises(MissingInput, match="knee_medial_left"):
        load_trial(without, setup, swing="s", golfer="g")
    trial = load_trial(without, setup, swing="s", golfer="g", static=static_of(capture_of(swing)))
    assert trial.has(*MEDIAL) and all(name in SEGMENT_LANDMARKS["thigh_left"] for name in MEDIAL[:1])
