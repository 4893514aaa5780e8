"""Cluster-robust errors, golfer means, the bootstraps and influence, against formulas written out in full."""

from __future__ import annotations

from itertools import product

import numpy as np
import pandas as pd
import pytest
import statsmodels.api as sm
from made_swings import golf_swings
from scipy import stats

from swinglab.errors import BadRequest, BadTable
from swinglab.statistics import (
    bootstrap_golfers,
    fit_cluster_robust,
    fit_golfer_means,
    fit_mixed,
    influence,
    wild_bootstrap,
)


def swings_with_club(seed: int = 4) -> pd.DataFrame:
    """Nine golfers, unequal numbers, a golfer-level text predictor of three levels."""
    table = golf_swings(9, 8, seed=seed, unequal=True)
    return table.assign(school=table["golfer"].str[1:].astype(int).mod(3).map(dict(enumerate("abc"))))


class FullCR2:
    """CR2 from n x n matrices: adjustment by eigenvectors of each golfer's own block."""

    def __init__(self, x: np.ndarray, y: np.ndarray, codes: np.ndarray):
        bread = np.linalg.inv(x.T @ x)
        maker = np.eye(len(y)) - x @ bread @ x.T
        rest = maker @ y
        self.along, scores = [], []
        for g in range(codes.max() + 1):
            rows = codes == g
            size, axes = np.linalg.eigh(maker[np.ix_(rows, rows)])
            keep = size > 1e-10
            root = (axes[:, keep] / np.sqrt(size[keep])) @ axes[:, keep].T
            scores.append(x[rows].T @ root @ rest[rows])
            self.along.append(maker[:, rows] @ root @ x[rows] @ bread)  # (n, p)
        self.covariance = bread @ np.array(scores).T @ np.array(scores) @ bread

    def eta(self, contrasts: np.ndarray) -> float:
        """k (k + 1) / sum of variances of the standardised covariance's entries, all pairs written out."""
        k = len(contrasts)
        towards = [a @ contrasts.T for a in self.along]
        expected = sum(t.T @ t for t in towards)
        root = np.linalg.inv(np.linalg.cholesky(expected))
        towards = [t @ root.T for t in towards]
        total = 0.0
        for a, b in product(towards, towards):
            pair = a.T @ b
            for s, t in product(range(k), range(k)):
                total += pair[s, s] * pair[t, t] + pair[s, t] * pair[t, s]
        return k * (k + 1) / total


@pytest.mark.parametrize("predictors", [["tilt"], ["school"], ["tilt", "speed", "school"]])
def test_cr2_errors_df_and_joint_test_equal_the_full_matrices(predictors: list[str]) -> None:
    """Truth: other. n x n algebra by numpy, golfer-level predictors (rank-deficient blocks) included."""
    table = swings_with_club()
    fit = fit_cluster_robust(table, "angle", predictors)
    design = fit.design
    full = FullCR2(design.x, design.y, design.codes)
    np.testing.assert_allclose(fit.covariance, full.covariance, rtol=1e-7, atol=1e-12)
    for i, row in enumerate(np.eye(len(design.names))):
        assert fit.coefficients["df"].iloc[i] == pytest.approx(full.eta(row[None]), rel=1e-7)
    if "school" in predictors:
        test = fit.joint_test(["school"])
        places = design.places(["school"])
        eta = full.eta(np.eye(len(design.names))[places])
        b = fit.coefficients["estimate"].to_numpy()[places]
        quadratic = b @ np.linalg.solve(full.covariance[np.ix_(places, places)], b)
        assert (test.df1, test.df2) == (2, pytest.approx(eta - 1, rel=1e-7))
        assert pytest.approx(quadratic * (eta - 1) / (eta * 2), rel=1e-7) == test.F
        assert test.p == pytest.approx(stats.f.sf(test.F, 2, eta - 1), rel=1e-6)


