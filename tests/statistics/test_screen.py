"""The search among many postures: its p values, estimates and intervals, and what it refuses."""

from __future__ import annotations

from itertools import product

import numpy as np
import pandas as pd
import pytest
import statsmodels.api as sm
from scipy import stats
from statsmodels.stats.multitest import multipletests

from swinglab import screen_postures
from swinglab.errors import BadRequest, BadTable
from swinglab.statistics import fit_golfer_means, permutation_test_paired
from swinglab.statistics.candidates import read_candidates
from swinglab.statistics.maximum import adjust_by_maximum, score_of_share, t_of_score
from swinglab.statistics.screen_family import ScreenRequest, screen_family
from swinglab.statistics.screen_series import series_slopes
from swinglab.statistics.screen_within import (
    equal_weights,
    golfer_signs,
    mean_slopes,
    own_slopes,
    spread_weights,
)
from tests.published import cases

NAMES = ["tilt", "bend", "turn", "sway"]


def swings(golfers: int = 8, each: int = 12, effect: float = 0.0, seed: int = 1) -> pd.DataFrame:
    """Four postures that share a part; the outcome follows the first by `effect` in every golfer."""
    rng = np.random.default_rng(seed)
    n = golfers * each
    x = rng.normal(size=(n, 4)) + 0.8 * rng.normal(size=(n, 1))
    table = pd.DataFrame(10 * x, columns=NAMES)
    table["golfer"] = np.repeat([f"G{g:02d}" for g in range(golfers)], each)
    table["order"] = np.tile(np.arange(1, each + 1), golfers)
    table["angle"] = effect * x[:, 0] + rng.normal(size=n) + np.repeat(rng.normal(size=golfers), each)
    return table


def test_single_step_p_of_a_published_table() -> None:
    """Truth: published. Westfall & Wolfinger 1997, Table 1: outcomes resampled independently, one-sided p."""
    case = cases("looking.toml")[0]
    given = case["given"]
    n, controls = given["controls"] + given["treated"], given["controls"]
    rng = np.random.default_rng(1)
    observed, drawn = [], []
    for control, treated in zip(given["control_yes"], given["treated_yes"], strict=True):
        yes = control + treated
        below = stats.hypergeom(n, yes, controls).cdf
        observed.append(1 - below(control))
        drawn.append(1 - below(rng.hypergeometric(yes, n - yes, controls, 200_000)))
    found = adjust_by_maximum(np.array(observed), np.array(drawn))
    assert found.single_step[0] == pytest.approx(case["expected"]["p_adjusted"], abs=case["tolerance"])


def test_step_down_is_the_maximum_over_the_statistic_and_all_smaller_ones() -> None:
    """Truth: other. The definition written out beside the test, one statistic after another."""
    rng = np.random.default_rng(2)
    observed, drawn = np.array([2.6, 0.4, 1.7, 3.1]), np.abs(rng.normal(size=(4, 500)))
    found = adjust_by_maximum(observed, drawn)
    order = np.argsort(-observed)
    expected = np.empty(4)
    for k, place in enumerate(order):
        largest = drawn[order[k:]].max(axis=0)
        expected[place] = (1 + (largest >= observed[place]).sum()) / 501
    expected[order] = np.maximum.accumulate(expected[order])
    np.testing.assert_allclose(found.step_down, expected)
    np.testing.assert_allclose(found.p, [(1 + (drawn[j] >= observed[j]).sum()) / 501 for j in range(4)])
    assert (found.single_step >= found.step_down).all()


def test_score_is_nearly_the_normal_value_of_the_same_tail() -> None:
    """Truth: other. scipy's t and normal distributions; and the way back."""
    for df in (5.0, 7.0, 13.0, 60.0):
        t = np.array([0.5, 2.0, 4.0])
        score = score_of_share(t / np.sqrt(df + t**2), df)
        np.testing.assert_allclose(score, stats.norm.isf(stats.t.sf(t, df)), atol=0.025)
        np.testing.assert_allclose([t_of_score(s, np.array(df)) for s in score], t, rtol=1e-9)


