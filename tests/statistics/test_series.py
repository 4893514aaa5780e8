"""One golfer's series: REML with AR(1) errors by brute force, honest p, gaps, sessions, steps."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
import statsmodels.api as sm
from scipy import optimize, stats

from swinglab.errors import BadRequest, BadTable
from swinglab.statistics import fit_series, fit_step
from swinglab.statistics.autoregression import fit_ar1


def faded(n: int, autocorrelation: float, rng: np.random.Generator) -> np.ndarray:
    """A stationary AR(1) series of unit variance."""
    made = rng.normal(size=n)
    for i in range(1, n):
        made[i] = autocorrelation * made[i - 1] + np.sqrt(1 - autocorrelation**2) * made[i]
    return made


def series_table(n: int = 30, autocorrelation: float = 0.5, seed: int = 0) -> pd.DataFrame:
    """Two sessions, with places missing in the first."""
    rng = np.random.default_rng(seed)
    first = np.delete(np.arange(1, n // 2 + 4), [3, 4, 9])
    second = np.arange(1, n - len(first) + 1)
    table = pd.DataFrame({"session": ["a"] * len(first) + ["b"] * len(second), "order": [*first, *second]})
    table["tilt"] = rng.normal(30, 3, n)
    table["angle"] = -4 + 0.3 * (table["tilt"] - 30) + faded(n, autocorrelation, rng)
    return table


def test_estimates_are_those_of_a_dense_reml_fit() -> None:
    """Truth: other. REML written out with the whole covariance matrix; errors by statsmodels' GLS at its optimum."""
    table = series_table()
    n = len(table)
    place = np.r_[table["order"][table["session"] == "a"], table["order"][table["session"] == "b"] + 100.0]
    same = table["session"].to_numpy()[:, None] == table["session"].to_numpy()
    last = table["order"][table["session"] == "a"].max()
    along = (table["order"] + np.where(table["session"] == "b", last, 0)).to_numpy(float)
    x = np.column_stack([np.ones(n), table["tilt"], along - along.mean()])
    y = table["angle"].to_numpy()

    def correlation(phi: float) -> np.ndarray:
        return np.where(same, phi ** np.abs(place[:, None] - place), 0.0)

    def criterion(phi: float) -> float:
        inverse = np.linalg.inv(correlation(phi))
        a = x.T @ inverse @ x
        rest = y - x @ np.linalg.solve(a, x.T @ inverse @ y)
        variance = rest @ inverse @ rest / (n - 3)
        log_det = np.linalg.slogdet(correlation(phi))[1] + np.linalg.slogdet(a)[1]
        return float((n - 3) * (np.log(2 * np.pi * variance) + 1) + log_det)

    best = optimize.minimize_scalar(
        criterion, bounds=(-0.9, 0.99), method="bounded", options={"xatol": 1e-10}
    )
    fit = fit_series(table, "angle", ["tilt"], order="order", session="session")
    assert fit.autocorrelation == pytest.approx(best.x, abs=1e-6)
    assert fit.log_likelihood == pytest.approx(-best.fun / 2, abs=1e-9)
    dense = sm.GLS(y, x, sigma=correlation(best.x)).fit()
    np.testing.assert_allclose(fit.coefficients["estimate"], dense.params, rtol=1e-5)
    np.testing.assert_allclose(fit.coefficients["standard_error"], dense.bse, rtol=1e-5)
    assert fit.n_sessions == 2 and fit.n_rows == n


