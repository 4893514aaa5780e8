"""Deformation of segments and common noise against points whose noise is known. Truth: made."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from swinglab.load.rigidity import deformation_by_segment_mm, measure_rigidity

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
    return measure_rigidity(NAMES, points, points, used, np.full(len(NAMES), known_m))


def test_white_noise_that_is_known_leaves_no_deformation() -> None:
    """Truth: made. 1 mm of independent noise: less than 0.2 mm of deformation, hardly any common noise."""
    found = rigidity(np.random.default_rng(1).normal(0, 1e-3, (N, len(NAMES), 3)), 1e-3)
    assert np.nanmax(found.deformation_m) < 2e-4
    assert found.common_noise < 0.05


def test_motion_of_markers_against_each_other_is_found_by_segment() -> None:
    """Truth: made. 3 mm in each coordinate of the thorax, beyond 1 mm of noise everywhere; the pelvis has none."""
    rng = np.random.default_rng(2)
    noise = rng.normal(0, 1e-3, (N, len(NAMES), 3))
    noise[:, 4:8] += rng.normal(0, 3e-3, (N, 4, 3))
    found = deformation_by_segment_mm(NAMES, rigidity(noise, 1e-3).deformation_m)
    assert found["thorax"] == pytest.approx(3.0, rel=0.05)
    assert found["pelvis"] < 0.3
    assert np.isnan(found["foot_left"])


def test_a_shoulder_takes_the_value_of_its_segment() -> None:
    """Truth: made. It glides on the thorax: its distances are no measure, its errors are as large."""
    noise = np.random.default_rng(2).normal(0, 2e-3, (N, len(NAMES), 3))
    found = rigidity(noise, 0.0).deformation_m
    assert found[8] == pytest.approx(found[4]) and found[8] == pytest.approx(2e-3, rel=0.05)


def test_noise_that_all_markers_share_changes_no_distance() -> None:
    """Truth: made. Six tenths of the variance in common: found as such, no deformation."""
    rng = np.random.default_rng(4)
    shared = rng.normal(0, 1e-3 * np.sqrt(0.6), (N, 1, 3))
    found = rigidity(shared + rng.normal(0, 1e-3 * np.sqrt(0.4), (N, len(NAMES), 3)), 1e-3)
    assert found.common_noise == pytest.approx(0.6, abs=0.03)
    assert np.nanmax(found.deformation_m) < 2e-4


@given(st.integers(0, 1000))
@settings(max_examples=10, deadline=None)
def test_distances_that_are_constant_by_construction_cannot_be_assessed(seed: int) -> None:
    """Truth: made. A fitted skeleton, exact, and one whose file rounds to a hundredth of a millimetre."""
    points = body(np.random.default_rng(seed))
    used = np.ones(points.shape[:2], dtype=bool)
    for given_points in (points, np.round(points, 5)):
        found = measure_rigidity(NAMES, given_points, given_points, used, np.full(len(NAMES), 1e-4))
        assert np.isnan(found.deformation_m).all() and found.common_noise == 0.0


def test_filled_samples_do_not_count() -> None:
    """Truth: made. A marker carried by the others in most frames is judged by its measured samples only."""
    points = body(np.random.default_rng(5))
    rng = np.random.default_rng(6)
    points[:100, 0] += rng.normal(0, 5e-3, (100, 3))
    used = np.ones(points.shape[:2], dtype=bool)
    used[100:, 0] = False
    points[:, 1:4] += rng.normal(0, 1e-4, (N, 3, 3))
    found = measure_rigidity(NAMES, points, points, used, np.zeros(len(NAMES)))
    assert found.deformation_m[0] > 2e-3