def test_within_p_is_that_of_all_sign_patterns_of_the_studentised_mean() -> None:
    """Truth: other. Each of the 256 patterns of eight golfers written out; equal weights as the paired test has it."""
    table = swings(effect=0.4)
    found = screen_postures(table, "angle", candidates=NAMES)
    c = read_candidates(table, "angle", NAMES, golfer="golfer", adjust=())
    own = own_slopes(c, np.array(sorted(set(table["golfer"])), dtype=object))
    weights = spread_weights(own)

    def t(b: np.ndarray, w: np.ndarray) -> float:
        mean = np.average(b, weights=w)
        return abs(mean) * w.sum() / np.sqrt((w**2 * (b - mean) ** 2).sum() * 8 / 7)

    assert found.exact and found.samples == 128
    for j, row in found.table.iterrows():
        b, w = own.slopes[:, j], weights[:, j]
        reached = [t(np.array(s) * b, w) >= t(b, w) - 1e-9 for s in product((1, -1), repeat=8)]
        assert row["p"] == pytest.approx(np.mean(reached))
        signs = golfer_signs(8, 0, np.random.default_rng(1), all_patterns=True)
        equal = mean_slopes(own, equal_weights(own))
        share = (equal.resampled(signs)[j] >= equal.score[j] - 1e-9).mean()
        assert share == pytest.approx(permutation_test_paired(b).p)
    assert (found.table["p_adjusted"] >= found.table["p"] - 1e-12).all()


def test_own_slopes_are_regressions_with_drift() -> None:
    """Truth: other. Each golfer's ordinary least squares with order beside the posture."""
    table = swings(effect=0.4)
    c = read_candidates(table, "angle", NAMES, golfer="golfer", adjust=())
    golfers = sorted(set(table["golfer"]))
    own = own_slopes(c, np.array(golfers, dtype=object))
    for g, name in enumerate(golfers):
        rows = table[table["golfer"] == name]
        for j, posture in enumerate(NAMES):
            design = sm.add_constant(np.column_stack([rows[posture] / 10, rows["order"]]))
            assert own.slopes[g, j] == pytest.approx(sm.OLS(rows["angle"].to_numpy(), design).fit().params[1])


def test_session_means_and_covariates_are_taken_out_within_golfers() -> None:
    """Truth: other. With few swings a golfer (no drift): pooled least squares with golfer x session dummies."""
    table = swings(golfers=6, each=6, effect=0.4)
    table["session"] = np.tile(["a", "a", "a", "b", "b", "b"], 6)
    table["speed"] = np.random.default_rng(3).normal(size=len(table))
    c = read_candidates(table, "angle", ["tilt"], golfer="golfer", adjust=["speed"])
    own = own_slopes(c, np.array(sorted(set(table["golfer"])), dtype=object))
    pooled = np.nansum(own.slopes * own.spreads) / np.nansum(own.spreads)
    dummies = pd.get_dummies(table["golfer"] + table["session"]).to_numpy(float)
    design = np.column_stack([table["tilt"] / 10, table["speed"], dummies])
    assert pooled == pytest.approx(sm.OLS(table["angle"].to_numpy(), design).fit().params[0])


def test_between_estimates_are_those_of_golfer_means() -> None:
    """Truth: other. The regression on golfer means, per ten units, with a covariate beside."""
    table = swings(golfers=12, effect=1.0)
    table["speed"] = np.random.default_rng(4).normal(size=len(table))
    found = screen_postures(table, "angle", candidates=NAMES, level="between", adjust=["speed"]).table
    for _, row in found.iterrows():
        fit = fit_golfer_means(table, "angle", [row["column"], "speed"]).coefficients.loc[row["column"]]
        assert row["estimate"] == pytest.approx(10 * fit["estimate"])
        assert row["standard_error"] == pytest.approx(10 * fit["standard_error"])


