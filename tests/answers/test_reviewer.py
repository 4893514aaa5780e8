"""What a hard reviewer would try: errors at their own level, drift, clubs, counts, an analyst's own table."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from made_questions import BEND, lesson_table
from made_swing_table import COLUMN, EVENT, POSTURE, swing_table

from swinglab.answers import compare_before_after, compare_groups, judge, relate_posture_to_strike
from swinglab.errors import BadRequest
from swinglab.records import Comparison, Errors, Finding, Hunch, Lesson
from swinglab.statistics import fit_golfer_means, fit_mixed, fit_step

HUNCH = Hunch("tilt", "attack_angle_deg", POSTURE, EVENT, "within", "positive", (), 0.5)
NO_ERROR = Errors(placement_deg=0.0, soft_tissue_deg=0.0)


def related(table: pd.DataFrame, hunch: Hunch = HUNCH, errors: Errors = NO_ERROR) -> tuple[Finding, ...]:
    """Judged lines of a hunch."""
    return judge(relate_posture_to_strike(table, hunch, errors=errors), [hunch])


def test_placement_error_between_is_divided_by_sessions() -> None:
    """Truth: other. Fuller's correction by hand: with two sessions a golfer, half the variance of placement."""
    hunch = replace(HUNCH, level="between")
    table = swing_table(14, 24, sessions=2, placement=3.0, seed=5).drop(columns="order", errors="ignore")
    table = table.drop(columns=[name for name in table if "_se_" in name])
    corrected = related(table, hunch, Errors(placement_deg=3.0))[0]
    fit = fit_golfer_means(table, "attack_angle_deg", [COLUMN])
    observed = float(fit.coefficients.loc[COLUMN, "estimate"])
    variance = float(fit.means[COLUMN].var())
    assert corrected.estimate == pytest.approx(10 * observed * variance / (variance - 9.0 / 2), rel=1e-6)
    assumed = [line for line in related(table, hunch, Errors()) if line.placement_deg > 0]
    assert [line.estimate for line in assumed] == pytest.approx(
        [10 * observed * variance / (variance - degrees**2 / 2) for degrees in (2.0, 4.0)], rel=1e-6
    )


def test_placement_error_of_a_lesson_is_divided_by_sessions_and_costs_no_df() -> None:
    """Truth: other. By hand: two sessions before, one after: variance (1/2 + 1) of placement is added to the
    step's own, and the df grow as the own error's share shrinks."""
    lesson = Lesson("l", "G07", "phase", "thorax_flexion_deg", "impact", "low_point_ahead_cm")
    table = lesson_table().sort_values(["golfer", "order"])
    half = table["order"] <= 12
    table["session"] = np.where(table["phase"] == "after", "c", np.where(half, "a", "b"))
    own = table[table["golfer"] == "G07"]
    shares = own[own["phase"] == "before"]["session"].value_counts(normalize=True)
    lines = compare_before_after(table, lesson, errors=Errors(placement_deg=3.0))
    (line,) = [f for f in lines if f.outcome == "thorax_flexion_deg" and f.method_key == "step_without_trend"]
    step = fit_step(own[BEND], own["phase"] == "after", order=own["order"], session=own["session"])
    extra = 9.0 * (float((shares**2).sum()) + 1.0)
    assert line.standard_error == pytest.approx(np.sqrt(step.standard_error**2 + extra))
    assert line.df == pytest.approx(step.df * (1 + extra / step.standard_error**2) ** 2)
    (posture,) = [
        f for f in lines if f.outcome == "thorax_flexion_deg" and f.method_key == "step_beside_trend"
    ]
    assert "placement_known" in posture.warning_keys


def test_arm_events_of_another_method_are_never_pooled() -> None:
    """Truth: made. Arms from the acromion in one half, from the shoulder's centre in the other: a term or a refusal,
    for events of the arm alone."""
    table = swing_table(14, 12)
    other = table["golfer"] >= "G007"
    table["arm_method"] = np.where(other, "shoulder centre to wrist", "acromion to wrist")
    table["group"] = np.where(other, "b", "a")
    column = f"{POSTURE.removesuffix('_deg')}_at_lead_arm_horizontal_down_deg"
    table[column] = table[COLUMN]
    arm = replace(HUNCH, event="lead_arm_horizontal_down", level="between")
    judged, *_ = related(table, arm)
    assert "several_ways" in judged.warning_keys and "adjusted for measurement method" in judged.method
    same, *_ = related(table, replace(HUNCH, level="between"))
    assert "several_ways" not in same.warning_keys and "adjusted" not in same.method
    within, *_ = related(table, replace(arm, level="within"))
    assert "adjusted" not in within.method  # each golfer was measured by one method
    with pytest.raises(Exception, match="measured by different methods"):
        compare_groups(table, Comparison("g", POSTURE, "lead_arm_horizontal_down", "group"), errors=NO_ERROR)


