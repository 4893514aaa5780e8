"""A hunch from a made swing table to its lines."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from made_swing_table import COLUMN, EVENT, POSTURE, swing_table
from scipy import stats

from swinglab.answers import judge, relate_posture_to_strike
from swinglab.errors import BadRequest, BadTable
from swinglab.records import Errors, Finding, Hunch
from swinglab.statistics import fit_golfer_means, fit_mixed, split_within_between

HUNCH = Hunch("tilt and attack", "attack_angle_deg", POSTURE, EVENT, "within", "positive", (), 0.5)
BETWEEN = replace(HUNCH, level="between", expect="either")
UNKNOWN, KNOWN = Errors(), Errors(placement_deg=3.0)


def said(line: Finding) -> str:
    return " | ".join(line.warnings)


def test_lines_stand_in_order_and_one_is_judged() -> None:
    """Truth: made. The judged level first, its default line alone judged; every companion beside it."""
    for hunch in (HUNCH, BETWEEN):
        lines = relate_posture_to_strike(swing_table(swing_error=1.0), hunch, errors=UNKNOWN)
        assert [line.role for line in lines] == ["default", *["beside"] * (len(lines) - 1)]
        levels = [line.level for line in lines]
        assert levels[0] == hunch.level and levels == sorted(levels, key=lambda name: name != hunch.level)
        for level in ("within", "between"):
            methods = [line.method for line in lines if line.level == level]
            for start in ("cluster-robust (CR2)", "wild cluster bootstrap"):
                assert sum(method.startswith(start) for method in methods) == 1
            assert any("not corrected for measurement error" in method for method in methods)
    line = lines[0]
    assert (line.unit, line.per) == ("deg", "10 deg of thorax lateral flexion")
    assert (line.n_golfers, line.n_swings, line.kind, line.event) == (12, 240, "hunch", EVENT)


def test_default_lines_are_the_plain_fits_in_steps_of_ten() -> None:
    """Truth: other. Without error in the posture and without order: fit_mixed on deviations (df no more than golfers
    less 1), fit_golfer_means, ten times over."""
    table = swing_table().drop(columns="order")
    lines = relate_posture_to_strike(table, HUNCH, errors=Errors(placement_deg=0.0))
    deviation, _ = split_within_between(table, COLUMN, golfer="golfer")
    own = fit_mixed(table.assign(d=deviation), "attack_angle_deg", ["d"], slopes=["d"]).coefficients.loc["d"]
    within = lines[0]
    np.testing.assert_allclose(
        [within.estimate, within.standard_error, within.df, within.p],
        [10 * own["estimate"], 10 * own["standard_error"], 11, 2 * stats.t.sf(own["t"], 11)], rtol=1e-6,
    )  # fmt: skip
    means = fit_golfer_means(table, "attack_angle_deg", [COLUMN]).coefficients.loc[COLUMN]
    between = next(line for line in lines if line.level == "between")
    np.testing.assert_allclose([between.estimate, between.p], [10 * means["estimate"], means["p"]], rtol=1e-6)
    assert between.df == 10


def test_each_level_is_corrected_for_its_own_error() -> None:
    """Truth: made. 150 golfers: true slopes 2 (within) and -1 (between) per 10 deg come back, seen ones are weaker."""
    table = swing_table(150, 8, swing_error=2.0, placement=3.0, seed=3)
    lines = relate_posture_to_strike(table, HUNCH, errors=KNOWN)
    within, between = lines[0], next(line for line in lines if line.level == "between")
    plain = {line.level: line for line in lines if "not corrected" in line.method}
    assert within.estimate == pytest.approx(2.0, abs=3 * within.standard_error)
    assert plain["within"].estimate == pytest.approx(2.0 * 9 / 13, abs=3 * plain["within"].standard_error)
    assert between.estimate == pytest.approx(-1.0, abs=3 * between.standard_error)
    assert plain["between"].estimate == pytest.approx(-0.8, abs=3 * plain["between"].standard_error)
    assert within.standard_error > plain["within"].standard_error
    assert abs(plain["between"].estimate) < abs(between.estimate)


def test_unknown_placement_is_shown_for_0_2_and_4_degrees() -> None:
    """Truth: made. Three between lines, each further from 0; with a known error one."""
    table = swing_table(24, 6, placement=2.0)
    lines = [
        line
        for line in relate_posture_to_strike(table, BETWEEN, errors=UNKNOWN)
        if "placement" in line.method
    ]
    assert [
        f"taken as {degrees} deg" in line.method for line, degrees in zip(lines, (0, 2, 4), strict=True)
    ] == [True] * 3
    assert abs(lines[0].estimate) < abs(lines[1].estimate) < abs(lines[2].estimate)
    assert "not known" in said(lines[0])
    known = relate_posture_to_strike(table, BETWEEN, errors=KNOWN)
    assert not any("placement" in line.method for line in known)


def test_error_beyond_four_fifths_is_not_corrected_and_said() -> None:
    """Truth: made."""
    lines = relate_posture_to_strike(
        swing_table(), HUNCH, errors=Errors(placement_deg=0.0, soft_tissue_deg=2.9)
    )
    assert "no correction is possible" in said(lines[0])
    assert "corrected" not in lines[0].method


def test_sessions_split_the_within_level_and_carry_the_placement_error() -> None:
    """Truth: made. Markers moved 8 deg between two sessions leave the within slope alone."""
    table = swing_table(14, 24, sessions=2, placement=8.0, seed=5)
    lines = relate_posture_to_strike(table, HUNCH, errors=KNOWN)
    assert "sessions within golfers" in lines[0].method
    assert lines[0].estimate == pytest.approx(2.0, abs=3.5 * lines[0].standard_error)
    pooled = relate_posture_to_strike(table.drop(columns="session"), HUNCH, errors=KNOWN)[0]
    assert abs(pooled.estimate) < 0.6 * abs(lines[0].estimate)


def test_a_session_for_each_swing_leaves_nothing_within_and_a_lone_second_session_is_no_session_effect() -> (
    None
):
    """Truth: made."""
    table = swing_table(8, 6)
    with pytest.raises(BadTable, match="no golfer has two swings of the same session"):
        relate_posture_to_strike(table.assign(session=table["swing"]), HUNCH, errors=KNOWN)
    table.loc[5, "session"] = "another day"
    line = relate_posture_to_strike(table, HUNCH, errors=KNOWN)[0]
    assert line.n_swings == len(table) - 1 and "sessions" not in line.method


def test_covariates_are_taken_out_at_both_levels() -> None:
    """Truth: made. An outcome moved by speed alone, speed tied to posture: adjusted, nothing is left."""
    table = swing_table(16, 20, within=0.0, between=0.0, slope_sd=0.0, seed=8)
    table["clubhead_speed_mps"] = (
        30 + 0.3 * table[COLUMN] + np.random.default_rng(1).normal(0, 0.5, len(table))
    )
    table["attack_angle_deg"] += 1.0 * table["clubhead_speed_mps"]
    bare = relate_posture_to_strike(table, HUNCH, errors=KNOWN)[0]
    adjusted = relate_posture_to_strike(table, replace(HUNCH, adjust=("clubhead_speed_mps",)), errors=KNOWN)
    assert bare.estimate > 2 and bare.p < 1e-6
    assert abs(adjusted[0].estimate) < 3 * adjusted[0].standard_error


def test_few_golfers_are_shown_alone_and_one_golfer_answers_for_that_player() -> None:
    """Truth: made."""
    few = relate_posture_to_strike(swing_table(4), HUNCH, errors=UNKNOWN)
    assert np.isnan(few[0].estimate) and few[0].role == "default" and few[0].reading.startswith("no claim")
    assert [line.level for line in few[1:]] == ["golfer"] * 4
    assert all(f"golfer G00{i}" in line.method for i, line in enumerate(few[1:]))
    assert judge(few, [HUNCH])[0].reading == few[0].reading
    one = relate_posture_to_strike(swing_table(1, 40, swing_error=1.0), HUNCH, errors=UNKNOWN)
    assert (one[0].level, one[0].role, one[0].n_golfers) == ("golfer", "default", 1)
    assert "this player" in said(one[0])
    assert one[0].estimate == pytest.approx(2.0, abs=3 * one[0].standard_error)
    plain = next(line for line in one if line.correction == "as_fitted")
    assert abs(plain.estimate) < abs(one[0].estimate) and plain.p == pytest.approx(one[0].p)
    flat = swing_table(3, 10)
    flat.loc[flat["golfer"] == "G001", COLUMN] = 20.0
    lines = relate_posture_to_strike(flat, HUNCH, errors=UNKNOWN)
    assert np.isnan(lines[2].estimate) and said(lines[2])


def test_swings_measured_in_two_ways_get_a_method_term_or_are_refused() -> None:
    """Truth: made. A method that shifts posture by 15 deg; a golfer alone in it is left out between golfers."""
    table = swing_table(14, 12, within=0.0, between=0.3, slope_sd=0.0, seed=2)
    other = table["golfer"] >= "G007"
    table["thorax_frame_method"] = np.where(other, "T10 for T8", "ISB")
    table.loc[other, COLUMN] += 15
    line = relate_posture_to_strike(table, BETWEEN, errors=KNOWN)[0]
    assert "2 methods" in said(line) and line.df == 11
    assert line.estimate == pytest.approx(3.0, abs=3 * line.standard_error)
    lonely = table.assign(thorax_frame_method=np.where(table["golfer"] == "G003", "T10 for T8", "ISB"))
    alone = relate_posture_to_strike(lonely, BETWEEN, errors=KNOWN)[0]
    assert alone.n_golfers == 13 and "being the only one measured by T10 for T8" in said(alone)
    without = relate_posture_to_strike(lonely[lonely["golfer"] != "G003"], BETWEEN, errors=KNOWN)[0]
    assert (alone.estimate, alone.p) == (pytest.approx(without.estimate), pytest.approx(without.p))
    within = relate_posture_to_strike(lonely, HUNCH, errors=KNOWN)[0]
    assert within.n_golfers == 14


def test_ball_position_and_shared_markers_are_said() -> None:
    """Truth: made."""
    table = swing_table().rename(columns={"attack_angle_deg": "low_point_ahead_cm"})
    hunch = replace(HUNCH, outcome="low_point_ahead_cm")
    assert "ball position is not adjusted for" in said(
        relate_posture_to_strike(table, hunch, errors=KNOWN)[0]
    )
    ball = "ball_ahead_of_lead_heel_at_address_cm"
    table[ball] = np.random.default_rng(2).normal(5, 2, len(table))
    with_ball = replace(hunch, adjust=("ball_ahead_of_lead_heel_cm",))
    assert "ball position" not in said(relate_posture_to_strike(table, with_ball, errors=KNOWN)[0])
    lean = table.rename(columns={COLUMN: "shaft_forward_lean_at_impact_deg"})
    by_club = replace(with_ball, posture="shaft_forward_lean_deg", event="impact")
    assert "share the club's markers" in said(relate_posture_to_strike(lean, by_club, errors=KNOWN)[0])


@pytest.mark.parametrize(
    ("change", "error", "words"),
    [
        ({"posture": "thorax_lateral_flexon_deg"}, BadRequest, "thorax_lateral_flexion_deg"),
        ({"outcome": "attack_angel_deg"}, BadRequest, "similar names: attack_angle_deg"),
        ({"level": "inside"}, BadRequest, "unknown level inside"),
        ({"adjust": ("low_point_ahead_cm",)}, BadRequest, "computed from the same path of the club"),
        ({"adjust": ("stature_m",)}, BadTable, "no column stature_m"),
    ],
)
def test_hunches_that_cannot_be_asked_are_refused_in_words(change: dict, error: type, words: str) -> None:
    """Truth: made."""
    table = swing_table().assign(low_point_ahead_cm=1.0)
    with pytest.raises(error) as caught:
        relate_posture_to_strike(table, replace(HUNCH, **change), errors=UNKNOWN)
    assert words in str(caught.value)


def test_a_missing_outcome_drops_the_swing_and_is_said() -> None:
    """Truth: made."""
    table = swing_table()
    table.loc[:4, "attack_angle_deg"] = np.nan
    line = relate_posture_to_strike(table, HUNCH, errors=UNKNOWN)[0]
    assert line.n_swings == len(table) - 5 and "5 swings left out" in said(line)
    with pytest.raises(BadTable, match="no swing has values"):
        relate_posture_to_strike(table.assign(attack_angle_deg=np.nan), HUNCH, errors=UNKNOWN)


def test_units_of_the_posture_do_not_change_t_df_or_p() -> None:
    """Truth: made. The outcome in other units: the same df and p, estimates in proportion."""
    table = swing_table(swing_error=1.0)
    a = relate_posture_to_strike(table, HUNCH, errors=UNKNOWN)
    b = relate_posture_to_strike(
        table.assign(attack_angle_deg=np.radians(table["attack_angle_deg"])), HUNCH, errors=UNKNOWN
    )
    np.testing.assert_allclose([line.p for line in a], [line.p for line in b], rtol=1e-6)
    np.testing.assert_allclose([line.df for line in a], [line.df for line in b], rtol=1e-6)
    np.testing.assert_allclose(
        np.radians([line.estimate for line in a]), [line.estimate for line in b], rtol=1e-6
    )


def test_unequal_slopes_and_answers_that_hang_on_one_golfer_are_said() -> None:
    """Truth: made. Slopes with SD 0.3 about 0.1; one golfer whose mean makes the between answer."""
    mixed = relate_posture_to_strike(swing_table(14, 20, within=0.1, slope_sd=0.3), HUNCH, errors=KNOWN)[0]
    assert "the opposite sign" in said(mixed)
    alike = relate_posture_to_strike(swing_table(14, 20, within=0.3, slope_sd=0.02), HUNCH, errors=KNOWN)[0]
    assert "the opposite sign" not in said(alike) and "depends on" not in said(alike)
    table = swing_table(12, 10, within=0.0, between=0.0, slope_sd=0.0, seed=5)
    odd = table["golfer"] == "G007"
    table.loc[odd, [COLUMN, "attack_angle_deg"]] += [40.0, 8.0]
    line = relate_posture_to_strike(table, BETWEEN, errors=KNOWN)[0]
    assert line.p < 0.01 and "p would cross .05 without G007" in said(line)
