"""The mixed model against dense formulas, changes of unit, and cases with a known answer."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from made_swings import golf_swings
from scipy import stats

from swinglab.errors import BadRequest, BadTable
from swinglab.statistics import fit_mixed

COLUMNS = ["estimate", "standard_error", "df", "t", "p", "ci_low", "ci_high"]


class Dense:
    """Restricted (or full) likelihood from n x n matrices: (theta, residual SD) -> deviance and covariance."""

    def __init__(self, table: pd.DataFrame, *, slope: bool, session: bool, reml: bool = True):
        golfer = table["golfer"].to_numpy()
        self.same = (golfer[:, None] == golfer[None]).astype(float)
        visit = table["session"].to_numpy()
        self.visit = self.same * (visit[:, None] == visit[None])
        self.x = np.column_stack([np.ones(len(table)), table["tilt"]])
        self.z = self.x if slope else self.x[:, :1]
        self.y, self.session, self.reml = table["angle"].to_numpy(), session, reml

    def covariance(self, theta: np.ndarray, sd: float) -> np.ndarray:
        q = self.z.shape[1]
        low = np.zeros((q, q))
        low[np.tril_indices(q)] = theta[: q * (q + 1) // 2]
        v = np.eye(len(self.y)) + self.same * (self.z @ low @ low.T @ self.z.T)
        if self.session:
            v += theta[-1] ** 2 * self.visit
        return sd**2 * v

    def beta_covariance(self, at: np.ndarray) -> np.ndarray:
        v = self.covariance(at[:-1], at[-1])
        return np.linalg.inv(self.x.T @ np.linalg.solve(v, self.x))

    def deviance(self, at: np.ndarray) -> float:
        v = self.covariance(at[:-1], at[-1])
        solved = np.linalg.solve(v, self.x)
        information = self.x.T @ solved
        rest = self.y - self.x @ np.linalg.solve(information, solved.T @ self.y)
        value = np.linalg.slogdet(v)[1] + rest @ np.linalg.solve(v, rest)
        count = len(self.y)
        if self.reml:
            value += np.linalg.slogdet(information)[1]
            count -= 2
        return float(value + count * np.log(2 * np.pi))


def difference_hessian(function, at: np.ndarray, step: np.ndarray) -> np.ndarray:
    """Second derivatives by central differences."""
    k = len(at)
    found = np.empty((k, k))
    for i in range(k):
        for j in range(k):
            a, b = np.eye(k)[i] * step, np.eye(k)[j] * step
            found[i, j] = (
                function(at + a + b) - function(at + a - b) - function(at - a + b) + function(at - a - b)
            ) / (4 * step[i] * step[j])
    return found


def theta_of(fit) -> np.ndarray:
    """theta and residual SD of a fit in the user's own columns."""
    size, axes = np.linalg.eigh(fit.random_covariance.to_numpy() / fit.residual_variance)
    relative = np.linalg.qr((axes * np.sqrt(np.maximum(size, 0.0))).T)[1].T  # a boundary fit included
    theta = list(relative[np.tril_indices(len(relative))])
    if np.isfinite(fit.session_variance):
        theta.append(np.sqrt(fit.session_variance / fit.residual_variance))
    return np.array([*theta, np.sqrt(fit.residual_variance)])


CASES = {
    "intercept": (False, False, "REML"),
    "intercept, ML": (False, False, "ML"),
    "slope": (True, False, "REML"),
    "slope, ML": (True, False, "ML"),
    "slope and session": (True, True, "REML"),
}