def test_clubs_are_never_pooled() -> None:
    """Truth: made. No relation in either club, 8 deg and 5 deg apart: not settled or too small, never a direction."""
    parts = []
    for club, tilt, attack in (("7 iron", 12.0, -4.0), ("driver", 20.0, 1.0)):
        own = swing_table(10, 10, within=0.0, between=0.0, slope_sd=0.0, seed=3)
        own[COLUMN] += tilt - own[COLUMN].mean()
        own["attack_angle_deg"] += attack - own["attack_angle_deg"].mean()
        parts.append(own.assign(club=club))
    table = pd.concat(parts, ignore_index=True)
    pooled = related(table.drop(columns="club"))[0]
    assert pooled.estimate > 3 and "no_club_column" in pooled.warning_keys
    apart = related(table)[0]
    assert apart.reading_key in ("not_settled", "too_small", "methods_disagree")
    assert abs(apart.estimate) < 1 and "kinds_centred" in apart.warning_keys
    iron = related(table, replace(HUNCH, where={"club": ("7 iron",)}))[0]
    assert iron.n_swings == 100 and "kinds_centred" not in iron.warning_keys


def drifting(seed: int, *, opposite: bool = False) -> pd.DataFrame:
    """Posture and strike that drift together over each golfer's session and are otherwise unrelated."""
    table = swing_table(12, 20, within=0.0, between=0.0, slope_sd=0.0, seed=seed)
    time = table.groupby("golfer")["order"].transform(lambda place: (place - place.mean()) / np.ptp(place))
    way = np.where(table["golfer"].str[-1].astype(int) % 2 == 1, -1.0, 1.0) if opposite else 1.0
    table[COLUMN] += way * 6.0 * time
    table["attack_angle_deg"] += way * 4.0 * time
    return table


def test_a_drift_that_both_share_is_no_relation() -> None:
    """Truth: made. Ten studies each, in one direction and in both: read as a direction once at most; with the order
    not known most are taken in, and the warning says so."""
    for opposite in (False, True):
        found = [related(drifting(seed, opposite=opposite))[0].reading_key for seed in range(10)]
        assert sum(key in ("borne_out", "contradicted") for key in found) <= 1
    bare = related(drifting(0).drop(columns="order"))[0]
    assert bare.reading_key == "borne_out" and "no_order" in bare.warning_keys


def test_degrees_of_freedom_are_at_most_golfers_less_one_in_the_answer_alone() -> None:
    """Truth: other. The answer's df are capped; fit_mixed keeps Satterthwaite's own."""
    table = swing_table(8, 30, slope_sd=0.0, seed=4).drop(columns="order")
    line = related(table)[0]
    deviation = table[COLUMN] - table.groupby("golfer")[COLUMN].transform("mean")
    fit = fit_mixed(table.assign(d=deviation), "attack_angle_deg", ["d"], slopes=["d"])
    assert line.df <= 7 < float(fit.coefficients.loc["d", "df"])
    assert not any("read" in word and "line first" in word for word in line.warnings)


def test_counts_that_go_with_slopes_are_warned_of() -> None:
    """Truth: made. Golfers with steeper slopes made more swings."""
    table = swing_table(10, 40, slope_sd=0.2, seed=6)
    deviation = table[COLUMN] - table.groupby("golfer")[COLUMN].transform("mean")
    own = (table["attack_angle_deg"] * deviation).groupby(table["golfer"]).sum() / (deviation**2).groupby(
        table["golfer"]
    ).sum()
    number = (own.rank() * 4).astype(int)
    kept = table.groupby("golfer").cumcount() < table["golfer"].map(number)
    assert "counts_and_slopes" in related(table[kept].drop(columns="order"))[0].warning_keys


def test_duplicated_rows_are_warned_of() -> None:
    """Truth: made."""
    table = swing_table()
    again = pd.concat([table, table.head(2)], ignore_index=True)
    assert any(
        "2 swings with exactly the same values as another" in word for word in related(again)[0].warnings
    )


def test_an_analysts_own_table_is_served_by_declared_columns() -> None:
    """Truth: other. The same numbers under the kit's names and under the analyst's own."""
    table = swing_table()
    renamed = table.rename(columns={COLUMN: "tilt", "attack_angle_deg": "angle"})
    own = Hunch("mine", "angle", "tilt", "", "within", "positive", (), 0.5)
    declared = {"tilt": ("trunk tilt", "deg"), "angle": ("blade angle", "deg")}
    mine = relate_posture_to_strike(renamed, own, errors=NO_ERROR, declared=declared)[0]
    theirs = relate_posture_to_strike(
        table.drop(columns=[n for n in table if "_se_" in n]), HUNCH, errors=NO_ERROR
    )[0]
    assert (mine.estimate, mine.p) == (pytest.approx(theirs.estimate), pytest.approx(theirs.p))
    assert (mine.unit, mine.per) == ("deg", "10 deg of trunk tilt")
    with pytest.raises(BadRequest, match="give label and unit in Python by declared"):
        relate_posture_to_strike(renamed, own, errors=NO_ERROR)
    renamed["side"] = np.where(renamed["golfer"] > "G005", "a", "b")
    compared = compare_groups(
        renamed, Comparison("c", "tilt", None, "side"), errors=NO_ERROR, declared=declared
    )[0]
    assert compared.unit == "deg" and np.isfinite(compared.p)
