"""Ordered and yes-or-no outcomes: other libraries, brute-force integration, closed forms."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from scipy import linalg, special
from statsmodels.genmod import families
from statsmodels.genmod.cov_struct import Exchangeable
from statsmodels.genmod.generalized_estimating_equations import GEE
from statsmodels.miscmodels.ordinal_model import OrderedModel

from swinglab.errors import BadRequest, BadTable
from swinglab.statistics import fit_binary, fit_ordinal_mixed, permutation_test_paired
from swinglab.statistics.binary import few_golfer_errors, separates
from swinglab.statistics.cumulative import Cumulative, reach_optimum

WORDS = np.array(["fat", "clean", "thin"])


def contacts(sd: float = 1.0, *, slope: float = 0.3, seed: int = 0, golfers: int = 10) -> pd.DataFrame:
    """15 swings of each golfer, half of them skilled; fat, clean, thin by a latent sum."""
    rng = np.random.default_rng(seed)
    n = golfers * 15
    table = pd.DataFrame({"golfer": np.repeat(np.arange(golfers), 15), "tilt": rng.normal(30, 3, n)})
    table["group"] = np.where(table["golfer"] < golfers // 2, "learners", "skilled")
    own = np.repeat(rng.normal(0, sd, golfers), 15)
    latent = slope * (table["tilt"] - 30) + own + rng.logistic(size=n)
    table["contact"] = WORDS[np.searchsorted([-1.0, 1.0], latent)]
    return table


def test_without_a_spread_of_golfers_it_is_the_plain_ordered_model() -> None:
    """Truth: other. statsmodels' OrderedModel where the random variance is 0: estimates, errors, likelihood."""
    table = contacts(0.0)
    fit = fit_ordinal_mixed(table, "contact", ["tilt"])
    assert fit.random_variance == 0.0 and any(
        "random variance is estimated as 0" in said for said in fit.warnings
    )
    codes = pd.Categorical(table["contact"], WORDS, ordered=True).codes
    plain = OrderedModel(codes, table[["tilt"]] - 30, distr="logit").fit(method="bfgs", disp=0, gtol=1e-9)
    assert fit.log_likelihood == pytest.approx(plain.llf, abs=1e-6)
    assert fit.coefficients["estimate"]["tilt"] == pytest.approx(plain.params["tilt"], rel=1e-4)
    assert fit.coefficients["standard_error"]["tilt"] == pytest.approx(plain.bse["tilt"], rel=1e-3)


def test_the_likelihood_is_a_brute_force_integral() -> None:
    """Truth: other. Each golfer's integral over 20,001 points; the gradient by differences; an optimum."""
    table = contacts(1.5, seed=2)
    y = pd.Categorical(table["contact"], WORDS, ordered=True).codes.astype(int)
    x = (table[["tilt"]].to_numpy() - 30) / 3
    codes = table["golfer"].to_numpy()
    model = Cumulative(y, x, codes, 3)
    parameters = np.array([-0.9, 1.3, 0.8, 1.4])
    u = np.linspace(-9, 9, 20_001)
    cuts = np.array([-np.inf, -0.9, 1.3, np.inf])
    total = 0.0
    for golfer in range(10):
        log = -0.5 * u**2 - 0.5 * np.log(2 * np.pi)
        for level, value in zip(y[codes == golfer], x[codes == golfer, 0], strict=True):
            eta = 0.8 * value + 1.4 * u
            log += np.log(special.expit(cuts[level + 1] - eta) - special.expit(cuts[level] - eta))
        total += np.log(np.trapezoid(np.exp(log), u))
    assert model.log_likelihood(parameters) == pytest.approx(total, abs=1e-8)
    gradient = model.gradient(parameters)
    for i, unit in enumerate(np.eye(4)):
        change = model.log_likelihood(parameters + 1e-5 * unit) - model.log_likelihood(
            parameters - 1e-5 * unit
        )
        assert gradient[i] == pytest.approx(change / 2e-5, abs=1e-5)
    best = reach_optimum(model)
    assert np.abs(model.gradient(best)).max() < 1e-6
    assert all(np.linalg.eigvalsh(model.information(best)) > 0)


