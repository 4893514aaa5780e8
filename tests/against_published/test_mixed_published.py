"""Mixed models and clustered errors against R and print, on published data."""

from __future__ import annotations

import numpy as np
import pytest
from published import cases
from reference_data import reference_table

from swinglab.statistics import fit_cluster_robust, fit_mixed

MIXED = cases("mixed_models.toml")


@pytest.mark.parametrize("case", MIXED, ids=[case["name"] for case in MIXED])
def test_mixed_models_agree_with_published_answers(case: dict) -> None:
    """Truth: published. Coefficients, errors, df, variances and criterion, to the digits given."""
    given, expected, tolerance = case["given"], case["expected"], case["tolerance"]
    table = reference_table(given["data"])
    fit = fit_mixed(
        table, given["outcome"], given["predictors"], golfer=given["golfer"], slopes=given["slopes"],
        method=given.get("method", "REML"),
    )  # fmt: skip
    printed = {"estimate", "standard_error", "df", "t"} & set(expected)
    assert {"estimate", "standard_error"} <= printed
    for name in printed:
        np.testing.assert_allclose(fit.coefficients[name], expected[name], rtol=tolerance, err_msg=name)
    if "random_covariance" in expected:
        covariance = fit.random_covariance.to_numpy()
        own = covariance[np.tril_indices(len(covariance))]
        np.testing.assert_allclose(own, expected["random_covariance"], rtol=tolerance, atol=1e-9)
    assert fit.residual_variance == pytest.approx(expected["residual_variance"], rel=tolerance)
    assert fit.criterion == pytest.approx(expected["criterion"], rel=tolerance)
    assert fit.log_likelihood == pytest.approx(-0.5 * fit.criterion)


def test_a_boundary_fit_is_reported() -> None:
    """Truth: published. The second dyestuff set has no variance between batches; the first has."""
    clear = fit_mixed(reference_table("dyestuff.csv"), "Yield", [], golfer="Batch")
    flat = fit_mixed(reference_table("dyestuff2.csv"), "Yield", [], golfer="Batch")
    assert flat.boundary and not clear.boundary
    assert any("estimated as 0" in warning for warning in flat.warnings)
    assert not any("estimated as 0" in warning for warning in clear.warnings)


def test_clustered_errors_of_a_large_panel() -> None:
    """Truth: published. With 500 firms CR2 lies within 0.2 % of the published clustered error."""
    (case,) = cases("clustered_errors.toml")
    given, expected = case["given"], case["expected"]
    table = reference_table(given["data"])
    fit = fit_cluster_robust(table, given["outcome"], given["predictors"], golfer=given["golfer"])
    np.testing.assert_allclose(fit.coefficients["standard_error"], expected["standard_error"], rtol=2e-3)
    design = fit.design
    rest = design.y - design.x @ fit.coefficients["estimate"].to_numpy()
    sums = np.zeros((design.n_golfers, 2))
    np.add.at(sums, design.codes, design.x * rest[:, None])
    bread = np.linalg.inv(design.x.T @ design.x)
    g, n = design.n_golfers, design.n_rows
    plain = bread @ (sums.T @ sums) @ bread * g / (g - 1) * (n - 1) / (n - 2)
    np.testing.assert_allclose(
        np.sqrt(np.diag(plain)), expected["standard_error"], rtol=case["tolerance"] * 100
    )
