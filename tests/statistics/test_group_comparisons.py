"""Groups, pairs, covariates, permutation and effect sizes: made values and independent computations."""

from __future__ import annotations

from itertools import product

import numpy as np
import pandas as pd
import pytest
import statsmodels.api as sm
from scipy import integrate, special, stats

from swinglab.errors import BadRequest, BadTable
from swinglab.statistics import (
    adjust,
    compare_adjusted,
    compare_means,
    compare_paired,
    permutation_test_paired,
)
from swinglab.statistics.effect_size import measure_hedges_g
from swinglab.statistics.permutation import permute_blocks, permute_groups


def swings_of(means: dict[str, list[float]], *, swings: int = 5, seed: int = 1) -> pd.DataFrame:
    """Swings about each golfer's own mean, by group; golfer means are exact."""
    rng = np.random.default_rng(seed)
    rows = []
    for group, own in means.items():
        for i, mean in enumerate(own):
            noise = rng.normal(0, 2, swings)
            rows += [(f"{group}{i}", group, mean + value) for value in noise - noise.mean()]
    return pd.DataFrame(rows, columns=["golfer", "group", "flexion"])


LEARNERS, SKILLED = [10.0, 12.0, 17.0, 13.0, 15.0], [20.0, 22.5, 18.0, 24.0, 19.0, 21.0, 16.0]


def test_welch_on_golfer_means_is_scipys() -> None:
    """Truth: other. scipy's Welch test on the golfers' means, not on the swings."""
    answer = compare_means(swings_of({"learners": LEARNERS, "skilled": SKILLED}), "flexion", between="group")
    expected = stats.ttest_ind(SKILLED, LEARNERS, equal_var=False)
    interval = expected.confidence_interval(0.95)
    assert (answer.t, answer.p, answer.df) == pytest.approx(
        (expected.statistic, expected.pvalue, expected.df)
    )
    assert (answer.ci_low, answer.ci_high) == pytest.approx((interval.low, interval.high))
    assert answer.groups == ("learners", "skilled") and answer.difference > 0
    assert answer.n_golfers == 12 and answer.n_swings == 60


def test_hedges_g_by_an_independent_route() -> None:
    """Truth: other. J by the beta function, limits by integrating the noncentral t density by hand."""
    a, b = np.array(LEARNERS), np.array(SKILLED)
    answer = measure_hedges_g(a, b)
    n1, n2 = len(a), len(b)
    df = n1 + n2 - 2
    pooled = np.sqrt(((n1 - 1) * a.var(ddof=1) + (n2 - 1) * b.var(ddof=1)) / df)
    j = np.sqrt(2 / df) * np.exp(special.gammaln(df / 2) - special.gammaln((df - 1) / 2))
    assert answer.g == pytest.approx(j * (b.mean() - a.mean()) / pooled, rel=1e-12)
    root = np.sqrt(n1 * n2 / (n1 + n2))
    t = answer.g / j * root

    def below(nc: float) -> float:
        """P(T < t) with T = (Z + nc) / sqrt(V / df), as an integral over V."""
        return integrate.quad(
            lambda v: stats.norm.cdf(t * np.sqrt(v / df) - nc) * stats.chi2.pdf(v, df),
            0,
            np.inf,
            epsabs=1e-11,
        )[0]

    assert below(answer.low / j * root) == pytest.approx(0.975, abs=1e-7)
    assert below(answer.high / j * root) == pytest.approx(0.025, abs=1e-7)
    assert measure_hedges_g(b, a).g == pytest.approx(-answer.g)


def test_exchanged_labels_by_brute_force() -> None:
    """Truth: other. Every choice of labels, counted one by one."""
    a, b = np.array([1.0, 2.0, 4.0]), np.array([3.0, 6.0, 5.0, 7.0])
    both, observed = np.concatenate([a, b]), abs(b.mean() - a.mean())
    found = []
    for mask in product([False, True], repeat=7):
        if sum(mask) == 3:
            chosen = np.array(mask)
            found.append(abs(both[~chosen].mean() - both[chosen].mean()) >= observed - 1e-12)
    answer = permute_groups(a, b)
    assert answer.exact and answer.arrangements == 35
    assert answer.p == pytest.approx(np.mean(found))