def test_a_golfer_who_alone_carries_a_term_is_survived() -> None:
    """Truth: other. The block has a direction without residual; a pseudo-inverse leaves it out."""
    table = golf_swings(7, 6).assign(new_club=lambda t: (t["golfer"] == "G03").astype(float))
    fit = fit_cluster_robust(table, "angle", ["tilt", "new_club"])
    full = FullCR2(fit.design.x, fit.design.y, fit.design.codes)
    np.testing.assert_allclose(fit.covariance, full.covariance, rtol=1e-6, atol=1e-12)
    assert np.isfinite(fit.coefficients.loc["tilt"]).all()


def test_a_joint_test_of_one_term_is_its_t_test() -> None:
    """Truth: made. F = t^2 and the same p."""
    fit = fit_cluster_robust(golf_swings(8, 6), "angle", ["tilt", "speed"])
    test, row = fit.joint_test(["speed"]), fit.coefficients.loc["speed"]
    assert pytest.approx(row["t"] ** 2) == test.F
    assert test.p == pytest.approx(row["p"])
    with pytest.raises(BadTable, match="similar names: speed"):
        fit.joint_test(["sped"])
    with pytest.raises(BadRequest, match="at least one coefficient"):
        fit.joint_test([])


@pytest.mark.parametrize("fit", [fit_cluster_robust, fit_golfer_means])
def test_units_do_not_matter(fit) -> None:
    """Truth: made. Radians, cm, another origin: the same t, df and p to 1e-6."""
    table = swings_with_club()
    other = table.assign(tilt=np.radians(table["tilt"] + 30), angle=table["angle"] * 100)
    a, b = (fit(each, "angle", ["tilt", "school"]).coefficients.drop("intercept") for each in (table, other))
    for name in ("t", "df", "p"):
        np.testing.assert_allclose(a[name], b[name], rtol=1e-6)


def test_golfer_means_equal_least_squares_on_means() -> None:
    """Truth: other. statsmodels OLS on the golfers' means."""
    table = swings_with_club()
    fit = fit_golfer_means(table, "angle", ["tilt", "school"])
    means = table.groupby("golfer").agg({"angle": "mean", "tilt": "mean", "school": "first"})
    x = np.column_stack([np.ones(9), means["tilt"], means["school"] == "b", means["school"] == "c"])
    other = sm.OLS(means["angle"].to_numpy(), x).fit()
    np.testing.assert_allclose(fit.coefficients["estimate"], other.params, rtol=1e-9)
    np.testing.assert_allclose(fit.coefficients["standard_error"], other.bse, rtol=1e-9)
    np.testing.assert_allclose(fit.coefficients["p"], other.pvalues, rtol=1e-7)
    assert fit.coefficients["df"].eq(5).all()
    with pytest.raises(BadTable, match="3 golfers for 3 coefficients"):
        fit_golfer_means(golf_swings(3, 6), "angle", ["tilt", "speed"])
    with pytest.raises(BadTable, match="golfers' means of order are all the same"):
        fit_golfer_means(golf_swings(6, 6), "angle", ["order"])


def plain_t(x: np.ndarray, y: np.ndarray, codes: np.ndarray, value: float) -> float:
    """|t| of the last column against `value`, by the plain clustered error."""
    bread = np.linalg.inv(x.T @ x)
    b = bread @ x.T @ y
    sums = np.zeros((codes.max() + 1, x.shape[1]))
    np.add.at(sums, codes, x * (y - x @ b)[:, None])
    return abs(b[-1] - value) / np.sqrt((bread @ sums.T @ sums @ bread)[-1, -1])


