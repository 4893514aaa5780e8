"""What the methods text says of noise in time, by the rates of a study's captures."""

from __future__ import annotations

import pandas as pd
import pytest

from swinglab.load.noise_in_time import LOWEST_RATE_HZ
from swinglab.report.methods import _noise_in_time


@pytest.mark.parametrize(
    ("rates", "wanted", "not_wanted"),
    [
        ([240.0, 500.0], "sixth differences", "high enough"),
        ([60.0, 240.0], "high enough", "too low"),
        ([50.0, LOWEST_RATE_HZ - 1], "too low", "sixth differences"),
    ],
)
def test_it_says_where_noise_was_told_in_time(rates: list[float], wanted: str, not_wanted: str) -> None:
    """Truth: made. The loader tells it at 115 Hz and more; the text claims it nowhere else."""
    text = _noise_in_time(pd.Series(rates))
    assert wanted in text and not_wanted not in text