def test_p_and_interval_are_averaged_over_the_autocorrelation() -> None:
    """Truth: other. The mixture of t distributions written out again on a fine grid."""
    rng = np.random.default_rng(3)
    after = np.repeat([0.0, 1.0], 12)
    values = faded(24, 0.4, rng) + after
    step = fit_step(values, after)
    x, n = np.column_stack([np.ones(24), after]), 24
    weights, centres, errors = [], [], []
    grid = np.linspace(-0.9, 0.995, 380)
    for phi in grid:
        correlation = phi ** np.abs(np.subtract.outer(np.arange(n), np.arange(n)))
        inverse = np.linalg.inv(correlation)
        a = x.T @ inverse @ x
        b = np.linalg.solve(a, x.T @ inverse @ values)
        variance = (values - x @ b) @ inverse @ (values - x @ b) / (n - 2)
        log_det = np.linalg.slogdet(correlation)[1] + np.linalg.slogdet(a)[1]
        # Lag-one autocorrelation of the step about its mean: 22 equal pairs of 23, one across, over 24.
        weights.append(-0.5 * ((n - 2) * np.log(variance) + log_det) - 0.75 * np.log(1 + 21 / 24 * phi))
        centres.append(b[1])
        errors.append(np.sqrt(variance * np.linalg.inv(a)[1, 1]))
    share = np.exp(np.array(weights) - max(weights))
    share /= share.sum()

    def below(value: float) -> float:
        return float(share @ stats.t.cdf((value - np.array(centres)) / np.array(errors), n - 2))

    assert step.p == pytest.approx(2 * min(below(0.0), 1 - below(0.0)), rel=0.02)
    assert below(step.ci_low) == pytest.approx(0.025, abs=1e-3)
    assert below(step.ci_high) == pytest.approx(0.975, abs=1e-3)


def test_every_second_sign_turned_is_the_mirrored_autocorrelation() -> None:
    """Truth: other. Outcome and predictors times -1, 1, -1 are AR(1) at minus the autocorrelation: the same p, up to
    what lies beyond .9 in size, where the grid has one side.
    """
    rng = np.random.default_rng(2)
    x, y = np.column_stack([np.ones(60), rng.normal(size=60).cumsum()]), faded(60, 0.2, rng)
    steps, sign = np.r_[np.inf, np.ones(59)], np.tile([1.0, -1.0], 30)
    steps[30] = np.inf
    fit, turned = fit_ar1(x, y, steps), fit_ar1(sign[:, None] * x, sign * y, steps)
    assert turned.autocorrelation == pytest.approx(-fit.autocorrelation, abs=1e-6)
    np.testing.assert_allclose(turned.p, fit.p, rtol=1e-5)
    np.testing.assert_allclose(turned.ci_high, fit.ci_high, rtol=1e-5)


def test_parts_of_a_step_leave_the_autocorrelation_its_sign() -> None:
    """Truth: made. Swings half a step apart that alternate: the autocorrelation found is below 0."""
    rng = np.random.default_rng(8)
    table = pd.DataFrame({"order": np.cumsum(rng.choice([0.5, 1.0, 1.3], 60)), "x": rng.normal(size=60)})
    table["y"] = faded(60, -0.6, rng)
    assert fit_series(table, "y", ["x"], order="order").autocorrelation < -0.3


def test_drifting_series_without_a_step_are_seldom_taken_for_one() -> None:
    """Truth: made. 200 series of 20 swings at autocorrelation .6: honest p near .05, plain t far above."""
    rng = np.random.default_rng(11)
    after = np.repeat([0, 1], 10)
    honest = plain = 0
    for _ in range(200):
        values = faded(20, 0.6, rng)
        honest += fit_step(values, after).p < 0.05
        plain += stats.ttest_ind(values[:10], values[10:]).pvalue < 0.05
    assert honest <= 22  # .05 plus four standard errors
    assert plain >= 40


def test_a_long_series_gives_back_what_was_put_in() -> None:
    """Truth: made. 1,500 swings: slope .3, trend .002 a swing, autocorrelation .6."""
    rng = np.random.default_rng(5)
    n = 1500
    table = pd.DataFrame({"order": np.arange(n), "tilt": rng.normal(0, 3, n)})
    table["angle"] = 0.3 * table["tilt"] + 0.002 * table["order"] + faded(n, 0.6, rng)
    fit = fit_series(table, "angle", ["tilt"], order="order")
    found = fit.coefficients["estimate"]
    assert found["tilt"] == pytest.approx(0.3, abs=0.03) and found["trend"] == pytest.approx(0.002, abs=6e-4)
    assert fit.autocorrelation == pytest.approx(0.6, abs=0.06)
    assert fit.effective_n == pytest.approx(
        n * (1 - fit.autocorrelation) / (1 + fit.autocorrelation), rel=0.02
    )


