"""Frozen markers are set to missing, unless the whole segment is still."""

from __future__ import annotations

import numpy as np

from swinglab.load.untrue_samples import drop_frozen

NAMES = ("asis_left", "asis_right", "psis_left", "psis_right", "toe_left", "heel_left")


def moving(frames: int = 240) -> np.ndarray:
    """A pelvis and a foot that glide together, after a second of standing still."""
    start = np.arange(len(NAMES))[:, None] * 0.1 + np.zeros(3)
    way = np.clip(np.arange(frames) / 240.0 - 0.25, 0.0, None)
    return start + way[:, None, None] * [0.3, 0.1, 0.0]


def test_nothing_is_frozen_where_all_are_still() -> None:
    """made: a still address is no fault."""
    points = moving()
    kept, warnings = drop_frozen(NAMES, points, 240.0)
    assert kept is points and warnings == []


def test_a_frozen_marker_is_set_to_missing_with_a_warning() -> None:
    """made: one marker stops at frame 100 while the others go on; its first sample there was measured."""
    points = moving()
    points[100:200, 1] = points[100, 1]
    kept, warnings = drop_frozen(NAMES, points, 240.0)
    assert (
        np.isnan(kept[101:200, 1]).all()
        and np.isfinite(kept[:101, 1]).all()
        and np.isfinite(kept[200:, 1]).all()
    )
    assert np.isfinite(np.delete(kept, 1, axis=1)).all()
    assert warnings == [
        "99 samples of asis_right do not move while the pelvis moves; they were treated as missing"
    ]


def test_a_planted_foot_and_a_short_stop_are_none() -> None:
    """made: a toe that stays while the heel rises, and eight equal samples."""
    points = moving()
    points[60:, 4] = points[60, 4]
    points[100:108, 0] = points[100, 0]
    assert drop_frozen(NAMES, points, 240.0)[1] == []
