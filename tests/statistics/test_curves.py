"""Whole curves: tests over time, against computations written out beside them."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest
from scipy import stats

from swinglab.errors import BadRequest, BadTable
from swinglab.statistics.curves import compare_curves, relate_curves

TIME = np.linspace(-0.3, 0.1, 21)


def curves(golfers: int, effect: float, seed: int = 1) -> np.ndarray:
    rng = np.random.default_rng(seed)
    return rng.normal(size=(golfers, 21)).cumsum(axis=1) / 4 + effect * (TIME > 0)


def test_p_of_every_time_is_that_of_all_sign_patterns() -> None:
    """Truth: other. The largest |t| over time in each of 128 patterns, with scipy's t."""
    given = curves(7, 1.5)
    found = compare_curves(TIME, given)
    t = np.abs(stats.ttest_1samp(given, 0.0).statistic)
    largest = [np.abs(stats.ttest_1samp(np.array(s)[:, None] * given, 0.0).statistic).max()
               for s in product((1, -1), repeat=7)]  # fmt: skip
    expected = [(np.array(largest) >= one - 1e-9).mean() for one in t]
    np.testing.assert_allclose(found.p_adjusted, expected)
    assert found.exact and found.golfers == 7


def test_two_groups_are_the_pooled_t_with_labels_exchanged() -> None:
    """Truth: other. scipy's t test at every time; p at the largest by the same exchanges written out."""
    one, two = curves(6, 0.0), curves(7, 2.0, seed=2)
    found = compare_curves(TIME, one, other=two, samples=999)
    plain = stats.ttest_ind(two, one)
    np.testing.assert_allclose(found.estimate, two.mean(axis=0) - one.mean(axis=0))
    rng = np.random.default_rng(1)
    both, label = np.vstack([one, two]), np.r_[np.zeros(6), np.ones(7)]
    largest = []
    for order in np.argsort(rng.random((999, 13)), axis=1):
        mixed = label[order] == 1
        largest.append(np.abs(stats.ttest_ind(both[mixed], both[~mixed]).statistic).max())
    place = int(np.argmax(np.abs(plain.statistic)))
    expected = (1 + (np.array(largest) >= abs(plain.statistic[place]) - 1e-9).sum()) / 1000
    assert found.p_adjusted[place] == pytest.approx(expected)


def test_before_and_after_is_the_test_of_golfers_differences() -> None:
    """Truth: other. The same golfers twice: their differences against 0."""
    before, after = curves(8, 0.0), curves(8, 1.0, seed=3)
    paired = compare_curves(TIME, before, other=after, paired=True)
    np.testing.assert_allclose(paired.p_adjusted, compare_curves(TIME, after - before).p_adjusted)


def test_own_slopes_at_every_time() -> None:
    """Truth: other. Each golfer's least-squares slope at a time, their mean; found where the curve works."""
    rng = np.random.default_rng(4)
    golfer = np.repeat(np.arange(12), 15)
    x = rng.normal(size=(180, 21)).cumsum(axis=1)
    y = 0.3 * x[:, 15] + golfer + rng.normal(size=180)
    found = relate_curves(TIME, x, y, golfer)
    own = [np.polyfit(x[golfer == g, 15], y[golfer == g], 1)[0] for g in range(12)]
    assert found.estimate[15] == pytest.approx(10 * np.mean(own))
    assert found.p_adjusted[15] < 0.01
    assert found.ci_low[15] < 3.0 < found.ci_high[15]


def test_a_stretch_is_found_and_the_mask_stays_out() -> None:
    """Truth: made. The step after impact; masked times have no numbers."""
    mask = np.abs(TIME) < 0.03
    found = compare_curves(TIME, curves(14, 3.0), mask=mask)
    assert np.isnan(found.estimate[mask]).all() and np.isnan(found.p_adjusted[mask]).all()
    last = found.clusters[-1]
    assert last[0] > 0.0 and last[1] == TIME[-1] and last[2] < 0.05
    assert "not the times at which a difference begins" in found.note


def test_family_wise_error_over_time() -> None:
    """Truth: made. 300 studies of 8 golfers without an effect: any time found in about 1 of 20 (error .013)."""
    count = sum((compare_curves(TIME, curves(8, 0.0, seed=k)).p_adjusted < 0.05).any() for k in range(300))
    assert 0.01 < count / 300 < 0.09


def test_what_does_not_fit_is_refused() -> None:
    """Truth: made."""
    with pytest.raises(BadTable, match="6 golfers, not 5"):
        compare_curves(TIME, curves(5, 0.0))
    with pytest.raises(BadRequest, match="21 columns"):
        compare_curves(TIME, curves(8, 0.0)[:, :9])
    with pytest.raises(BadRequest, match="same golfers"):
        compare_curves(TIME, curves(8, 0.0), other=curves(7, 0.0), paired=True)
    holed = curves(8, 0.0)
    holed[2, 3] = np.nan
    with pytest.raises(BadTable, match="missing values"):
        compare_curves(TIME, holed)