@pytest.mark.parametrize("name", CASES)
def test_criterion_errors_and_df_equal_those_of_dense_matrices(name: str) -> None:
    """Truth: other. numpy's dense algebra and central differences in place of cross-products and closed forms."""
    slope, session, method = CASES[name]
    table = golf_swings(9, 8, sessions=2, session_sd=0.8, unequal=True, slope_sd=0.4)
    dense = Dense(table, slope=slope, session=session, reml=method == "REML")
    fit = fit_mixed(
        table, "angle", ["tilt"], slopes=["tilt"] if slope else [], method=method,
        session="session" if session else None,
    )  # fmt: skip
    at = theta_of(fit)
    assert fit.criterion == pytest.approx(dense.deviance(at), rel=1e-9)
    covariance = dense.beta_covariance(at)
    np.testing.assert_allclose(fit.coefficients["standard_error"], np.sqrt(np.diag(covariance)), rtol=1e-9)
    step = 1e-4 * np.maximum(np.abs(at), 1e-2)
    slopes = [
        (dense.deviance(at + e) - dense.deviance(at - e)) / (2 * s)
        for e, s in zip(np.diag(step), step, strict=True)
    ]
    scale = np.abs(np.diag(difference_hessian(dense.deviance, at, step))) * np.abs(at)
    np.testing.assert_array_less(np.abs(slopes), 1e-4 * scale + 1e-4)
    spread = 2 * np.linalg.inv(difference_hessian(dense.deviance, at, 10 * step))
    for i in range(2):
        change = np.array([
            (dense.beta_covariance(at + e)[i, i] - dense.beta_covariance(at - e)[i, i]) / (2 * s)
            for e, s in zip(np.diag(step), step, strict=True)
        ])  # fmt: skip
        df = 2 * covariance[i, i] ** 2 / (change @ spread @ change)
        assert fit.coefficients["df"].iloc[i] == pytest.approx(df, rel=2e-3)


def test_balanced_one_way_equals_analysis_of_variance() -> None:
    """Truth: other. Equal numbers: variance components from mean squares, t on golfers - 1."""
    table = golf_swings(10, 6, slope=0.0, slope_sd=0.0)
    fit = fit_mixed(table, "angle", [])
    means = table.groupby("golfer")["angle"].mean()
    within = table.groupby("golfer")["angle"].var().mean()
    assert fit.residual_variance == pytest.approx(within)
    assert fit.random_covariance.iloc[0, 0] == pytest.approx(means.var() - within / 6)
    row = fit.coefficients.loc["intercept"]
    t = stats.ttest_1samp(means, 0.0)
    assert (row["t"], row["p"]) == (pytest.approx(t.statistic), pytest.approx(t.pvalue))
    assert row["df"] == pytest.approx(9.0)


@pytest.mark.parametrize("method", ["REML", "ML"])
def test_units_change_estimates_alone(method: str) -> None:
    """Truth: made. Degrees or radians, cm or m, another origin: the same t, df and p to 1e-6."""
    table = golf_swings(8, 10, unequal=True)
    other = table.assign(
        tilt=np.radians(table["tilt"]), angle=table["angle"] / 100, speed=table["speed"] * 1e4
    )
    fits = [
        fit_mixed(each, "angle", ["tilt", "speed", "sex"], slopes=["tilt"], method=method)
        for each in (table, other)
    ]
    a, b = (fit.coefficients for fit in fits)
    for name in ("t", "df", "p"):
        np.testing.assert_allclose(a[name], b[name], rtol=1e-6, atol=1e-300, err_msg=name)
    assert b.loc["tilt", "estimate"] == pytest.approx(a.loc["tilt", "estimate"] / 100 * 180 / np.pi)
    moved = fit_mixed(table.assign(tilt=table["tilt"] + 500), "angle", ["tilt"], slopes=["tilt"])
    still = fit_mixed(table, "angle", ["tilt"], slopes=["tilt"])
    np.testing.assert_allclose(moved.coefficients.loc["tilt"], still.coefficients.loc["tilt"], rtol=1e-6)
    assert moved.criterion == pytest.approx(still.criterion, abs=1e-6)


def test_units_do_not_matter_on_the_boundary() -> None:
    """Truth: made. A fit with a variance of 0 keeps t, df and p in any unit."""
    found = 0
    for seed in range(8):
        table = golf_swings(8, 10, seed=seed, slope_sd=0.0)
        fit = fit_mixed(table, "angle", ["tilt"], slopes=["tilt"])
        scaled = fit_mixed(table.assign(tilt=table["tilt"] / 57), "angle", ["tilt"], slopes=["tilt"])
        found += fit.boundary
        assert fit.boundary == scaled.boundary
        np.testing.assert_allclose(fit.coefficients["t"], scaled.coefficients["t"], rtol=1e-6)
        np.testing.assert_allclose(fit.coefficients["df"], scaled.coefficients["df"], rtol=1e-5)
    assert found >= 2


def test_the_order_of_rows_and_the_names_of_golfers_do_not_matter() -> None:
    """Truth: made."""
    table = golf_swings(7, 9, unequal=True)
    mixed = table.sample(frac=1, random_state=3).assign(golfer=lambda t: "x" + t["golfer"].str[::-1])
    a, b = (fit_mixed(each, "angle", ["tilt"], slopes=["tilt"]).coefficients for each in (table, mixed))
    np.testing.assert_allclose(a[COLUMNS], b[COLUMNS], rtol=1e-7)