def test_wild_bootstrap_equals_every_pattern_refitted() -> None:
    """Truth: other. 256 data sets built and refitted, at 0 and just inside and outside both limits."""
    table = golf_swings(8, 6, seed=5, unequal=True)
    found = wild_bootstrap(table, "angle", ["speed", "tilt"], term="tilt")
    codes = pd.factorize(table["golfer"], sort=True)[0]
    x = np.column_stack([np.ones(len(table)), table["speed"], table["tilt"]])
    y = table["angle"].to_numpy()

    def p_of(value: float) -> float:
        null = y - value * x[:, -1]
        fitted = x[:, :-1] @ np.linalg.lstsq(x[:, :-1], null, rcond=None)[0]
        t = plain_t(x, y, codes, value)
        drawn = [
            plain_t(x, fitted + value * x[:, -1] + np.array(signs)[codes] * (null - fitted), codes, value)
            for signs in product((1.0, -1.0), repeat=8)
        ]
        return float(np.mean(np.array(drawn) >= t * (1 - 1e-9)))

    assert (found.samples, found.weights) == (256, "signs, all patterns")
    assert found.p == pytest.approx(p_of(0.0))
    width = found.ci_high - found.ci_low
    for limit, inward in ((found.ci_low, 1), (found.ci_high, -1)):
        assert p_of(limit + inward * 1e-3 * width) > 0.05 >= p_of(limit - inward * 1e-3 * width)


def test_wild_bootstrap_weights_follow_the_number_of_golfers() -> None:
    """Truth: made. Webb below 8, every sign pattern to 12, drawn signs beyond; the drawn ones obey the seed."""
    kinds = {
        golfers: wild_bootstrap(golf_swings(golfers, 5), "angle", ["tilt"], term="tilt", samples=499)
        for golfers in (6, 7, 8, 12, 13)
    }
    assert [kinds[g].weights for g in (6, 7, 8, 12, 13)] == [
        "webb", "webb", "signs, all patterns", "signs, all patterns", "signs",
    ]  # fmt: skip
    assert [kinds[g].samples for g in (6, 8, 12, 13)] == [499, 256, 4096, 499]
    again = wild_bootstrap(golf_swings(13, 5), "angle", ["tilt"], term="tilt", samples=499)
    other = wild_bootstrap(golf_swings(13, 5), "angle", ["tilt"], term="tilt", samples=499, seed=1)
    assert (again.p, again.ci_low) == (kinds[13].p, kinds[13].ci_low)
    assert other.ci_low != again.ci_low
    with pytest.raises(BadTable, match="school has 2 coefficients"):
        wild_bootstrap(swings_with_club(), "angle", ["school"], term="school")


def test_resampled_fits_equal_fits_of_the_tables_drawn() -> None:
    """Truth: other. Each resample written out as a table and fitted by itself."""
    table = golf_swings(8, 8, seed=2, unequal=True)
    found = bootstrap_golfers(table, "angle", ["tilt"], slopes=["tilt"], samples=120, seed=9)
    draw = np.random.default_rng(9).multinomial(8, np.full(8, 1 / 8), size=120)
    golfers = sorted(table["golfer"].unique())
    for r in range(0, 120, 15):
        parts = [
            table[table["golfer"] == golfer].assign(golfer=f"{golfer} {copy}")
            for golfer, times in zip(golfers, draw[r], strict=True)
            for copy in range(times)
        ]
        alone = fit_mixed(pd.concat(parts), "angle", ["tilt"], slopes=["tilt"]).coefficients["estimate"]
        np.testing.assert_allclose(found.estimates.iloc[r], alone, rtol=1e-6, atol=1e-8)
    assert (found.unreached, found.flat) == (0, 0)
    whole = fit_mixed(table, "angle", ["tilt"], slopes=["tilt"]).coefficients["estimate"]
    np.testing.assert_allclose(found.coefficients["estimate"], whole, rtol=1e-9)
    np.testing.assert_allclose(found.coefficients["ci_low"], found.estimates.quantile(0.025), rtol=1e-9)


def test_resamples_without_variation_are_counted_and_left_out() -> None:
    """Truth: made. A trait of two of seven golfers is missing from many draws."""
    table = golf_swings(7, 6).assign(left=lambda t: t["golfer"].isin(["G00", "G01"]).astype(float))
    found = bootstrap_golfers(table, "angle", ["left"], samples=300, seed=1)
    draw = np.random.default_rng(1).multinomial(7, np.full(7, 1 / 7), size=300)
    flat = (draw[:, :2].sum(axis=1) == 0) | (draw[:, 2:].sum(axis=1) == 0)
    assert found.flat == flat.sum() > 0
    assert found.estimates["left"].isna().to_numpy().tolist() == flat.tolist()
    assert any("did not vary" in said for said in found.warnings)