def test_units_and_shuffled_rows_change_nothing() -> None:
    """Truth: made. Degrees or radians, places from 1 or 101, rows in any order: the same t, df, p."""
    table = series_table(40, 0.3, 4)
    plain = fit_series(table, "angle", ["tilt"], order="order", session="session").coefficients
    other = table.assign(
        tilt=np.radians(table["tilt"]), angle=100 * table["angle"], order=table["order"] + 100
    )
    moved = other.groupby("session").sample(frac=1, random_state=1)
    again = fit_series(moved, "angle", ["tilt"], order="order", session="session").coefficients
    for name in ("t", "df", "p"):
        np.testing.assert_allclose(
            again.loc[["tilt", "trend"], name], plain.loc[["tilt", "trend"], name], rtol=1e-6
        )


def test_a_swing_left_out_keeps_its_place() -> None:
    """Truth: made. A missing value gives what a missing row gives, not what a closed gap gives."""
    table = series_table(40, 0.7, 6)
    holes = table.copy()
    holes.loc[10:12, "angle"] = np.nan
    fit = fit_series(holes, "angle", ["tilt"], order="order", session="session")
    rows = fit_series(table.drop(index=[10, 11, 12]), "angle", ["tilt"], order="order", session="session")
    assert fit.dropped == 3 and fit.autocorrelation == pytest.approx(rows.autocorrelation)
    closed = table.drop(index=[10, 11, 12])
    closed = closed.assign(order=closed.groupby("session").cumcount() + 1)
    shut = fit_series(closed, "angle", ["tilt"], order="order", session="session")
    assert abs(shut.autocorrelation - fit.autocorrelation) > 1e-3


def test_a_step_is_a_series_with_one_indicator() -> None:
    """Truth: made. fit_step and fit_series agree; blocks and a trend beside; sessions are said."""
    rng = np.random.default_rng(7)
    after = np.repeat([0, 1], 15)
    values = 2.0 * after + faded(30, 0.3, rng)
    table = pd.DataFrame({"y": values, "after": after, "order": range(30)})
    for trend in (False, True):
        step = fit_step(values, after, trend=trend)
        line = fit_series(table, "y", ["after"], order="order", trend=trend).coefficients.loc["after"]
        assert (step.estimate, step.standard_error, step.p) == pytest.approx(
            (line["estimate"], line["standard_error"], line["p"])
        )
    assert fit_step(values, after).block_p < 0.05
    apart = fit_step(values, after, session=np.where(after == 1, "b", "a"))
    assert any("different sessions" in said for said in apart.warnings)
    alternating = fit_step(values + np.tile([0, 3], 15), np.tile([0, 1], 15))
    assert alternating.p < 1e-4


def test_series_that_cannot_be_fitted_are_refused() -> None:
    """Truth: made. Two golfers, an order that repeats, a predictor that never changes, words in `after`."""
    table = series_table()
    with pytest.raises(
        BadTable, match=r"same value in the column order \(1, 2, .*name the column of sessions"
    ):
        try:
            fit_series(table, "angle", ["tilt"], order="order")
        except BadTable as fault:
            raise BadTable(str(fault)) from fault
    with pytest.raises(BadTable, match="swings of 2 golfers"):
        fit_series(table.assign(golfer=["A", "B"] * 15), "angle", ["tilt"], order="order")
    with pytest.raises(BadTable, match="tilt is the same in every complete row"):
        fit_series(table.assign(tilt=1.0), "angle", ["tilt"], order="order", session="session")
    with pytest.raises(BadTable, match="5 swings without missing values are too few for 3 coefficients"):
        fit_series(table.head(5), "angle", ["tilt"], order="order", session="session")
    with pytest.raises(BadRequest, match="0 for swings before"):
        fit_step([1.0, 2, 3, 4], [0, 1, 2, 1])
    with pytest.raises(
        BadTable, match="two swings before the change and two after it, but there are 1 and 3"
    ):
        fit_step([1.0, 2, 3, 4], [0, 1, 1, 1])


def test_a_drift_is_said_and_a_perfect_fit_refused() -> None:
    """Truth: made. A clear trend is reported per swing; values without any error cannot be judged."""
    table = series_table(40, 0.0, 9)
    table["angle"] += 0.3 * np.arange(40)
    fit = fit_series(table, "angle", ["tilt"], order="order", session="session")
    assert any(said.startswith("angle drifts by +0.") for said in fit.warnings)
    exact = table.assign(angle=2 * table["tilt"] + 1)
    with pytest.raises(BadTable, match="without any error"):
        fit_series(exact, "angle", ["tilt"], order="order", session="session")