def test_many_golfers_are_drawn_and_agree_with_t() -> None:
    """Truth: other. With 40 golfers the drawn permutation p lies near Student's."""
    rng = np.random.default_rng(3)
    a, b = rng.normal(0, 1, 20), rng.normal(0.6, 1, 20)
    drawn = permute_groups(a, b)
    assert not drawn.exact
    assert drawn.p == pytest.approx(stats.ttest_ind(a, b).pvalue, rel=0.1)
    values = rng.normal(0.4, 1, 40)
    long = permutation_test_paired(values)
    assert not long.exact
    assert long.p == pytest.approx(stats.ttest_1samp(values, 0).pvalue, rel=0.1)


def test_all_signs_of_many_golfers_are_counted() -> None:
    """Truth: other. Up to 16 values the patterns one by one; 28 values, in two halves, against Student's t."""
    rng = np.random.default_rng(6)
    for n in (2, 7, 16):
        for values in (rng.normal(0.3, 1, n), rng.integers(-3, 4, n).astype(float)):
            sums = np.array(list(product([-1, 1], repeat=n))) @ values
            assert permutation_test_paired(values).p == np.mean(np.abs(sums) >= abs(values.sum()) - 1e-9)
    values = rng.normal(0.4, 1, 28)
    counted = permutation_test_paired(values)
    assert counted.exact and counted.arrangements == 2**28
    assert counted.p == pytest.approx(stats.ttest_1samp(values, 0).pvalue, rel=0.1)


def test_sign_flips_by_brute_force_and_their_floor() -> None:
    """Truth: other. Every sign pattern counted; equal values tie with the observed sum."""
    values = np.array([0.4, -1.1, 2.0, 1.3, 0.9, 0.0])
    sums = [abs(np.dot(signs, values)) for signs in product([-1, 1], repeat=6)]
    expected = np.mean(np.array(sums) >= abs(values.sum()) - 1e-12)
    assert permutation_test_paired(values).p == pytest.approx(expected)
    assert permutation_test_paired([2.0] * 5).p == 2 / 2**5
    assert permutation_test_paired([1.0, 2.0, np.nan, 3.0]).n == 3
    with pytest.raises(BadTable, match="two differences or more"):
        permutation_test_paired([1.0])
    for wrong in ([1.0, np.inf], [1j, 2j, 3j], ["a", "b"]):
        with pytest.raises(BadTable, match="differences"):
            permutation_test_paired(wrong)


def test_blocks_hold_each_swing_once() -> None:
    """Truth: made. Exchanging blocks keeps the values; with blocks of one it is the plain permutation test."""
    values = np.arange(11.0)
    seen: list[np.ndarray] = []

    def first(series: np.ndarray) -> np.ndarray:
        seen.append(series)
        return series[:, 0]

    answer = permute_blocks(values, first, length=3)
    assert answer.exact and answer.arrangements == 24
    np.testing.assert_array_equal(np.sort(seen[-1], axis=1), np.tile(values, (24, 1)))


def test_a_golfer_in_two_groups_is_a_paired_question() -> None:
    """Truth: made. The error names the golfer and the paired form, which is scipy's paired t test."""
    table = swings_of({"iron": [10.0, 12, 9, 15, 11, 13], "wedge": [11.0, 14, 9.5, 15, 13, 16]})
    table["golfer"] = table["golfer"].str[-1]
    with pytest.raises(
        BadTable, match=r"0, 1, 2, 3, 4, 5 appear in more than one group of the column group.*compare_paired"
    ):
        try:
            compare_means(table, "flexion", between="group")
        except BadTable as fault:
            raise BadTable(str(fault)) from fault
    answer = compare_paired(table, "flexion", between="group")
    expected = stats.ttest_rel([11.0, 14, 9.5, 15, 13, 16], [10.0, 12, 9, 15, 11, 13])
    assert (answer.t, answer.p) == pytest.approx((expected.statistic, expected.pvalue))
    assert answer.permutation_exact and answer.n_golfers == 6


def test_what_cannot_be_compared_is_said() -> None:
    """Truth: made. Three groups, one golfer in a group, no spread, words for a value."""
    table = swings_of({"a": [1.0, 2], "b": [3.0, 4], "c": [5.0, 6]})
    with pytest.raises(BadTable, match=r"has 3 groups \(a, b, c\)"):
        compare_means(table, "flexion", between="group")
    with pytest.raises(BadTable, match="each group needs two golfers"):
        compare_means(swings_of({"a": [1.0], "b": [3.0, 4]}), "flexion", between="group")
    with pytest.raises(BadTable, match="no standard error can be estimated"):
        flat = swings_of({"a": [1.0, 1.0], "b": [3.0, 3.0]}, swings=1)
        compare_means(flat.assign(flexion=flat["flexion"].round()), "flexion", between="group")
    with pytest.raises(BadTable, match="must be numeric"):
        compare_means(table.assign(flexion="x"), "flexion", between="group")
    few = compare_means(swings_of({"a": [1.0, 2.0], "b": [3.0, 4.0, 6.0]}), "flexion", between="group")
    assert any("fewer than 3 golfers in a (2)" in said for said in few.warnings)