def test_influence_is_the_fit_without_each_golfer() -> None:
    """Truth: other. A planted odd golfer comes first, with the numbers of a fit without it."""
    table = golf_swings(8, 10, slope_sd=0.05)
    odd = table["golfer"] == "G05"
    table.loc[odd, "angle"] -= 3 * (table.loc[odd, "tilt"] - 20)
    found = influence(table, "angle", ["tilt"], term="tilt", slopes=["tilt"])
    assert found.index[0] == "G05"
    rest = fit_mixed(table[~odd], "angle", ["tilt"], slopes=["tilt"]).coefficients.loc["tilt"]
    assert found.loc["G05", "estimate"] == pytest.approx(rest["estimate"])
    whole = fit_mixed(table, "angle", ["tilt"], slopes=["tilt"]).coefficients.loc["tilt", "estimate"]
    assert found.loc["G05", "change"] == pytest.approx(rest["estimate"] - whole)
    means = influence(table, "angle", ["tilt"], term="tilt", fit=fit_golfer_means)
    assert len(means) == 8
    with pytest.raises(BadTable, match="no coefficient tlit"):
        influence(table, "angle", ["tilt"], term="tlit")


@pytest.mark.parametrize("slope_sd", [0.0, 0.3])
@pytest.mark.parametrize("options", [{}, {"slopes": ["tilt"]}, {"slopes": ["tilt"], "session": "day"}])
def test_influence_side_by_side_is_a_fit_of_its_own(slope_sd: float, options: dict) -> None:
    """Truth: other. Golfers are left out side by side from cross-products; fitted one by one they give the same."""
    table = golf_swings(7, 9, slope_sd=slope_sd, unequal=True, seed=2)
    table["day"] = table["golfer"] + np.where(np.arange(len(table)) % 3 == 0, "a", "b")
    found = influence(table, "angle", ["tilt"], term="tilt", **options)
    for golfer, line in found.iterrows():
        rest = fit_mixed(table[table["golfer"] != golfer], "angle", ["tilt"], **options)
        for name in ("estimate", "standard_error", "p"):
            assert line[name] == pytest.approx(rest.coefficients.loc["tilt", name], rel=1e-6)


def test_influence_on_golfers_means_is_a_fit_of_its_own() -> None:
    """Truth: other. The table is read once for all golfers; one golfer alone has a level of the text predictor, without
    whom its coefficient cannot be estimated."""
    table = swings_with_club()
    table.loc[table["golfer"] == "G03", "school"] = "d"
    found = influence(table, "angle", ["tilt", "school"], term="school[d]", fit=fit_golfer_means)
    assert found.loc["G03", ["estimate", "p"]].isna().all() and "school[d]" in found.loc["G03", "note"]
    for predictors in (["tilt"], ["tilt", "school"]):
        found = influence(table, "angle", predictors, term="tilt", fit=fit_golfer_means)
        for golfer, line in found.iterrows():
            rest = fit_golfer_means(table[table["golfer"] != golfer], "angle", predictors)
            for name in ("estimate", "standard_error", "p"):
                assert line[name] == pytest.approx(rest.coefficients.loc["tilt", name], rel=1e-9)


def test_influence_where_a_golfer_carries_the_model() -> None:
    """Truth: made. Without the one golfer whose posture varies no fit is possible: the reason stands in the note."""
    table = golf_swings(6, 8, seed=5)
    table["tilt"] = table["tilt"].where(
        table["golfer"] == "G01", table.groupby("golfer")["tilt"].transform("mean")
    )
    found = influence(table, "angle", ["tilt"], term="tilt", slopes=["tilt"])
    assert np.isnan(found.loc["G01", "estimate"]) and "does not vary" in found.loc["G01", "note"]
    assert found.drop(index="G01")["estimate"].notna().all()
