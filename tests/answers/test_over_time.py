"""One golfer session by session: means with their error, and changes beyond the smallest detectable one."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
import scipy

from swinglab.answers import changes_between, session_means
from swinglab.columns import event_column_name
from swinglab.conventions import EVENTS
from swinglab.errors import BadTable
from swinglab.records import Errors

TILT = "thorax_lateral_flexion_at_impact_deg"
ANGLE = "attack_angle_deg"


def table() -> pd.DataFrame:
    """Two sessions of G01, 12 and 9 swings, the tilt 3 deg apart and the attack angle alike; another golfer."""
    rng = np.random.default_rng(5)
    sessions = ["nov"] * 12 + ["feb"] * 9
    made = pd.DataFrame({"golfer": "G01", "session": sessions})
    made[TILT] = 15 + 3.0 * (made["session"] == "feb") + rng.normal(0, 1, len(made))
    made[ANGLE] = -4 + rng.normal(0, 0.5, len(made))
    return pd.concat([made, made.assign(golfer="G02", **{TILT: 99.0})], ignore_index=True)


def test_means_spread_and_error_of_each_session() -> None:
    """Truth: other. numpy on the golfer's own values; placement enters angles of the body alone."""
    means = session_means(table(), TILT, golfer="G01", errors=Errors(placement_deg=1.5)).set_index("session")
    own = table().query("golfer == 'G01'")
    for session in ("nov", "feb"):
        values = own.loc[own["session"] == session, TILT].to_numpy()
        row = means.loc[session]
        assert (row["swings"], row["mean"]) == (len(values), pytest.approx(np.mean(values)))
        assert row["sd"] == pytest.approx(np.std(values, ddof=1))
        assert row["error"] == pytest.approx(np.hypot(np.std(values, ddof=1) / np.sqrt(len(values)), 1.5))
    strike = session_means(table(), ANGLE, golfer="G01", errors=Errors(placement_deg=1.5)).set_index(
        "session"
    )
    assert strike.loc["feb", "error"] == pytest.approx(strike.loc["feb", "sd"] / 3)
    with pytest.raises(BadTable, match="G09"):
        session_means(table(), TILT, golfer="G09", errors=Errors())


@pytest.mark.parametrize(("placement", "listed"), [(None, [TILT]), (0.5, [TILT]), (1.5, [])])
def test_only_changes_beyond_the_smallest_detectable_one_are_listed(
    placement: float | None, listed: list
) -> None:
    """Truth: other. Half the interval by scipy's t and Welch's degrees of freedom; placement enters it twice."""
    errors = Errors(placement_deg=placement)
    changes = changes_between(table(), [TILT, ANGLE], golfer="G01", first="nov", last="feb", errors=errors)
    assert list(changes["column"]) == listed
    if listed:
        own = table().query("golfer == 'G01'").groupby("session")[TILT]
        parts = own.var() / own.size()
        variance = parts.sum() + 2 * (placement or 0.0) ** 2
        df = variance**2 / (parts**2 / (own.size() - 1)).sum()
        row = changes.iloc[0]
        assert row["detectable"] == pytest.approx(scipy.stats.t.ppf(0.975, df) * np.sqrt(variance))
        assert row["change"] == pytest.approx(own.mean()["feb"] - own.mean()["nov"])


@pytest.mark.parametrize("swings", [2, 3, 6])
def test_limits_of_few_swings_cover_and_lists_few_by_chance(swings: int) -> None:
    """Truth: made. No change between two sessions: 95 % limits hold the mean, and one column in twenty is listed.

    With 1.96 standard errors in place of t, limits of 2, 3 and 6 swings held it in 70, 81 and 90 %, and 17, 12 and 9 %
    of the columns were listed.
    """
    rng = np.random.default_rng(8)
    quantities = (
        "thorax_flexion_deg",
        "thorax_lateral_flexion_deg",
        "pelvis_axial_rotation_deg",
        "trunk_flexion_deg",
    )
    columns = [event_column_name(name, event) for name in quantities for event in EVENTS[:10]]
    inside, listed, tried = [], 0, 0
    for _ in range(15):
        own = pd.DataFrame(rng.normal(0, 1, (2 * swings, len(columns))), columns=columns)
        own = own.assign(golfer="G01", session=["nov"] * swings + ["feb"] * swings)
        for column in columns[:20]:
            means = session_means(own, column, golfer="G01", errors=Errors())
            inside += [*((means["low"] < 0) & (means["high"] > 0))]
        listed += len(changes_between(own, columns, golfer="G01", first="nov", last="feb", errors=Errors()))
        tried += len(columns)
    assert np.mean(inside) == pytest.approx(0.95, abs=0.025)  # 600 sessions: standard error .009
    assert listed / tried < 0.075  # 600 columns: standard error .009


def test_a_session_with_one_swing_has_a_mean_alone() -> None:
    """Truth: made. Before, its standard error was that of marker placement alone, or 0."""
    own = pd.DataFrame({"golfer": "G01", "session": ["nov"] * 3 + ["feb"], TILT: [14.0, 15.0, 16.0, 20.0]})
    means = session_means(own, TILT, golfer="G01", errors=Errors(placement_deg=1.5)).set_index("session")
    assert means.loc["feb", ["swings", "mean"]].tolist() == [1, 20.0]
    assert means.loc["feb", ["sd", "error", "low", "high"]].isna().all()
    assert means.loc["nov", ["sd", "error", "low", "high"]].notna().all()
    assert changes_between(own, [TILT], golfer="G01", first="nov", last="feb", errors=Errors()).empty


def test_each_session_has_its_own_placement_error() -> None:
    """Truth: other. Variances added by numpy. Before, errors that study.toml gives for a session were not used."""
    own = {"nov": Errors(placement_deg=0.2), "feb": Errors(placement_deg=0.6)}

    def errors_of(rows: pd.DataFrame) -> Errors:
        (session,) = set(rows["session"])
        return own[session]

    means = session_means(table(), TILT, golfer="G01", errors=errors_of).set_index("session")
    for session, errors in own.items():
        row = means.loc[session]
        assert row["error"] == pytest.approx(np.hypot(row["sd"] / row["swings"] ** 0.5, errors.placement_deg))
    both = {"golfer": "G01", "first": "nov", "last": "feb"}
    found = changes_between(table(), [TILT], **both, errors=errors_of)
    same = changes_between(
        table(), [TILT], **both, errors=Errors(placement_deg=0.2**0.5)
    )  # .04 + .36 = 2 * .2
    pd.testing.assert_frame_equal(found, same)