def test_each_term_is_tested_at_its_own_level() -> None:
    """Truth: made. A golfer's own trait by t on golfers, a within term by flipping golfers' score sums."""
    table = contacts(1.0, seed=3)
    fit = fit_ordinal_mixed(table, "contact", ["tilt", "group"])
    level = fit.coefficients["level"]
    assert level["tilt"] == "within golfers" and level["group[skilled]"] == "between golfers"
    assert "8 golfers" in fit.coefficients.loc["group[skilled]", "test"]
    assert any(note.key == "few_golfers_ordinal" for note in fit.warnings)
    assert fit.coefficients["p"]["tilt"] * 2**10 == pytest.approx(
        round(fit.coefficients["p"]["tilt"] * 2**10)
    )
    y = pd.Categorical(table["contact"], WORDS, ordered=True).codes.astype(int)
    x = (table[["tilt"]].to_numpy() - 30) / 3
    alone = Cumulative(y, x, table["golfer"].to_numpy(), 3)
    sums = alone.score_sums(2)
    assert fit_ordinal_mixed(table, "contact", ["tilt"]).coefficients["p"]["tilt"] == pytest.approx(
        permutation_test_paired(sums).p
    )
    assert sums.sum() == pytest.approx(alone.gradient(reach_optimum(alone, fixed=2))[2], abs=1e-4)


def test_ordinal_estimates_follow_units_and_truth() -> None:
    """Truth: made. 60 golfers: slope .3 within 3 errors; degrees or radians give the same z and p."""
    table = contacts(1.0, golfers=60, seed=5)
    fit = fit_ordinal_mixed(table, "contact", ["tilt"])
    line = fit.coefficients.loc["tilt"]
    assert abs(line["estimate"] - 0.3) < 3 * line["standard_error"]
    assert 0.4 < fit.random_variance < 2.0
    turned = fit_ordinal_mixed(table.assign(tilt=np.radians(table["tilt"])), "contact", ["tilt"])
    assert turned.coefficients["z"]["tilt"] == pytest.approx(line["z"], rel=1e-6)
    assert turned.coefficients["p"]["tilt"] == pytest.approx(line["p"])


def test_ordinal_outcomes_without_order_or_estimate_are_refused() -> None:
    """Truth: made. Unknown words, one level, separation; uncertain counts as missing."""
    table = contacts(1.0)
    with pytest.raises(BadTable, match="words without an order"):
        fit_ordinal_mixed(table.assign(contact=table["group"]), "contact", ["tilt"])
    with pytest.raises(BadTable, match="all rows have the same value of the outcome"):
        fit_ordinal_mixed(table.assign(contact="fat"), "contact", ["tilt"])
    apart = table.assign(
        contact=np.where(table["tilt"] > 31, "thin", np.where(table["tilt"] > 29, "clean", "fat"))
    )
    with pytest.raises(BadTable, match="perfectly"):
        fit_ordinal_mixed(apart, "contact", ["tilt"])
    table.loc[:4, "contact"] = "uncertain"
    assert fit_ordinal_mixed(table, "contact", ["tilt"]).dropped == 5


def test_binary_is_statsmodels_gee() -> None:
    """Truth: other. The same equations on the columns as they are, with statsmodels' bias-reduced covariance."""
    table = contacts(1.0, seed=6).assign(clean=lambda rows: (rows["contact"] == "clean").astype(int))
    fit = fit_binary(table, "clean", ["tilt", "group"])
    x = np.column_stack([np.ones(150), table["tilt"] - 30, table["group"] == "skilled"]).astype(float)
    raw = GEE(
        table["clean"].astype(float),
        x,
        table["golfer"],
        family=families.Binomial(),
        cov_struct=Exchangeable(),
    ).fit(maxiter=200, ctol=1e-10)
    careful = raw.model.fit(cov_type="bias_reduced", maxiter=200, ctol=1e-10)
    terms = fit.coefficients.loc[["tilt", "group[skilled]"]]
    np.testing.assert_allclose(terms["estimate"], raw.params[1:], rtol=1e-4)
    np.testing.assert_allclose(terms["standard_error"], careful.bse[1:], rtol=1e-4)
    assert not fit.penalised and set(terms["df"]) == {7.0}
    # Kauermann & Carroll's lie between the plain sandwich and Mancl & DeRouen's.
    other = fit_binary(table, "clean", ["tilt", "group"], covariance="kauermann_carroll")
    terms = other.coefficients.loc[["tilt", "group[skilled]"]]
    error = terms["standard_error"].to_numpy()
    assert (error > raw.bse.to_numpy()[1:]).all() and (error < careful.bse.to_numpy()[1:]).all()
    assert (terms["df"] > 5).all() and (terms["df"] < 9).all()
    with pytest.raises(BadRequest, match="no method plain"):
        fit_binary(table, "clean", ["tilt"], covariance="plain")


