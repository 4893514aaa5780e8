"""Size of the body in a capture, from which a wrong unit is noticed."""

from __future__ import annotations

import numpy as np
import pytest

from swinglab.load.units import body_size


@pytest.mark.parametrize("missing", [0.0, 0.2, 0.8])
def test_the_size_is_that_of_percentiles_without_missing_points(missing: float) -> None:
    """Truth: other (numpy.nanpercentile, frame by frame). Points are missing at random; frames with fewer than two are
    left out."""
    random = np.random.default_rng(5)
    points = random.normal(size=(90, 12, 3)) * [1.0, 2.0, 0.5]
    points[random.random((90, 12)) < missing] = np.nan
    seen = points[np.isfinite(points[..., 0]).sum(axis=1) >= 2]
    low, high = np.nanpercentile(seen, [10, 90], axis=1)
    assert body_size(points) == pytest.approx(np.median((high - low).max(axis=-1)), rel=1e-12)


def test_a_capture_without_points_has_no_size() -> None:
    """Truth: made."""
    assert np.isnan(body_size(np.full((5, 4, 3), np.nan)))
