"""Deformation of segments and common noise against points whose noise is known. Truth: made."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from swinglab.load.rigidity import measure_rigidity

PELVIS = ("asis_left", "asis_right", "psis_left", "psis_right")
THORAX = ("jugular_notch", "xiphoid", "c7", "t8", "acromion_left")
NAMES = (*PELVIS, *THORAX, "heel_left")
N = 3000


def body(rng: np.random.Generator) -> np.ndarray:
    """(N, k, 3) two rigid segments that turn by 80 degrees and move by half a metre."""
    places = rng.uniform(0.0, 0.3, (len(NAMES), 3))
    time = np.linspace(0, 2 * np.pi, N)
    turn = Rotation.from_rotvec(np.outer(np.sin(time), [0.3, 1.4, 0.2])).as_matrix()
    return np.einsum("nij,kj->nki", turn, places) + 0.5 * np.sin(time)[:, None, None]


def rigidity(noise: np.ndarray, known_m: float):
    """Rigidity of the body with this noise, of which `known_m` is expected in each coordinate."""
    points = body(np.random.default_rng(3)) + noise
    used = np.ones(points.shape[:2], dtype=bool)
    return measure_rigidity(NAMES, points, used, np.full(len(NAMES), known_m), 240.0, {})


def test_white_noise_that_is_known_leaves_no_deformation() -> None:
    """Truth: made. 1 mm of independent noise: less than 0.2 mm of deformation, hardly any common noise."""
    deformation, common = rigidity(np.random.default_rng(1).normal(0, 1e-3, (N, len(NAMES), 3)), 1e-3)
    assert np.nanmax(deformation) < 2e-4
    assert common < 0.05


def test_motion_of_markers_against_each_other_is_found_by_segment() -> None:
    """Truth: made. 3 mm in each coordinate of the thorax, beyond 1 mm of noise everywhere; the pelvis has none."""
    rng = np.random.default_rng(2)
    noise = rng.normal(0, 1e-3, (N, len(NAMES), 3))
    noise[:, 4:8] += rng.normal(0, 3e-3, (N, 4, 3))
    found, _ = rigidity(noise, 1e-3)
    assert np.sqrt(np.mean(found[4:9] ** 2)) == pytest.approx(3e-3, rel=0.05)
    assert found[:4].max() < 3e-4
    assert np.isnan(found[9])


def test_markers_in_a_plane_that_twist_across_it_are_found() -> None:
    """Truth: made. Four markers of a square leave their plane by 3 mm in turn up and down: distances between them stay;
    over the six ways in which the set can change its shape that is 3 mm times the root of 4 / 6 a coordinate."""
    square = np.array([[0.0, 0.0, 0.0], [0.2, 0.0, 0.0], [0.2, 0.2, 0.0], [0.0, 0.2, 0.0]])
    rng = np.random.default_rng(6)
    twist = rng.normal(0, 3e-3, N)[:, None] * [1.0, -1.0, 1.0, -1.0]
    points = square + twist[:, :, None] * [0.0, 0.0, 1.0] + rng.normal(0, 1e-4, (N, 4, 3))
    points = np.einsum("nij,nkj->nki", Rotation.random(N, rng).as_matrix(), points)
    used = np.ones(points.shape[:2], dtype=bool)
    found, common = measure_rigidity(THORAX[:4], points, used, np.full(4, 1e-4), 240.0, {})
    assert found == pytest.approx(3e-3 * np.sqrt(4 / 6), rel=0.05)
    assert common < 0.1


def test_a_shoulder_takes_the_value_of_its_segment() -> None:
    """Truth: made. It glides on the thorax: its distances are no measure, its errors are as large."""
    noise = np.random.default_rng(2).normal(0, 2e-3, (N, len(NAMES), 3))
    found, _ = rigidity(noise, 0.0)
    assert found[8] == pytest.approx(found[4]) and found[8] == pytest.approx(2e-3, rel=0.05)


def test_noise_that_all_markers_share_changes_no_distance() -> None:
    """Truth: made. Six tenths of the variance in common: found as such, no deformation."""
    rng = np.random.default_rng(4)
    shared = rng.normal(0, 1e-3 * np.sqrt(0.6), (N, 1, 3))
    deformation, common = rigidity(shared + rng.normal(0, 1e-3 * np.sqrt(0.4), (N, len(NAMES), 3)), 1e-3)
    assert common == pytest.approx(0.6, abs=0.03)
    assert np.nanmax(deformation) < 2e-4


@given(st.integers(0, 1000))
@settings(max_examples=10, deadline=None)
def test_distances_that_are_constant_by_construction_cannot_be_assessed(seed: int) -> None:
    """Truth: made. A fitted skeleton, exact, and one whose file rounds to a hundredth of a millimetre."""
    points = body(np.random.default_rng(seed))
    used = np.ones(points.shape[:2], dtype=bool)
    for given_points in (points, np.round(points, 5)):
        deformation, common = measure_rigidity(
            NAMES, given_points, used, np.full(len(NAMES), 1e-4), 240.0, {}
        )
        assert np.isnan(deformation).all() and common == 0.0


def test_filled_samples_do_not_count() -> None:
    """Truth: made. A marker carried by the others in most frames is judged by its measured samples only."""
    points = body(np.random.default_rng(5))
    rng = np.random.default_rng(6)
    points[:100, 0] += rng.normal(0, 5e-3, (100, 3))
    used = np.ones(points.shape[:2], dtype=bool)
    used[100:, 0] = False
    points[:, 1:4] += rng.normal(0, 1e-4, (N, 3, 3))
    found, _ = measure_rigidity(NAMES, points, used, np.zeros(len(NAMES)), 240.0, {})
    assert found[0] > 2e-3


def test_what_the_filter_takes_from_a_fast_motion_is_no_deformation() -> None:
    """Truth: made. A rigid segment that turns by 80 degrees at 4 Hz, smoothed at 6 Hz: its points lose centimetres."""
    places = np.random.default_rng(7).uniform(0.0, 0.3, (len(NAMES), 3))
    angle = 0.7 * np.sin(2 * np.pi * 4 * np.arange(N) / 240)
    turn = Rotation.from_rotvec(np.outer(angle, [0.0, 1.0, 0.0])).as_matrix()
    noise = np.random.default_rng(8).normal(0, 5e-4, (N, len(NAMES), 3))
    points = np.einsum("nij,kj->nki", turn, places) + noise
    used = np.ones(points.shape[:2], dtype=bool)
    found, _ = measure_rigidity(
        NAMES, points, used, np.full(len(NAMES), 5e-4), 240.0, dict.fromkeys(NAMES, 6.0)
    )
    assert np.nanmax(found) < 1e-4
