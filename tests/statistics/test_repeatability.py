"""Reliability, agreement, slopes corrected for error, power: made values and other computations."""

from __future__ import annotations

import math

import numpy as np
import pandas as pd
import pytest
import statsmodels.api as sm
from scipy import stats
from statsmodels.stats.power import TTestIndPower

from swinglab.errors import BadRequest, BadTable
from swinglab.statistics import (
    agreement,
    correct_observed_slope,
    correct_slope,
    fit_mixed,
    power_between,
    reliability,
)


def unequal_swings(seed: int = 2) -> pd.DataFrame:
    """Golfers with 2 to 9 swings; true SD 3 between and 2 within."""
    rng = np.random.default_rng(seed)
    rows = [
        (f"G{g}", 30 + own + value)
        for g, own in enumerate(rng.normal(0, 3, 12))
        for value in rng.normal(0, 2, 2 + g % 8)
    ]
    return pd.DataFrame(rows, columns=["golfer", "tilt"])


def test_unequal_numbers_give_the_reml_components() -> None:
    """Truth: other. The kit's own mixed model, itself held to R, on the same swings."""
    table = unequal_swings()
    answer = reliability(table, "tilt", golfer="golfer")
    fit = fit_mixed(table, "tilt", [], golfer="golfer")
    between = float(fit.random_covariance.to_numpy()[0, 0])
    assert answer.icc == pytest.approx(between / (between + fit.residual_variance), rel=1e-5)
    assert answer.sem == pytest.approx(fit.residual_variance**0.5, rel=1e-6)
    assert answer.mdc == pytest.approx(answer.sem * stats.norm.ppf(0.975) * math.sqrt(2))
    assert answer.between_sd == pytest.approx(between**0.5, rel=1e-5)


def test_exact_limits_with_unequal_numbers_cover() -> None:
    """Truth: made. Wald's limits hold the true ICC in 95 % of 200 made sets (0.692; within 3 standard errors)."""
    true, held = 9 / 13, 0
    for seed in range(200):
        answer = reliability(unequal_swings(seed), "tilt")
        held += answer.ci_low <= true <= answer.ci_high
    assert abs(held / 200 - 0.95) < 3 * math.sqrt(0.95 * 0.05 / 200)


def test_like_golfers_have_no_reliability() -> None:
    """Truth: made. Golfer means closer than chance: the analysis-of-variance ICC is negative, and said."""
    table = pd.DataFrame({"golfer": list("AABBCC"), "tilt": [9.0, 11, 8, 12, 9.5, 10.5]})
    answer = reliability(table, "tilt")
    assert answer.icc == pytest.approx(-1.0, abs=1e-6) and any(
        "not above 0" in said for said in answer.warnings
    )
    with pytest.raises(BadTable, match="two golfers or more"):
        reliability(table[table["golfer"] == "A"], "tilt")
    with pytest.raises(BadTable, match="no variation within golfers"):
        reliability(table.assign(tilt=[1, 1, 2, 2, 3, 3]), "tilt")


def test_mean_of_more_swings_is_more_reliable() -> None:
    """Truth: published. Spearman-Brown: .6 becomes .88 with 5 swings and .94 with 10 (computed)."""
    rng = np.random.default_rng(1)
    table = pd.DataFrame({"golfer": np.repeat(range(9), 4), "tilt": rng.normal(0, 1, 36)})
    answer = reliability(table, "tilt")
    assert answer.of_mean(4) == pytest.approx(4 * answer.icc / (1 + 3 * answer.icc))
    assert answer.of_mean(1) == pytest.approx(answer.icc)


def test_agreement_drops_pairs_and_sees_a_trend() -> None:
    """Truth: made. Differences that grow with size are said; a pair with a missing value is left out."""
    a = np.arange(1.0, 21)
    said = agreement(1.2 * a + np.tile([0.1, -0.1], 10), a).warnings
    assert any("changes with the size" in words for words in said)
    b = a + np.tile([0.1, -0.1], 10)
    b[0] = np.nan
    answer = agreement(a, b)
    assert answer.n == 19 and not any("size" in words for words in answer.warnings)
    with pytest.raises(BadTable, match="same cases"):
        agreement([1.0, 2.0], [1.0])


