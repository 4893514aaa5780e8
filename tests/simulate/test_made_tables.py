"""Table studies: what goes in can be found again in large tables, and the truth is given."""

import time

import numpy as np
import pytest
from scipy import stats
from simulated_tables import make_table_study

from swinglab import simulate
from swinglab.columns import is_column
from swinglab.errors import BadRequest

X, Y = "thorax_lateral_flexion_at_shaft_horizontal_down_deg", "attack_angle_deg"


def deviations(table, name):
    return (table[name] - table.groupby("golfer")[name].transform("mean")).to_numpy()


def test_a_large_table_shows_what_was_put_in():
    """made: slopes, variances, ICC and memory of 400 golfers with 60 swings."""
    study = make_table_study(golfers=400, swings=60, within_slope=0.3, slope_sd=0.1, between_slope=-0.2,
                             posture_memory=0.4, outcome_memory=0.2, seed=4)  # fmt: skip
    table = study.table
    assert all(is_column(name) for name in table.columns)
    slopes = [stats.linregress(g[X], g[Y]).slope for _, g in table.groupby("golfer")]
    assert np.mean(slopes) == pytest.approx(0.3, abs=0.02)
    assert list(study.slopes.values()) == pytest.approx(slopes, abs=0.2)
    assert np.std(list(study.slopes.values())) == pytest.approx(0.1, rel=0.1)
    means = table.groupby("golfer")[[X, Y]].mean()
    assert stats.linregress(means[X], means[Y]).slope == pytest.approx(-0.2, abs=0.03)
    own = deviations(table, X).reshape(400, 60)
    assert own.std() == pytest.approx(2.0, rel=0.05)
    assert means[X].std() == pytest.approx(4.0, rel=0.1)
    assert study.truth["posture_icc"] == pytest.approx(0.8)
    assert np.corrcoef(own[:, 1:].ravel(), own[:, :-1].ravel())[0, 1] == pytest.approx(0.4, abs=0.04)


def test_errors_sit_at_their_own_level():
    """made: per-swing error within, placement error by session; published: reliability = true / observed variance."""
    study = make_table_study(
        golfers=300, swings=20, sessions=2, posture_error=2.0, placement_error=3.0, seed=2
    )
    off = (study.table[X] - study.true_posture).to_numpy()
    by_session = study.table.assign(off=off).groupby("session")["off"]
    assert by_session.mean().std() == pytest.approx(np.hypot(3.0, 2.0 / np.sqrt(10)), rel=0.08)
    assert by_session.std().mean() == pytest.approx(2.0, rel=0.05)
    assert (study.table["thorax_lateral_flexion_at_shaft_horizontal_down_se_deg"] == 2.0).all()
    assert study.truth["posture_reliability"] == pytest.approx(0.5)


def test_groups_drift_and_lessons_are_steps_of_the_size_asked():
    """made."""
    study = make_table_study(golfers=400, swings=40, group_posture=5.0, lesson_posture=3.0, posture_drift=1.0,
                             within_slope=0.2, lesson_outcome=0.5, seed=3)  # fmt: skip
    table = study.table
    groups = table.groupby("group")[X].mean()
    assert groups["learners"] - groups["skilled"] == pytest.approx(5.0, abs=1.2)
    phases = table.groupby("phase")[[X, Y]].mean().diff().iloc[-1] * -1  # after comes first in the alphabet
    assert phases[X] == pytest.approx(3.5, abs=0.1)  # the step and half the drift
    assert phases[Y] == pytest.approx(0.5 + 0.2 * 3.5, abs=0.03)
    assert study.truth["lesson_outcome"] == pytest.approx(1.1)


def test_one_seed_one_table_and_thousands_a_minute():
    """made: the same seed, the same table; a table takes less than a fiftieth of a made swing and golfer."""
    first, again = (make_table_study(seed=7).table for _ in range(2))
    assert first.equals(again)
    start = time.process_time()
    for seed in range(20):
        make_table_study(seed=seed)
    tables = time.process_time() - start
    start = time.process_time()
    simulate.make_swing(simulate.make_golfer())
    assert tables / 20 < time.process_time() - start


@pytest.mark.parametrize("changes", [{"golfers": 0}, {"posture_sd_within": -1.0}, {"posture_memory": 1.0},
                                     {"swings": 2, "sessions": 3}, {"outcome": "attack_deg"}])  # fmt: skip
def test_senseless_tables_are_refused(changes):
    """made."""
    with pytest.raises(BadRequest):
        make_table_study(**changes)
