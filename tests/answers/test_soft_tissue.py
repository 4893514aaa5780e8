"""Soft tissue that a study does not know: what it would do to a slope within golfers."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from made_swing_table import COLUMN, EVENT, POSTURE, swing_table

from swinglab.answers import judge, relate_posture_to_strike, suppose_soft_tissue
from swinglab.columns import error_column_name
from swinglab.records import Errors, Hunch

HUNCH = Hunch("tilt and attack", "attack_angle_deg", POSTURE, EVENT, "within", "positive", (), 0.5)
UNKNOWN = Errors(placement_deg=0.0)


@pytest.mark.parametrize("own_error", [True, False])
def test_the_slope_is_that_of_an_answer_which_knows_the_tissue(own_error: bool) -> None:
    """Truth: made, and the answer with `[errors]` given. True slope 2 per 10 deg, flattened by 2 deg a swing; 5 deg
    are more than the swings differ."""
    table = swing_table(60, 12, swing_error=2.0, seed=4)
    if not own_error:
        table = table.drop(columns=error_column_name(COLUMN))
    lines = judge(relate_posture_to_strike(table, HUNCH, errors=UNKNOWN), [HUNCH])
    none, two, five = suppose_soft_tissue(table, HUNCH, lines, UNKNOWN)
    assert none.line is lines[0]
    known = judge(
        relate_posture_to_strike(table, HUNCH, errors=replace(UNKNOWN, soft_tissue_deg=2.0)), [HUNCH]
    )[0]
    assert two.line is not None
    assert two.line.estimate == pytest.approx(known.estimate, rel=1e-9)
    assert two.line.standard_error == pytest.approx(known.standard_error, rel=1e-9)
    assert (two.line.ci90_low, two.line.p) == pytest.approx((known.ci90_low, known.p), rel=1e-6)
    assert two.line.reading_key == known.reading_key == "borne_out"
    assert five.line is None and five.share > 1
    assert [one.tissue_deg for one in (none, two, five)] == [0.0, 2.0, 5.0]


def test_a_reading_changes_with_the_size_of_the_slope() -> None:
    """Truth: made. An interval just inside the smallest effect leaves it once the slope is corrected."""
    table = swing_table(60, 12, swing_error=2.0, seed=4)
    lines = judge(relate_posture_to_strike(table, HUNCH, errors=UNKNOWN), [HUNCH])
    small = replace(HUNCH, smallest_effect=1.02 * float(lines[0].ci90_high))
    lines = judge(relate_posture_to_strike(table, small, errors=UNKNOWN), [small])
    assert lines[0].reading_key == "too_small"
    two = suppose_soft_tissue(table, small, lines, UNKNOWN)[1]
    assert two.line is not None and two.line.reading_key == "borne_out"


def test_nothing_is_supposed_where_it_is_known_or_changes_nothing() -> None:
    """Truth: made. Known tissue; a question between golfers, where it averages out with the swings."""
    table = swing_table(20, 6)
    known = Errors(placement_deg=0.0, soft_tissue_deg=0.5)
    lines = judge(relate_posture_to_strike(table, HUNCH, errors=known), [HUNCH])
    assert suppose_soft_tissue(table, HUNCH, lines, known) == []
    between = replace(HUNCH, level="between")
    lines = judge(relate_posture_to_strike(table, between, errors=UNKNOWN), [between])
    assert np.isfinite(lines[0].estimate)
    assert suppose_soft_tissue(table, between, lines, UNKNOWN) == []