def test_attenuation_as_printed() -> None:
    """Truth: made. SD 3 with an error of SD 2: reliability .692, and .345 is .5 flattened."""
    answer = correct_observed_slope(
        0.5 * 9 / 13, 0.05, 100, predictor_variance=13.0, predictor_df=100, error_variance=4.0
    )
    assert answer.reliability == pytest.approx(0.692, abs=5e-4)
    assert answer.observed == pytest.approx(0.345, abs=2e-3) and answer.estimate == pytest.approx(0.5)


def test_no_error_leaves_least_squares_alone() -> None:
    """Truth: other. statsmodels' slope, error, p and interval."""
    rng = np.random.default_rng(6)
    x = rng.normal(30, 3, 40)
    y = 0.4 * x + rng.normal(0, 1, 40)
    answer, fit = correct_slope(x, y, error_variance=0.0), sm.OLS(y, sm.add_constant(x)).fit()
    assert (answer.estimate, answer.standard_error, answer.p) == pytest.approx(
        (fit.params[1], fit.bse[1], fit.pvalues[1])
    )
    assert (answer.ci_low, answer.ci_high) == pytest.approx(tuple(fit.conf_int()[1]))


def test_too_much_error_is_not_corrected() -> None:
    """Truth: made. From 80 % of the observed variance on the slope stays as it is, and it is said."""
    x, y = np.array([0.0, 1, 2, 3, 4, 5]), np.array([0.1, 0.9, 2.2, 2.8, 4.1, 5.0])
    share = x.var(ddof=1)
    kept = correct_slope(x, y, error_variance=0.8 * share)
    assert not kept.corrected and kept.estimate == kept.observed
    assert any("no correction" in said for said in kept.warnings)
    assert correct_slope(x, y, error_variance=0.79 * share).corrected
    with pytest.raises(BadRequest, match="0 or more"):
        correct_slope(x, y, error_variance=-1.0)
    for wrong in ((x, np.ones(len(x)), 0.1), (1e-200 * x, y, 0.0), (x, y, [0.1, 0.2])):
        with pytest.raises(BadTable, match="pairs"):
            correct_slope(wrong[0], wrong[1], error_variance=wrong[2])


def test_errors_that_go_together_are_taken_out() -> None:
    """Truth: made. Shared errors alone make a slope; corrected, none is left. 4,000 swings."""
    rng = np.random.default_rng(7)
    shared = rng.normal(0, 2, 4000)
    x, y = rng.normal(0, 3, 4000) + shared, rng.normal(0, 1, 4000) + 0.5 * shared
    naive = correct_slope(x, y, error_variance=4.0)
    true = correct_slope(x, y, error_variance=4.0, error_covariance=2.0)
    assert naive.ci_low > 0.1
    assert abs(true.estimate) < 0.03 and true.ci_low < 0 < true.ci_high


def test_power_between_is_statsmodels_power() -> None:
    """Truth: other. The t test's power on golfer means of variance between + within / swings."""
    for golfers, swings, difference in ((6, 10, 4.0), (15, 1, 2.0), (40, 5, 1.0)):
        sd = math.sqrt(9 + 16 / swings)
        expected = TTestIndPower().power(difference / sd, golfers, 0.05)
        found = power_between(
            golfers_per_group=golfers, swings=swings, between_sd=3.0, within_sd=4.0, difference=difference
        )
        assert found == pytest.approx(expected, abs=1e-6)
    assert power_between(golfers_per_group=9, swings=9, between_sd=1, within_sd=0, difference=90) == 1.0


def test_too_few_golfers_and_swings_are_refused_together() -> None:
    """Truth: made. Both faults in one error."""
    with pytest.raises(BadRequest, match=r"golfers_per_group must be 2 or more.*swings must be 1 or more"):
        power_between(golfers_per_group=1, swings=0, between_sd=1, within_sd=1, difference=1)