def test_golfer_effects_are_those_of_dense_matrices() -> None:
    """Truth: other. Conditional means S Z'V^-1 r."""
    table = golf_swings(8, 10, slope_sd=0.5)
    fit = fit_mixed(table, "angle", ["tilt"], slopes=["tilt"])
    dense = Dense(table, slope=True, session=False)
    at = theta_of(fit)
    rest = dense.y - dense.x @ fit.coefficients["estimate"].to_numpy()
    solved = np.linalg.solve(dense.covariance(at[:-1], at[-1]), rest)
    for golfer, rows in table.groupby("golfer").indices.items():
        expected = fit.random_covariance.to_numpy() @ dense.z[rows].T @ solved[rows]
        np.testing.assert_allclose(fit.golfer_effects.loc[golfer], expected, rtol=1e-7, atol=1e-9)


def test_random_slopes_of_three_columns_and_singular_shapes_are_fitted() -> None:
    """Truth: made. More slopes than the data can identify end on the boundary, below every other value tried."""
    table = golf_swings(8, 12, slope_sd=0.0)
    fit = fit_mixed(table, "angle", ["tilt", "speed"], slopes=["tilt", "speed"])
    smaller = fit_mixed(table, "angle", ["tilt", "speed"], slopes=["tilt"])
    assert fit.boundary
    assert fit.criterion <= smaller.criterion + 1e-8
    assert np.linalg.eigvalsh(fit.random_covariance.to_numpy()).min() > -1e-9


@pytest.mark.parametrize(
    ("options", "words"),
    [
        ({"slopes": ["height"]}, "height does not vary within any golfer"),
        ({"session": "golfer"}, "no golfer has more than one session"),
        ({"slopes": ["tilt", "speed", "order"]}, "random effects"),
    ],
)
def test_models_that_the_table_cannot_carry_are_refused(options: dict, words: str) -> None:
    """Truth: made."""
    table = golf_swings(5, 4)
    table["height"] = table["golfer"].map(
        {name: i * 1.0 for i, name in enumerate(sorted(table["golfer"].unique()))}
    )
    with pytest.raises(BadTable, match=words):
        fit_mixed(table, "angle", ["tilt"], **options)


def test_an_outcome_without_error_and_an_unknown_method_are_refused() -> None:
    """Truth: made."""
    table = golf_swings(6, 6)
    with pytest.raises(BadTable, match="without any error"):
        fit_mixed(table.assign(angle=2 * table["tilt"] + 1), "angle", ["tilt"])
    with pytest.raises(BadRequest, match="no method reml"):
        fit_mixed(table, "angle", ["tilt"], method="reml")


@pytest.mark.parametrize("seed", [2, 5])
def test_never_above_the_optimum_of_another_program(seed: int) -> None:
    """Truth: other. MixedLM with three optimisers; 200 sets are compared by hand in tests/calibration."""
    from calibration.mixed_against_statsmodels import compare

    gap, off, _ = compare(seed)
    assert gap <= 1e-6
    assert off < 1e-8


@pytest.mark.parametrize(
    ("noise", "df"),
    [(1.0, (7.66204545, 7.68357768)), (0.1, (8.01491587, 7.92913289)), (0.01, (8.00019062, 7.99521656))],
)
def test_golfers_that_differ_far_more_than_their_swings_keep_their_df(
    noise: float, df: tuple[float, float]
) -> None:
    """Truth: other. R 4.2.2, lmerTest 3.1.3: lmer(angle ~ tilt + (tilt | golfer))."""
    table = golf_swings(9, 8, slope_sd=0.3, unequal=True)
    golfer, tilt = pd.factorize(table["golfer"])[0], table["tilt"] - 20
    own = np.random.default_rng(1).normal(size=9)[golfer]
    slope = np.random.default_rng(2).normal(0.3, 0.1, 9)[golfer]
    swings = table.assign(
        tilt=tilt, angle=own + slope * tilt + noise * np.random.default_rng(0).normal(size=len(table))
    )
    fit = fit_mixed(swings, "angle", ["tilt"], slopes=["tilt"])
    np.testing.assert_allclose(fit.coefficients["df"], df, rtol=1e-5)
