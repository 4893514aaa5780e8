"""Reliability, agreement, groups, corrected slopes and ordered outcomes against print and certified values."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from published import cases
from scipy import stats

from swinglab.statistics import (
    agreement,
    compare_adjusted,
    compare_means,
    correct_slope,
    fit_golfer_means,
    fit_ordinal_mixed,
    permutation_test_paired,
    power_between,
    reliability,
)

AGREEMENT = {case["name"]: case for case in cases("agreement.toml")}
GROUPS = {case["name"]: case for case in cases("group_tests.toml")}
SLOPES = cases("slopes_with_error.toml")


def ratings_table(ratings: list[list[float]]) -> pd.DataFrame:
    """One row a rating."""
    return pd.DataFrame(
        [(f"G{g}", value) for g, row in enumerate(ratings) for value in row], columns=["golfer", "y"]
    )


def test_icc_of_the_published_judges() -> None:
    """Truth: published. ICC(1) and its F limits on Shrout & Fleiss's six targets by four judges."""
    case = AGREEMENT["six targets by four judges"]
    answer = reliability(ratings_table(case["given"]["ratings"]), "y", golfer="golfer")
    for name, value in case["expected"].items():
        assert getattr(answer, name) == pytest.approx(value, abs=case["tolerance"]), name


def test_icc_from_a_certified_f() -> None:
    """Truth: published. ICC(1) and limits from the certified F of SiRstv."""
    case = AGREEMENT["resistivity of silicon on five instruments"]
    f = case["expected"]["F"]
    answer = reliability(ratings_table(case["given"]["ratings"]), "y", golfer="golfer")
    assert answer.icc == pytest.approx((f - 1) / (f + 4), abs=case["tolerance"])
    for limit, quantile in ((answer.ci_low, 0.975), (answer.ci_high, 0.025)):
        ratio = f / stats.f.ppf(quantile, 4, 20)
        assert limit == pytest.approx((ratio - 1) / (ratio + 4), abs=1e-8)


def test_limits_of_agreement_of_the_published_meters() -> None:
    """Truth: published. Bias, SD and the interval of the bias as Bland & Altman print them."""
    case = AGREEMENT["peak flow by two meters"]
    answer = agreement(case["given"]["a"], case["given"]["b"])
    for name, value in case["expected"].items():
        assert getattr(answer, name) == pytest.approx(value, abs=case["tolerance"]), name


def test_intervals_of_limits_of_agreement() -> None:
    """Truth: published. Limits and their intervals from a printed mean and SD of 85 differences."""
    case = AGREEMENT["blood pressure by observer and machine, 85 people"]
    given = case["given"]
    shape = stats.norm.ppf((np.arange(given["n"]) + 0.5) / given["n"])
    difference = given["bias"] + given["sd"] * (shape - shape.mean()) / shape.std(ddof=1)
    answer = agreement(difference, np.zeros(given["n"]))
    assert (answer.bias, answer.sd) == pytest.approx((given["bias"], given["sd"]))
    for name, value in case["expected"].items():
        assert getattr(answer, name) == pytest.approx(value, abs=case["tolerance"]), name


def test_fishers_sign_patterns() -> None:
    """Truth: published. 863 of 32768 patterns on one side reach the sum of Darwin's differences."""
    case = GROUPS["cross- and self-fertilised plants, 15 pairs"]
    answer = permutation_test_paired(case["given"]["differences"])
    assert answer.exact and answer.arrangements == 2**15
    assert answer.p * 2**15 / 2 == pytest.approx(case["expected"]["patterns"])


def test_two_groups_against_a_certified_f() -> None:
    """Truth: published. With equal numbers Welch's t and the regression's t, squared, are the certified F."""
    case = GROUPS["atomic weight of silver by two instruments"]
    values = [*case["given"]["first"], *case["given"]["second"]]
    table = pd.DataFrame({"golfer": range(48), "group": ["a"] * 24 + ["b"] * 24, "y": values})
    f = case["expected"]["F"]
    assert compare_means(table, "y", between="group", golfer="golfer").t ** 2 == pytest.approx(
        f, rel=case["tolerance"]
    )
    t = fit_golfer_means(table, "y", ["group"]).coefficients.loc["group[b]", "t"]
    assert float(t) ** 2 == pytest.approx(f, rel=case["tolerance"])


def test_adjusted_means_of_a_published_trial() -> None:
    """Truth: published. Adjusted means, their errors and the common slope of the three drugs."""
    case = GROUPS["leprosy bacilli before and after three drugs"]
    rows = [(drug, *pair) for drug, pairs in case["given"].items() for pair in pairs]
    table = pd.DataFrame(rows, columns=["drug", "before", "after"])
    answer = compare_adjusted(table, "after", covariate="before", between="drug")
    for name in ("estimate", "standard_error"):
        np.testing.assert_allclose(
            answer.adjusted_means[name], case["expected"][name], rtol=case["tolerance"]
        )
    assert answer.slope == pytest.approx(case["expected"]["slope"], rel=1e-8)
    assert not answer.warnings


def test_printed_sample_sizes() -> None:
    """Truth: published. The printed number of golfers reaches 80 % power, one fewer does not."""
    case = GROUPS["golfers in each group for 80 % power, two-sided .05"]
    for difference, golfers in zip(case["given"]["difference"], case["expected"]["golfers"], strict=True):
        have, short = (
            power_between(golfers_per_group=n, swings=1, between_sd=1.0, within_sd=0.0, difference=difference)
            for n in (golfers, golfers - 1)
        )
        assert short < 0.8 <= have


@pytest.mark.parametrize("case", SLOPES, ids=[case["name"] for case in SLOPES])
def test_slopes_with_error_in_the_predictor(case: dict) -> None:
    """Truth: published. The corrected slope and its standard error."""
    answer = correct_slope(
        case["given"]["x"], case["given"]["y"], error_variance=case["given"]["error_variance"]
    )
    for name, value in case["expected"].items():
        assert getattr(answer, name) == pytest.approx(value, abs=case["tolerance"]), name


def test_ordered_ratings_of_nine_judges() -> None:
    """Truth: published. Log likelihood, spread of judges and effects of the wine ratings."""
    (case,) = cases("ordered_outcomes.toml")
    rows = [
        (judge, int(grade), bottle >= 4, bottle % 4 >= 2)
        for judge, grades in enumerate(case["given"]["ratings"])
        for bottle, grade in enumerate(grades)
    ]
    table = pd.DataFrame(rows, columns=["judge", "grade", "warm", "contact"])
    fit = fit_ordinal_mixed(table, "grade", ["warm", "contact"], golfer="judge")
    expected, tolerance = case["expected"], case["tolerance"]
    assert fit.log_likelihood == pytest.approx(expected["log_likelihood"], abs=tolerance)
    assert fit.random_variance**0.5 == pytest.approx(expected["judge_sd"], abs=tolerance)
    for name in ("warm", "contact"):
        assert fit.coefficients["estimate"][name] == pytest.approx(expected[name], abs=tolerance)
