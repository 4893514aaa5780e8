"""How strong an unmeasured cause would have to be."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
import statsmodels.api as sm

from swinglab.errors import BadRequest
from swinglab.statistics.confounding import robustness_between, robustness_value, robustness_within
from tests.published import cases


def test_robustness_value_of_a_published_regression() -> None:
    """Truth: published. Cinelli & Hazlett 2020, section 5: direct harm and the wish for peace."""
    case = next(c for c in cases("looking.toml") if c["name"].startswith("direct harm"))
    given, expected = case["given"], case["expected"]
    t = given["estimate"] / given["standard_error"]
    found = robustness_value(t, given["df"])
    assert t == pytest.approx(expected["t"], abs=1e-3)
    assert found.value == pytest.approx(expected["robustness_value"], abs=case["tolerance"])
    assert found.partial_r2 == pytest.approx(expected["partial_r2"], abs=case["tolerance"])
    assert found.value_p < found.value


def test_a_cause_of_that_strength_brings_the_slope_to_zero() -> None:
    """Truth: made. A cause built to explain exactly the robustness value of both, added to the regression."""
    rng = np.random.default_rng(1)
    x, y = rng.normal(size=(2, 200))
    y += 0.4 * x
    x, y = x - x.mean(), y - y.mean()
    fit = sm.OLS(y, x).fit()
    value = robustness_value(fit.tvalues[0], fit.df_resid).value
    # z = a x + b r + c e with r the residual and e noise free of both, its shares of x and of r given x set to `value`.
    r = fit.resid / np.linalg.norm(fit.resid)
    d = x / np.linalg.norm(x)
    e = rng.normal(size=200)
    e -= sm.OLS(e, np.column_stack([d, r])).fit().fittedvalues
    e /= np.linalg.norm(e)
    z = np.sqrt(value) * d + np.sqrt(1 - value) * (np.sqrt(value) * r + np.sqrt(1 - value) * e)
    assert sm.OLS(y, np.column_stack([x, z])).fit().params[0] == pytest.approx(0.0, abs=1e-8)


def test_value_at_the_level_is_where_the_test_just_fails() -> None:
    """Truth: other. With f and the needed f equal nothing is left; a huge t leaves nearly all."""
    assert robustness_value(1.0, 50).value_p == 0.0
    assert 0.9 < robustness_value(1000.0, 50).value_p < 1.0


def test_between_and_within_are_the_regressions_they_name() -> None:
    """Truth: other. statsmodels on golfer means, and with a dummy for each golfer."""
    rng = np.random.default_rng(2)
    golfer = np.repeat(np.arange(10), 12)
    x = rng.normal(size=120) + golfer / 3
    table = pd.DataFrame({"golfer": golfer, "x": x, "z": rng.normal(size=120)})
    table["y"] = 0.5 * x + 0.3 * table["z"] + rng.normal(size=120)
    means = table.groupby("golfer").mean()
    between = sm.OLS(means["y"], sm.add_constant(means[["x"]])).fit()
    assert robustness_between(table, "y", "x").t == pytest.approx(between.tvalues["x"])
    dummies = pd.get_dummies(table["golfer"]).to_numpy(float)
    within = sm.OLS(table["y"].to_numpy(), np.column_stack([table[["x", "z"]], dummies])).fit()
    found = robustness_within(table, "y", "x", adjust=("z",))
    assert found.t == pytest.approx(within.tvalues[0]) and found.df == within.df_resid


@pytest.mark.parametrize(("t", "df"), [(np.nan, 10), (2.0, 1.0)])
def test_nothing_is_said_where_nothing_is_defined(t: float, df: float) -> None:
    """Truth: made."""
    with pytest.raises(BadRequest, match="robustness value"):
        robustness_value(t, df)
