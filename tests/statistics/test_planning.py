"""Chances of a planned study, against simulated studies."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats
from simulated_tables import make_table_study

from swinglab import columns
from swinglab.errors import BadRequest, BadTable
from swinglab.statistics import fit_mixed
from swinglab.statistics.planning import SlopeSpread, least_golfers, plan_within, spread_of_slopes

POSTURE = columns.event_column_name("thorax_lateral_flexion_deg", "shaft_horizontal_down")


def own_slope(table) -> np.ndarray:
    """Golfers' own least-squares slopes."""
    found = []
    for _, rows in table.groupby("golfer"):
        x, y = rows[POSTURE] - rows[POSTURE].mean(), rows["attack_angle_deg"]
        found.append(float((x * y).sum() / (x * x).sum()))
    return np.array(found)


def settled(estimate: float, error: float, df: float, smallest: float) -> tuple[bool, bool]:
    """Too small to matter; borne out (and not too small)."""
    half = stats.t.ppf(0.95, df) * error
    small = -smallest < estimate - half and estimate + half < smallest
    return small, bool(estimate / error > stats.t.ppf(0.975, df) and not small)


@pytest.mark.parametrize(
    ("golfers", "swings", "slope_sd", "memory"),
    [(8, 20, 0.05, 0.0), (16, 10, 0.03, 0.0), (12, 20, 0.05, 0.5)],
)
def test_chances_are_those_of_simulated_studies(
    golfers: int, swings: int, slope_sd: float, memory: float
) -> None:
    """Truth: made. 250 studies each at no effect and at twice the smallest, read by golfers' own slopes."""
    smallest, sd = 0.05, 0.5
    spread = SlopeSpread(slope_sd, sd, 2.0, memory, memory)
    plan = plan_within(spread, golfers=golfers, swings=swings, smallest_effect=smallest)
    rng = np.random.default_rng([5, golfers])
    shares = []
    for truth, which in ((0.0, 0), (2 * smallest, 1)):
        count = 0
        for _ in range(250):
            study = make_table_study(
                golfers=golfers, swings=swings, within_slope=truth, slope_sd=slope_sd, outcome_sd_within=sd,
                posture_memory=memory, outcome_memory=memory, seed=rng,
            )  # fmt: skip
            b = own_slope(study.table)
            count += settled(b.mean(), b.std(ddof=1) / np.sqrt(golfers), golfers - 1, smallest)[which]
        shares.append(count / 250)
    assert (plan.at_zero, plan.at_twice) == pytest.approx(tuple(shares), abs=0.09)


@pytest.mark.slow
def test_chances_hold_for_the_judged_method_too() -> None:
    """Truth: made. The random-slope model by REML on 150 studies at no effect and at twice the smallest."""
    smallest = 0.05
    plan = plan_within(SlopeSpread(0.05, 0.5, 2.0), golfers=12, swings=20, smallest_effect=smallest)
    rng = np.random.default_rng(6)
    shares = []
    for truth, which in ((0.0, 0), (2 * smallest, 1)):
        count = 0
        for _ in range(150):
            table = make_table_study(golfers=12, swings=20, within_slope=truth, slope_sd=0.05, seed=rng).table
            table["x"] = table[POSTURE] - table.groupby("golfer")[POSTURE].transform("mean")
            row = fit_mixed(table, "attack_angle_deg", ["x"], golfer="golfer", slopes=["x"]).coefficients.loc[
                "x"
            ]
            count += settled(row["estimate"], row["standard_error"], row["df"], smallest)[which]
        shares.append(count / 150)
    assert (plan.at_zero, plan.at_twice) == pytest.approx(tuple(shares), abs=0.12)


def test_one_player_is_the_t_test_of_a_regression_slope() -> None:
    """Truth: other. The noncentral t of a slope, with so small a smallest effect that nothing is too small."""
    spread = SlopeSpread(0.3, 1.0, 2.0)
    plan = plan_within(spread, golfers=1, swings=30, smallest_effect=0.12)
    error = 1.0 / 2.0 / np.sqrt(27)
    power = stats.nct.sf(stats.t.ppf(0.975, 27), 27, 0.24 / error)
    assert plan.standard_error == pytest.approx(error) and plan.at_twice == pytest.approx(power, abs=0.02)