def test_missing_rows_are_counted_and_declared_order_is_kept() -> None:
    """Truth: made. A declared order turns the difference round; a missing value drops its row alone."""
    table = swings_of({"a": [1.0, 2.0, 4.0], "b": [3.0, 4.0, 6.0]})
    turned = table.assign(group=pd.Categorical(table["group"], ["b", "a"]))
    plain = compare_means(table, "flexion", between="group")
    assert compare_means(turned, "flexion", between="group").difference == pytest.approx(-plain.difference)
    table.loc[0, "flexion"] = np.nan
    assert [note.key for note in compare_means(table, "flexion", between="group").warnings] == [
        "rows_dropped"
    ]


def test_adjusted_means_are_least_squares_predictions() -> None:
    """Truth: other. statsmodels' prediction at the covariate's mean, and its F test of the interaction."""
    rng = np.random.default_rng(5)
    group = np.repeat(["a", "b", "c"], 12)
    speed = rng.normal(36, 3, 36) + 2 * (group == "b")
    angle = -4 + 0.2 * speed + 1.5 * (group == "c") + rng.normal(0, 1, 36)
    table = pd.DataFrame({"group": group, "speed": speed, "angle": angle})
    answer = compare_adjusted(table, "angle", covariate="speed", between="group")
    x = np.column_stack([np.ones(36), group == "b", group == "c", speed]).astype(float)
    same = sm.OLS(angle, x).fit()
    at = np.array([[1, 0, 0, speed.mean()], [1, 1, 0, speed.mean()], [1, 0, 1, speed.mean()]])
    predicted = same.get_prediction(at)
    np.testing.assert_allclose(answer.adjusted_means["estimate"], predicted.predicted_mean)
    np.testing.assert_allclose(answer.adjusted_means["standard_error"], predicted.se_mean)
    np.testing.assert_allclose(answer.differences["p"], same.pvalues[1:3])
    own = sm.OLS(angle, np.column_stack([x, x[:, 1] * speed, x[:, 2] * speed])).fit()
    f, p, df1 = own.compare_f_test(same)
    assert (answer.slopes_equal.F, answer.slopes_equal.p, answer.slopes_equal.df1) == pytest.approx(
        (f, p, df1)
    )


def test_unequal_slopes_and_ranges_apart_are_said() -> None:
    """Truth: made. Slopes of +1 and -1; a covariate whose ranges do not meet."""
    speed = np.tile(np.arange(10.0), 2)
    group = np.repeat(["a", "b"], 10)
    wobble = np.tile([0.1, -0.1], 10)
    table = pd.DataFrame(
        {"group": group, "speed": speed, "angle": np.where(group == "a", speed, -speed) + wobble}
    )
    answer = compare_adjusted(table, "angle", covariate="speed", between="group")
    assert answer.slopes_equal.p < 1e-6
    assert any("slopes on speed differ" in said for said in answer.warnings)
    apart = table.assign(speed=speed + 20 * (group == "b"))
    assert any("share no range" in said for said in compare_adjusted(
        apart, "angle", covariate="speed", between="group").warnings)  # fmt: skip
    with pytest.raises(BadTable, match="too few for a slope in each group"):
        compare_adjusted(table.assign(speed=1.0), "angle", covariate="speed", between="group")


def test_holm_and_benjamini_hochberg() -> None:
    """Truth: other. By hand: Holm steps down with a running maximum, Benjamini-Hochberg up with a minimum."""
    p = [0.01, 0.04, 0.03, np.nan]
    np.testing.assert_allclose(adjust(p)[:3], [0.03, 0.06, 0.06])
    np.testing.assert_allclose(adjust(p, "benjamini_hochberg")[:3], [0.03, 0.04, 0.04])
    assert np.isnan(adjust(p)[3])
    with pytest.raises(BadRequest, match="there is no adjustment hollm"):
        adjust([0.1], "hollm")
    with pytest.raises(BadRequest, match="between 0 and 1"):
        adjust([1.2])
