"""Tables of many swings on the page: so many rows, and which ones."""

from __future__ import annotations

import numpy as np
import pandas as pd

from swinglab.report.page import MOST_ROWS, _least_quality


def test_of_many_swings_those_with_most_filled_samples_are_shown() -> None:
    """Truth: other (sorting). Swings stay in the order of the study; of few swings all are shown."""
    filled = np.random.default_rng(4).permutation(10_000)
    quality = pd.DataFrame({
        "swing": [f"s{k}" for k in range(len(filled))], "file": "", "rate_hz": 200.0, "landmarks": 30,
        "filled_samples": filled, "missing_samples": 0, "noise_mm": 0.4, "warnings": "",
    })  # fmt: skip
    shown = _least_quality(quality)
    assert len(shown) == MOST_ROWS
    assert shown["filled_samples"].min() == 10_000 - MOST_ROWS
    assert shown.index.is_monotonic_increasing
    assert _least_quality(quality.head(5))["swing"].tolist() == ["s0", "s1", "s2", "s3", "s4"]
