"""The answer under every choice."""

from __future__ import annotations

from dataclasses import replace
from itertools import product

import numpy as np
import pytest

from swinglab import columns
from swinglab.answers.specification import AS_MEASURED, CORRECTED, specification_curve
from swinglab.errors import BadRequest
from swinglab.figures import draw_specifications
from swinglab.records import Errors, FoundIn, Hunch
from swinglab.statistics.candidates import read_candidates
from swinglab.statistics.screen_within import own_slopes, spread_weights
from tests.made_swing_table import COLUMN, EVENT, POSTURE, swing_table

HUNCH = Hunch("tilt", "attack_angle_deg", POSTURE, EVENT, adjust=("stature_m",))
ISB = columns.event_column_name("thorax_lateral_flexion_isb_deg", EVENT)


def tables(within: float = 0.2, golfers: int = 8) -> dict:
    """Two ways of processing: the second sees the posture with more noise, and has ISB angles."""
    one = swing_table(golfers=golfers, within=within)
    rng = np.random.default_rng(3)
    one["stature_m"] = rng.normal(1.8, 0.1, len(one))
    two = one.copy()
    two[COLUMN] += rng.normal(0, 0.5, len(two))
    two[ISB] = 0.9 * two[COLUMN]
    return {"6 Hz": one, "12 Hz": two}


def test_every_combination_is_there_once_and_the_joint_test_is_by_hand() -> None:
    """Truth: other. The median of all specifications under each of the 256 sign patterns, written out."""
    given = tables()
    found = specification_curve(given, HUNCH, leave_out=False)
    assert len(found.table) == 2 * 1 + 2 * 2
    golfers = np.array(sorted(set(given["6 Hz"]["golfer"])), dtype=object)
    own = []
    for name, column, adjust in [("6 Hz", COLUMN, ()), ("6 Hz", COLUMN, ("stature_m",)), ("12 Hz", COLUMN, ()),
                                 ("12 Hz", COLUMN, ("stature_m",)), ("12 Hz", ISB, ()),
                                 ("12 Hz", ISB, ("stature_m",))]:  # fmt: skip
        c = read_candidates(given[name], "attack_angle_deg", [column], golfer="golfer", adjust=adjust)
        slopes = own_slopes(c, golfers)
        weights = spread_weights(slopes)
        own.append((weights * slopes.slopes / weights.sum(axis=0))[:, 0])
    medians = [np.median([np.dot(s, b) for b in own]) for s in product((1, -1), repeat=8)]
    assert found.median == pytest.approx(medians[0])
    assert found.p_median == pytest.approx(np.mean(np.abs(medians) >= abs(medians[0]) - 1e-12))
    assert found.share == 1.0 and found.table["estimate"].is_monotonic_increasing


def test_each_golfer_is_left_out_in_turn() -> None:
    """Truth: made. Six specifications and for each eight more; the picture shows them all."""
    found = specification_curve(tables(), HUNCH)
    assert len(found.table) == 6 * 9 and (found.table["left_out"] == "").sum() == 6
    axes = draw_specifications(found.table, median=found.median, unit="deg", smallest_effect=0.5)
    assert sum(len(line.get_xdata()) for line in axes.lines[:2]) == 54
    assert np.isnan(found.median_corrected)


def test_corrected_slopes_stand_apart_from_the_others() -> None:
    """Truth: made. A posture seen with an error of known size: the correction restores its slope; nothing is mixed."""
    given = tables(within=0.2, golfers=20)
    plain = specification_curve(given, HUNCH, leave_out=False)
    for table in given.values():
        table[columns.error_column_name(COLUMN)] = 1.0
        table[COLUMN] += np.random.default_rng(5).normal(0, 1.0, len(table))
    found = specification_curve(given, HUNCH, leave_out=False)
    both = found.table["correction"].value_counts()
    assert both[AS_MEASURED] == 6 and both[CORRECTED] == 4  # ISB angles have no error column here
    as_measured = found.table.loc[found.table["correction"] == AS_MEASURED, "estimate"]
    assert found.median == pytest.approx(as_measured.median())
    assert found.median < 0.9 * plain.median
    assert found.median_corrected == pytest.approx(2.0, abs=0.3)
    whole = specification_curve(given, HUNCH, leave_out=False, errors=Errors(soft_tissue_deg=9.0))
    assert np.isnan(whole.median_corrected) and "variance is measurement error" in whole.refused[0]


@pytest.mark.parametrize(("swings", "sessions"), [(20, 1), (20, 5), (20, 10)])
def test_the_correction_counts_the_means_of_sessions_and_the_drift(swings: int, sessions: int) -> None:
    """Truth: made. Half of the posture's variance is error, in one session or in several: the slope of 2 is restored.

    Only one degree of freedom was subtracted for a golfer, so that with ten sessions of two swings 2.7 was found.
    """
    made = [
        swing_table(
            golfers=30, swings=swings, within=0.2, noise=0.3, swing_error=2.0, sessions=sessions, seed=seed
        )
        for seed in range(4)
    ]
    found = [
        specification_curve({"a": one}, HUNCH, adjust=[()], leave_out=False).median_corrected for one in made
    ]
    assert np.mean(found) == pytest.approx(2.0, abs=0.08)


def test_a_found_question_is_answered_from_the_swings_on_which_it_is_judged() -> None:
    """Truth: made. Golfers who were searched take no part."""
    given = tables(golfers=16)
    searched = FoundIn(golfers=tuple(f"G{i:03d}" for i in range(8)))
    found = specification_curve(given, replace(HUNCH, found_in=searched, expect="positive"))
    assert found.table["n_golfers"].max() == 8
    assert not set(found.table["left_out"]) & set(searched.golfers)


def test_nothing_is_not_found() -> None:
    """Truth: made. Without an effect the joint test does not find one."""
    assert specification_curve(tables(within=0.0, golfers=12), HUNCH).p_median > 0.05


def test_what_would_mix_questions_is_refused() -> None:
    """Truth: made. Another level, a ninth way of processing, a covariate that the posture may change."""
    with pytest.raises(BadRequest, match="within golfers"):
        specification_curve(tables(), replace(HUNCH, level="between"))
    one = tables()["6 Hz"]
    many = specification_curve({f"way {k}": one for k in range(9)}, HUNCH, leave_out=False)
    assert set(many.table["processing"]) == {f"way {k}" for k in range(8)}
    assert many.refused == ("way 8: not used, at most 8 ways of processing are compared",)
    found = specification_curve(tables(), HUNCH, adjust=[(), ("clubhead_speed_mps",)], leave_out=False)
    assert len(found.table) == 3 and "may itself change the clubhead speed" in found.refused[0]