def test_an_empty_cell_is_penalised_and_named() -> None:
    """Truth: other. Firth's estimate in a 2 x 2 table is the log odds ratio with a half added to each cell."""
    table = contacts(1.0, seed=7)
    table["thin"] = (table["contact"] == "thin") & (table["group"] == "learners")
    fit = fit_binary(table, "thin", ["group"])
    counted = int(table["thin"].sum())
    expected = np.log(0.5 / 75.5) - np.log((counted + 0.5) / (75 - counted + 0.5))
    assert fit.penalised
    assert fit.coefficients["estimate"]["group[skilled]"] == pytest.approx(expected, abs=1e-8)
    assert any("no swing with group[skilled]" in said for said in fit.warnings)
    assert fit.coefficients["standard_error"]["group[skilled]"] > 1.0


def test_separation_is_found_where_there_is_any() -> None:
    """Truth: made. Complete, with a tie, by two columns together; and none in overlapping data."""
    one = np.ones(6)
    x = np.column_stack([one, [1.0, 2, 3, 4, 5, 6]])
    assert separates(x, np.array([0, 0, 0, 1, 1, 1]))
    tied = np.column_stack([one, [1.0, 2, 3, 3, 5, 6]])
    assert separates(tied, np.array([0, 0, 0, 1, 1, 1]))
    assert not separates(x, np.array([0, 1, 0, 1, 0, 1]))
    rng = np.random.default_rng(1)
    both = np.column_stack([np.ones(40), rng.normal(size=(40, 2))])
    assert separates(both, both[:, 1] + both[:, 2] > 0)
    assert not separates(both, rng.random(40) > 0.5)


@pytest.mark.parametrize("correlation", [0.0, 0.3])
def test_errors_of_few_golfers_by_whole_matrices(correlation: float) -> None:
    """Truth: other. The bias-reduced covariance and its degrees of freedom with every matrix written out whole."""
    rng = np.random.default_rng(8)
    codes = rng.permutation(np.repeat(np.arange(6), [5, 9, 7, 12, 6, 8]))
    n, b = len(codes), np.array([0.2, 0.5, -0.4])
    x = np.column_stack([np.ones(n), rng.normal(size=n), codes % 2])
    y = (rng.random(n) < 0.5).astype(float)
    share = special.expit(x @ b)
    same = codes[:, None] == codes
    half = np.diag(np.sqrt(share * (1 - share)))
    working = half @ np.where(same, correlation + (1 - correlation) * np.eye(n), 0.0) @ half
    root = linalg.sqrtm(linalg.inv(working)).real
    d, rest = root @ half**2 @ x, root @ (y - share)
    inverse = linalg.inv(d.T @ d)
    left = np.eye(n) - d @ inverse @ d.T
    contrasts = np.array([[1.0, 0, 0], [0, 2.0, 0], [0, 0, 1.0], [1.0, 0, 1.0]])
    errors, df = few_golfer_errors(x, y, codes, b, correlation, contrasts, -0.5)
    for contrast, error, degrees in zip(contrasts, errors, df, strict=True):
        columns = []
        for golfer in range(6):
            own = np.flatnonzero(codes == golfer)
            adjusted = linalg.sqrtm(linalg.inv(left[np.ix_(own, own)])).real
            columns.append(left[:, own] @ adjusted @ d[own] @ inverse @ contrast)
        form = np.array(columns) @ np.array(columns).T
        direct = np.array([column @ rest for column in columns])
        # At a root of the equations the residuals are free of d; here they are any, so that is taken out.
        shift = np.array([
            (d[codes == g] @ inverse @ d.T @ rest) @ linalg.sqrtm(
                linalg.inv(left[np.ix_(codes == g, codes == g)])
            ).real @ d[codes == g] @ inverse @ contrast
            for g in range(6)
        ])  # fmt: skip
        assert error == pytest.approx(np.sqrt(((direct + shift) ** 2).sum()), rel=1e-8)
        assert degrees == pytest.approx(np.trace(form) ** 2 / np.trace(form @ form), rel=1e-8)


def test_binary_outcomes_that_are_none_are_refused() -> None:
    """Truth: made. Three levels, and no more golfers than coefficients."""
    table = contacts(1.0)
    with pytest.raises(BadTable, match="has 3 different values"):
        fit_binary(table, "contact", ["tilt"])
    few = table[table["golfer"] < 2].assign(fat=lambda rows: rows["contact"] == "fat")
    with pytest.raises(BadTable, match="2 golfers for 2 coefficients"):
        fit_binary(few, "fat", ["tilt"])
