"""Agreement on repeated swings: equal to the plain method with one swing a golfer, and its intervals cover."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from swinglab.errors import BadTable
from swinglab.statistics import agreement, agreement_by_golfer


def made(golfers: int, swings: int, *, seed: int, between: float = 0.6, within: float = 0.4) -> pd.DataFrame:
    rng = np.random.default_rng(seed)
    golfer = np.repeat(np.arange(golfers), swings)
    b = rng.normal(-4, 2, golfers * swings)
    a = b + 0.3 + rng.normal(0, between, golfers)[golfer] + rng.normal(0, within, len(golfer))
    return pd.DataFrame({"golfer": golfer, "a": a, "b": b})


def test_one_swing_a_golfer_is_the_plain_method() -> None:
    """other: `agreement`, itself held to print; bias, sd and limits equal."""
    table = made(12, 1, seed=3)
    ours, plain = agreement_by_golfer(table, "a", "b"), agreement(table["a"], table["b"])
    for name in ("bias", "bias_low", "bias_high", "sd", "lower", "upper"):
        assert getattr(ours, name) == pytest.approx(getattr(plain, name), rel=1e-12)


def test_the_intervals_cover() -> None:
    """made: truth known; 95 % intervals of bias and of the upper limit over 400 studies of 10 golfers."""
    sd = float(np.hypot(0.6, 0.4))
    hits = np.zeros(2)
    for seed in range(400):
        answer = agreement_by_golfer(made(10, 8, seed=seed), "a", "b")
        hits += (
            answer.bias_low <= 0.3 <= answer.bias_high,
            answer.upper_low <= 0.3 + 1.96 * sd <= answer.upper_high,
        )
    assert (hits / 400 > 0.92).all() and (hits / 400 < 0.985).all()


def test_too_few_golfers_and_missing_values() -> None:
    """made: two golfers are too few; rows without a value are counted."""
    with pytest.raises(BadTable, match="need 3 golfers or more"):
        agreement_by_golfer(made(2, 9, seed=1), "a", "b")
    table = made(5, 4, seed=1)
    table.loc[3, "a"] = np.nan
    answer = agreement_by_golfer(table, "a", "b")
    assert answer.n == 19 and answer.warnings