def test_what_a_study_found_gives_its_spread_back() -> None:
    """Truth: made. A large table with known variances and autocorrelation."""
    table = make_table_study(
        golfers=60, swings=60, within_slope=0.2, slope_sd=0.08, outcome_sd_within=0.5, posture_memory=0.5,
        outcome_memory=0.4, seed=7,
    ).table  # fmt: skip
    found = spread_of_slopes(table, "attack_angle_deg", POSTURE)
    assert found.slope_sd == pytest.approx(0.08, rel=0.25)
    assert found.residual_sd == pytest.approx(0.52, rel=0.1) and found.posture_sd == pytest.approx(
        2.0, rel=0.05
    )
    assert found.posture_memory == pytest.approx(0.5, abs=0.06)
    assert found.outcome_memory == pytest.approx(0.4, abs=0.08)


def test_more_golfers_or_swings_help_and_the_least_is_found() -> None:
    """Truth: made. And the range holds the chance."""
    spread = SlopeSpread(0.05, 0.6, 2.0, df=11)
    few = plan_within(spread, golfers=8, swings=10, smallest_effect=0.06)
    more = plan_within(spread, golfers=16, swings=30, smallest_effect=0.06)
    assert more.chance > few.chance and few.low <= few.chance <= few.high
    least = least_golfers(spread, sessions=1, swings=30, smallest_effect=0.06)
    assert least is not None and least.chance >= 0.8
    below = plan_within(spread, golfers=least.golfers - 1, swings=30, smallest_effect=0.06)
    assert below.chance < 0.8
    assert (
        least_golfers(SlopeSpread(1.0, 1.0, 1.0), sessions=1, swings=5, smallest_effect=0.001, most=9) is None
    )


def test_no_study_is_refused() -> None:
    """Truth: made."""
    with pytest.raises(BadRequest, match="golfers must be 1"):
        plan_within(SlopeSpread(0.1, 1.0, 1.0), golfers=0, swings=10, smallest_effect=0.1)
    with pytest.raises(BadRequest, match="above 0"):
        SlopeSpread(0.1, 0.0, 1.0)
    table = make_table_study(golfers=2, swings=10, seed=1).table
    with pytest.raises(BadTable, match="three or more"):
        spread_of_slopes(table, "attack_angle_deg", POSTURE)


@pytest.mark.slow
def test_the_smallest_plan_settles_four_studies_in_five_and_its_range_holds_the_truth() -> None:
    """Truth: made. 40 pilot studies of 12 golfers: the smallest plan that the true spread gives settles .8 of 600
    studies at 0 and at twice the smallest effect; the range from a pilot holds the true chance in 8 of 10."""
    smallest = 0.06
    truth = SlopeSpread(0.06, 0.5, 2.0)
    plan = least_golfers(truth, sessions=1, swings=20, smallest_effect=smallest)
    assert plan is not None
    rng = np.random.default_rng(8)
    shares = []
    for slope, which in ((0.0, 0), (2 * smallest, 1)):
        count = 0
        for _ in range(250):
            table = make_table_study(
                golfers=plan.golfers,
                swings=20,
                within_slope=slope,
                slope_sd=0.06,
                outcome_sd_within=0.5,
                seed=rng,
            ).table
            b = own_slope(table)
            error = b.std(ddof=1) / np.sqrt(plan.golfers)
            count += settled(b.mean(), error, plan.golfers - 1, smallest)[which]
        shares.append(count / 250)
    assert min(shares) == pytest.approx(0.8, abs=0.06) and max(shares) > 0.75
    held = 0
    for _ in range(40):
        pilot = make_table_study(
            golfers=12, swings=20, within_slope=smallest, slope_sd=0.06, outcome_sd_within=0.5, seed=rng
        ).table
        spread = spread_of_slopes(pilot, "attack_angle_deg", POSTURE)
        found = plan_within(spread, golfers=plan.golfers, swings=20, smallest_effect=smallest)
        held += found.low <= plan.chance <= found.high
    assert held >= 26  # 32 expected; below 26 by chance in 1 of 100
