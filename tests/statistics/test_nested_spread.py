"""Spread of sessions within golfers: a published nested sample, known components, intervals that cover."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from swinglab.errors import BadTable
from swinglab.statistics import nested_spread
from tests.published import cases


def simulated(
    golfers: int, sessions: int, swings: int, *, seed: int, sd: float, swing_sd: float, angles: int = 1
) -> pd.DataFrame:
    """Golfers who differ, sessions with independent errors of SD `sd`, swings about them."""
    rng = np.random.default_rng(seed)
    shape = (golfers, sessions, swings, angles)
    value = (
        rng.normal(0, 8, (golfers, 1, 1, angles))
        + rng.normal(0, sd, (golfers, sessions, 1, angles))
        + rng.normal(0, swing_sd, shape)
    )
    place = np.indices(shape[:3]).reshape(3, -1)
    table = pd.DataFrame(value.reshape(-1, angles), columns=[f"angle{k}" for k in range(angles)])
    return table.assign(golfer=place[0], session=place[1])


def test_the_components_of_a_published_nested_sample() -> None:
    """Truth: published. Plants, leaves and determinations stand for golfers, sessions and swings."""
    (case,) = [c for c in cases("agreement.toml") if "turnip" in c["name"]]
    rows = [
        (plant, leaf, value)
        for plant, leaves in enumerate(case["given"]["calcium"])
        for leaf, values in enumerate(leaves)
        for value in values
    ]
    answer = nested_spread(pd.DataFrame(rows, columns=["golfer", "session", "calcium"]), ["calcium"])
    assert answer.sd**2 == pytest.approx(case["expected"]["component"], abs=case["tolerance"])
    assert answer.swing_sd**2 == pytest.approx(case["expected"]["within"], abs=case["tolerance"])
    assert (answer.df, answer.n_golfers, answer.n_sessions, answer.n_swings) == (8, 4, 12, 24)


def test_one_swing_a_session_has_the_exact_limits_of_a_standard_deviation() -> None:
    """Truth: other (scipy's chi-squared distribution)."""
    table = simulated(4, 3, 1, seed=1, sd=1.5, swing_sd=0.0)
    answer = nested_spread(table, ["angle0"])
    square = table.groupby("golfer")["angle0"].var(ddof=1).mean()
    limits = np.sqrt(8 * square / stats.chi2.ppf([0.975, 0.025], 8))
    assert (answer.sd**2, answer.ci_low, answer.ci_high) == pytest.approx((square, *limits))
    assert np.isnan(answer.swing_sd)


@pytest.mark.parametrize(("angles", "most"), [(1, 0.985), (6, 1.0)])
def test_the_interval_covers_the_known_spread(angles: int, most: float) -> None:
    """Truth: made. SD 1.5 in 150 studies of 6 golfers, 3 sessions and 3 swings; conservative for several angles."""
    names = [f"angle{k}" for k in range(angles)]
    made = (
        nested_spread(simulated(6, 3, 3, seed=s, sd=1.5, swing_sd=1.5, angles=angles), names)
        for s in range(150)
    )
    answers = list(made)
    covered = np.mean([a.ci_low <= 1.5 <= a.ci_high for a in answers])
    assert 0.91 <= covered <= most
    assert np.sqrt(np.mean([a.sd**2 for a in answers])) == pytest.approx(
        1.5, abs=0.1
    )  # three standard errors


def test_unequal_numbers_of_sessions_and_swings_leave_no_bias() -> None:
    """Truth: made. Mean variance component over 200 unbalanced studies."""
    squares = []
    for seed in range(200):
        table = simulated(6, 4, 5, seed=seed, sd=1.0, swing_sd=2.0)
        turn = table.groupby(["golfer", "session"]).cumcount()
        table = table[(turn <= table["session"]) & (table["session"] <= table["golfer"])]
        answer = nested_spread(table, ["angle0"])
        squares.append(answer.sd**2 if answer.sd > 0 else np.nan)
        assert answer.n_golfers == 5
    # A negative component counts as 0, so the mean lies a little above; half of the studies lie below the truth.
    assert 0.35 < np.mean(np.nan_to_num(squares) < 1.0) < 0.65


def test_too_few_sessions_and_missing_values() -> None:
    """Truth: made. Sessions less golfers must be 3; rows without a value are counted."""
    with pytest.raises(BadTable, match="2 golfers with 4 sessions: 2 repeated sessions, and 3 or more"):
        nested_spread(simulated(2, 2, 4, seed=1, sd=1, swing_sd=1), ["angle0"])
    with pytest.raises(BadTable, match="0 golfers with 0 sessions"):
        nested_spread(simulated(5, 1, 4, seed=1, sd=1, swing_sd=1), ["angle0"])
    table = simulated(3, 2, 3, seed=1, sd=1, swing_sd=1)
    table.loc[2, "angle0"] = np.nan
    answer = nested_spread(table, ["angle0"])
    assert answer.n_swings == 17 and answer.warnings[0].key == "rows_dropped"