def test_one_golfer_is_generalised_least_squares_at_the_estimated_autocorrelation() -> None:
    """Truth: other. statsmodels' GLS with the AR(1) covariance written out."""
    rng = np.random.default_rng(5)
    table = swings(golfers=1, each=40, effect=0.5)
    for i in range(1, 40):
        table.loc[i, "angle"] += 0.5 * table.loc[i - 1, "angle"] + 0.1 * rng.normal()
    found = screen_postures(table, "angle", candidates=NAMES, level="golfer", golfer="G00")
    fit = series_slopes(read_candidates(table, "angle", NAMES, golfer="golfer", adjust=()))
    steps = np.abs(np.subtract.outer(np.arange(40), np.arange(40)))
    row = found.table.iloc[0]
    design = sm.add_constant(np.column_stack([table["tilt"] / 10, table["order"]]))
    other = sm.GLS(table["angle"].to_numpy(), design, sigma=fit.autocorrelation**steps).fit()
    assert fit.autocorrelation > 0.2
    assert row["estimate"] == pytest.approx(other.params[1])
    assert row["standard_error"] == pytest.approx(other.bse[1])
    assert row["n_golfers"] == 1 and row["n_swings"] == 40


@pytest.mark.parametrize("level", ["within", "between", "golfer"])
def test_an_effect_is_found_and_nothing_else(level: str) -> None:
    """Truth: made. The posture that the outcome follows has the smallest adjusted p and an interval without 0."""
    rng = np.random.default_rng(6)
    table = swings(golfers=14, each=30, effect=3.0)
    table[[f"n{k}" for k in range(40)]] = 10 * rng.normal(size=(len(table), 40))
    names = ["tilt", *(f"n{k}" for k in range(40))]
    if level == "between":
        shift = table.groupby("golfer")["tilt"].transform("first")
        table["tilt"] += 5 * shift
        table["angle"] += 2.0 * shift
    golfer = "G03" if level == "golfer" else None
    found = screen_postures(table, "angle", candidates=names, level=level, golfer=golfer).table
    assert found.loc[found["p_adjusted"] < 0.05, "column"].tolist() == ["tilt"]
    assert found["ci_low"][0] > 0 and (found["ci_low"] <= found["estimate"]).all()


def test_seven_golfers_of_one_sign_are_found_and_six_allow_no_less_than_2_in_64() -> None:
    """Truth: other. 2 / 2**6 by counting patterns; it is reported."""
    found = screen_postures(swings(golfers=6, effect=20.0), "angle", candidates=["tilt"])
    assert found.smallest_p == 2 / 64 and "cannot give a p below 0.031" in found.notes[0]
    assert any("0.031" in note for note in found.notes)
    with pytest.raises(BadTable, match=r"5 golfers.*6 or more"):
        screen_postures(swings(golfers=5), "angle", candidates=NAMES)


def test_a_candidate_of_few_golfers_is_listed_as_not_screened() -> None:
    """Truth: made. It takes no part in the family and the others keep their order."""
    table = swings()
    table.loc[table["golfer"] > "G04", "turn"] = np.nan
    found = screen_postures(table, "angle", candidates=NAMES)
    assert (
        found.not_screened["column"].tolist() == ["turn"] and "5 golfers" in found.not_screened["reason"][0]
    )
    assert found.table["column"].tolist() == ["tilt", "bend", "sway"] and found.family == 3


def test_columns_are_those_of_the_contract() -> None:
    """Truth: other. The names that callers rely on, in their order."""
    assert list(screen_postures(swings(), "angle", candidates=NAMES).table.columns) == [
        "column", "estimate", "standard_error", "ci_low", "ci_high", "p", "p_adjusted", "n_golfers", "n_swings",
        "golfers_same_sign",
    ]  # fmt: skip


def test_searches_of_one_family_count_together() -> None:
    """Truth: made. The same search twice in a family is as strict as once; with another outcome it is stricter."""
    table = swings(golfers=16, effect=0.45)
    table["low point"] = np.random.default_rng(7).normal(size=len(table))
    one = ScreenRequest(table, "angle", NAMES)
    alone, again = screen_family([one])[0].table, screen_family([one, one])[0].table
    both = screen_family([one, ScreenRequest(table, "low point", NAMES)])
    np.testing.assert_allclose(alone["p_adjusted"], again["p_adjusted"])
    assert both[0].family == 8
    assert both[0].table["p_adjusted"].sum() > alone["p_adjusted"].sum()


