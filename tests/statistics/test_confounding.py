"""How strong an unmeasured cause would have to be."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
import statsmodels.api as sm

from swinglab import columns
from swinglab.errors import BadRequest
from swinglab.records import Comparison, Hunch
from swinglab.report.robustness import robustness_of
from swinglab.statistics.confounding import robustness_between, robustness_value, robustness_within
from tests.made_swing_table import COLUMN, EVENT, POSTURE, swing_table
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


HUNCH = Hunch("tilt", "attack_angle_deg", POSTURE, EVENT)


def _two_clubs() -> pd.DataFrame:
    """Swings with two clubs in each session; posture and strike differ between the clubs."""
    table = swing_table(golfers=8, within=0.1, slope_sd=0.0)
    driver = np.arange(len(table)) % 2 == 0
    table["club"] = np.where(driver, "driver", "7 iron")
    table[COLUMN] += 20.0 * driver
    table["attack_angle_deg"] -= 10.0 * driver
    return table


def test_clubs_are_not_mixed() -> None:
    """Truth: other. statsmodels with a level for each golfer and club, and a drift of each golfer.

    Swings were compared with the golfer's mean over both clubs, so that the clubs' difference counted as a relation.
    """
    table = _two_clubs()
    levels = pd.get_dummies(table["golfer"] + table["club"]).astype(float)
    drift = pd.get_dummies(table["golfer"], prefix="drift").astype(float).mul(table["order"], axis=0)
    fit = sm.OLS(table["attack_angle_deg"], pd.concat([levels, drift], axis=1).assign(x=table[COLUMN])).fit()
    found = robustness_of(table, HUNCH)
    assert found is not None
    assert found.t == pytest.approx(fit.tvalues["x"]) and found.df == fit.df_resid


def test_text_covariates_are_coded() -> None:
    """Truth: other. statsmodels with an indicator of the words. A TypeError stopped the study."""
    table = swing_table(golfers=8)
    feel = np.random.default_rng(4).integers(0, 2, len(table))
    table["feel"] = np.where(feel == 1, "late", "early")
    table["attack_angle_deg"] += 2.0 * feel
    levels = pd.get_dummies(table["golfer"]).astype(float)
    drift = pd.get_dummies(table["golfer"], prefix="drift").astype(float).mul(table["order"], axis=0)
    x = pd.concat([levels, drift], axis=1).assign(feel=feel, x=table[COLUMN])
    fit = sm.OLS(table["attack_angle_deg"], x).fit()
    found = robustness_of(table, Hunch("tilt", "attack_angle_deg", POSTURE, EVENT, adjust=("feel",)))
    # The golfers' drifts are removed before the covariate, not together with it.
    assert found is not None
    assert found.t == pytest.approx(fit.tvalues["x"], rel=0.05) and found.df == fit.df_resid
    assert robustness_of(
        table, Hunch("tilt", "attack_angle_deg", POSTURE, EVENT, level="between", adjust=("feel",))
    )


@pytest.mark.parametrize("level", ["within", "between"])
def test_a_posture_is_a_covariate_by_its_name(level: str) -> None:
    """Truth: made. A quantity and its column are one covariate; the quantity's name was ignored."""
    table = swing_table(golfers=12)
    name = columns.event_column_name("pelvis_flexion_deg", EVENT)
    table[name] = table[COLUMN] + np.random.default_rng(5).normal(0, 1, len(table))
    asked = [
        robustness_of(table, Hunch("tilt", "attack_angle_deg", POSTURE, EVENT, level=level, adjust=adjust))
        for adjust in (("pelvis_flexion_deg",), (name,), ())
    ]
    assert asked[0] == asked[1] != asked[2] and asked[0] is not None


def test_groups_have_their_covariates() -> None:
    """Truth: made. A posture as a covariate of a comparison; its name was ignored. Golfers in both groups: none."""
    table = swing_table(golfers=12)
    table["group"] = np.where(table["golfer"] < "G006", "a", "b")
    name = columns.event_column_name("pelvis_flexion_deg", EVENT)
    table[name] = table[COLUMN] + np.random.default_rng(5).normal(0, 3, len(table))
    asked = [
        robustness_of(table, Comparison("c", POSTURE, EVENT, "group", adjust=adjust))
        for adjust in (("pelvis_flexion_deg",), (name,), ())
    ]
    assert asked[0] == asked[1] != asked[2] and asked[0] is not None
    assert robustness_of(_two_clubs(), Comparison("c", POSTURE, EVENT, "club")) is None


def test_a_predictor_that_its_covariates_determine_has_no_value() -> None:
    """Truth: made."""
    table = pd.DataFrame({"golfer": list("AABBCC") * 3, "x": np.arange(18.0) ** 2, "y": np.arange(18.0) % 5})
    with pytest.raises(BadRequest, match="does not vary within golfers"):
        robustness_within(table.assign(z=2 * table["x"]), "y", "x", adjust=("z",))
    with pytest.raises(BadRequest, match="too few"):
        robustness_within(table.head(6), "y", "x", terms=3)
