"""One golfer session by session: means with their error, and changes beyond the smallest detectable one."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from swinglab.answers import changes_between, session_means
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
    """Truth: other. 1.96 times the error of the difference, written out; placement enters it twice."""
    errors = Errors(placement_deg=placement)
    changes = changes_between(table(), [TILT, ANGLE], golfer="G01", first="nov", last="feb", errors=errors)
    assert list(changes["column"]) == listed
    if listed:
        own = table().query("golfer == 'G01'").groupby("session")[TILT]
        variance = (own.var() / own.size()).sum() + 2 * (placement or 0.0) ** 2
        row = changes.iloc[0]
        assert row["detectable"] == pytest.approx(1.95996 * np.sqrt(variance), rel=1e-5)
        assert row["change"] == pytest.approx(own.mean()["feb"] - own.mean()["nov"])