def test_equal_weights_are_judged_where_slopes_go_with_counts() -> None:
    """Truth: made. Golfers who swing more have larger slopes: the judged p is the larger of both."""
    rng = np.random.default_rng(8)
    frames = []
    for g in range(10):
        n = 6 + 4 * g
        x = rng.normal(size=n)
        frames.append(
            pd.DataFrame({"golfer": f"g{g}", "tilt": 10 * x, "angle": (g - 3) * x + 0.1 * rng.normal(size=n)})
        )
    found = screen_postures(pd.concat(frames), "angle", candidates=["tilt"])
    beside = found.beside.iloc[0]
    assert beside["counts_related"] and any("every golfer counts the same" in n for n in found.notes)
    assert found.table["estimate"][0] == beside["estimate_equal_weights"]
    assert found.table["p_adjusted"][0] >= beside["p_adjusted_equal_weights"]


def test_intervals_of_equally_weighted_slopes_are_those_of_a_t_test() -> None:
    """Truth: other. scipy's interval of a mean, at the level whose t is the critical one."""
    table = swings(golfers=9, effect=0.5)
    c = read_candidates(table, "angle", NAMES, golfer="golfer", adjust=())
    own = own_slopes(c, np.array(sorted(set(table["golfer"])), dtype=object))
    low, high = mean_slopes(own, equal_weights(own)).limits(3.0)
    level = 1 - 2 * stats.t.sf(t_of_score(3.0, np.array(8.0)), 8)
    for j in range(4):
        expected = stats.ttest_1samp(own.slopes[:, j], 0.0).confidence_interval(level)
        assert (low[j], high[j]) == pytest.approx((expected.low, expected.high))


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"candidates": ["titl"]}, "similar names: tilt"),
        ({"candidates": ["golfer"]}, "golfer is not numeric"),
        ({"candidates": ["angle"]}, "both outcome and candidate"),
        ({"candidates": []}, "no candidate"),
        ({"level": "pooled"}, "no level pooled"),
        ({"level": "golfer"}, "does not name the golfer"),
        ({"level": "golfer", "golfer": "G99"}, "no golfer G99"),
        ({"golfer": "G01"}, 'set level to "golfer"'),
        ({"level": "golfer", "golfer": "G01"}, "at least 15 swings"),
        ({"samples": 10}, "999 or more"),
    ],
)
def test_what_cannot_be_searched_is_refused(change: dict, words: str) -> None:
    """Truth: made. Each refusal names what is wrong."""
    with pytest.raises((BadRequest, BadTable), match=words):
        screen_postures(swings(), "angle", **({"candidates": NAMES} | change))


def test_with_six_golfers_the_smaller_of_sign_flips_and_holm_is_given() -> None:
    """Truth: other. All 32 patterns written out, and statsmodels' Holm on scipy's t; with eight, sign flips alone."""
    smaller = set()
    for effect in (0.0, 0.8):
        table = swings(golfers=6, each=20, effect=effect, seed=3)
        found = screen_postures(table, "angle", candidates=NAMES).table
        c = read_candidates(table, "angle", NAMES, golfer="golfer", adjust=())
        own = own_slopes(c, np.array(sorted(set(table["golfer"])), dtype=object))
        fit = mean_slopes(own, spread_weights(own))
        signs = golfer_signs(6, 0, np.random.default_rng(1), all_patterns=True)
        flipped = adjust_by_maximum(fit.score, fit.resampled(signs), counts_itself=True).step_down
        p = 2 * stats.t.sf(np.abs(fit.estimate / fit.standard_error), 5)
        holm = multipletests(p, method="holm")[1]
        smaller |= set(holm < flipped)
        np.testing.assert_allclose(found["p_adjusted"], np.minimum(flipped, holm), rtol=0.06, atol=1e-4)
    assert smaller == {True, False}
    eight = screen_postures(swings(golfers=8, effect=20.0), "angle", candidates=NAMES).table
    assert eight["p_adjusted"].min() == 1 / 128
