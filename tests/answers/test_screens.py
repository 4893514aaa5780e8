"""Screens of a study and the questions they lead to: found by looking, then judged on other swings."""

from __future__ import annotations

from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from swinglab import columns
from swinglab.answers import answer_screens, player_against_group, screen_table
from swinglab.answers.found import confirming_rows
from swinglab.answers.screen import candidate_columns
from swinglab.answers.screen_table import SCREEN_COLUMNS, measurability
from swinglab.answers.selection import rows_where
from swinglab.errors import BadTable
from swinglab.records import Errors, FoundIn, Hunch, PostureScreen
from swinglab.statistics import reliability
from swinglab.study import answer_study
from tests.made_swing_table import COLUMN, EVENT, POSTURE, swing_table

ERRORS = Errors(placement_deg=1.5, soft_tissue_deg=0.0)
COMPANY = columns.event_column_name(POSTURE, "impact")
OTHER = columns.event_column_name("pelvis_axial_rotation_deg", "lead_arm_horizontal_back")


def table_with_company(**how) -> pd.DataFrame:
    """A swing table whose tilt at delivery works, at impact goes with it, and whose pelvis turn does nothing."""
    table = swing_table(**how)
    rng = np.random.default_rng(99)
    table[COMPANY] = table[COLUMN] + rng.normal(0, 0.5, len(table))
    table[OTHER] = rng.normal(-30, 4, len(table))
    table[columns.event_column_name("thorax_lateral_flexion_isb_deg", EVENT)] = table[COLUMN]
    return table


def answered(table: pd.DataFrame, *hunches: Hunch) -> list:
    """The judged lines by the study's own path."""
    study = SimpleNamespace(
        questions=hunches, errors=ERRORS, errors_of=lambda _: ERRORS, folder=Path(), captures={}
    )
    return [
        f
        for f in answer_study(study, SimpleNamespace(swings=table, excluded=pd.DataFrame()))
        if f.role == "default"
    ]


def hunch(found_in: FoundIn | None, name: str = "tilt", **changes) -> Hunch:
    return Hunch(name, "attack_angle_deg", POSTURE, EVENT, expect="positive", found_in=found_in, **changes)


def test_candidates_are_postures_at_events_each_in_one_convention() -> None:
    """Truth: made. ISB copies and standard errors are left out; parts and events narrow the search."""
    table = table_with_company()
    assert candidate_columns(table, PostureScreen("s", "attack_angle_deg")) == [COLUMN, COMPANY, OTHER]
    only = PostureScreen("s", "attack_angle_deg", parts=("pelvis",))
    assert candidate_columns(table, only) == [OTHER]
    only = PostureScreen("s", "attack_angle_deg", events=("impact",))
    assert candidate_columns(table, only) == [COMPANY]


def test_screen_csv_holds_every_candidate_and_shows_a_group_once() -> None:
    """Truth: made. Tilt at delivery and at impact are one group; the pelvis turn is not found."""
    table = table_with_company(golfers=14)
    answers = answer_screens(table, [PostureScreen("s", "attack_angle_deg")], samples=999)
    rows = screen_table(answers, ERRORS).set_index("column")
    assert [*rows.reset_index()[list(SCREEN_COLUMNS)]] == list(SCREEN_COLUMNS) and len(rows) == 3
    assert rows.loc[COLUMN, "group"] == rows.loc[COMPANY, "group"] != rows.loc[OTHER, "group"]
    assert rows.loc[[COLUMN, COMPANY], "shown"].sum() == 1
    assert rows.loc[COLUMN, "p_adjusted"] < 0.05 < rows.loc[OTHER, "p_adjusted"]
    assert rows.loc[COLUMN, "estimate"] == pytest.approx(2.0, abs=0.5) and rows.loc[COLUMN, "per"] == "10 deg"


def test_a_screen_that_cannot_be_made_keeps_its_reason_and_stops_no_other() -> None:
    """Truth: made. Too few golfers for one, an outcome that no golfer has for another, an answer for the third."""
    table = table_with_company(golfers=7, swings=30)
    asked = [
        PostureScreen("few", "attack_angle_deg", where={"golfer": ["G000", "G001"]}),
        PostureScreen("none", "low_point_ahead_cm"),
        PostureScreen("one", "attack_angle_deg", level="golfer", golfer="G003"),
    ]
    few, none, one = answer_screens(table, asked, samples=199)
    assert few.found is None and "2 golfers" in few.why
    assert none.found is None and "low_point_ahead_cm" in none.why
    assert one.found is not None and one.found.table["n_swings"][0] == 30
    assert screen_table([few], ERRORS)["not_screened"][0] == few.why


def test_where_keeps_values_and_ranges_and_refuses_what_keeps_nothing() -> None:
    """Truth: made."""
    table = table_with_company(golfers=3, swings=10)
    kept = rows_where(table, {"golfer": ["G001"], "order": {"from": 2, "to": 4}})
    assert kept["order"].tolist() == [2, 3, 4] and set(kept["golfer"]) == {"G001"}
    with pytest.raises(BadTable, match="no swing is selected"):
        rows_where(table, {"golfer": ["G9"]})
    with pytest.raises(BadTable, match="not numeric"):
        rows_where(table, {"golfer": {"from": 1}})


def test_other_golfers_confirm() -> None:
    """Truth: made. Golfers who were not searched decide, and they alone are in the line."""
    table = table_with_company(golfers=16)
    searched = FoundIn(golfers=tuple(f"G{i:03d}" for i in range(8)))
    (line,) = answered(table, hunch(searched))
    assert line.reading_key == "confirmed" and line.n_golfers == 8
    assert line.estimate == pytest.approx(2.0, abs=0.5)


def test_other_sessions_of_the_same_golfers_only_hold_again() -> None:
    """Truth: made. The effect is there, yet it is not called confirmed."""
    table = table_with_company(golfers=8, sessions=2)
    searched = FoundIn(golfers=tuple(sorted(set(table["golfer"]))), sessions=("day 0",))
    rows, standing = confirming_rows(table, hunch(searched))
    assert standing == "same_golfers" and set(rows["session"]) == {"day 1"}
    assert answered(table, hunch(searched))[0].reading_key == "held_again"


def test_without_other_swings_nothing_is_confirmed_and_no_p_is_given() -> None:
    """Truth: made. The numbers are shown, the p is not, and it takes no part in Holm's adjustment."""
    table = table_with_company(golfers=8)
    searched = FoundIn(golfers=tuple(sorted(set(table["golfer"]))))
    plain = hunch(None, "asked beforehand")
    line, other = answered(table, hunch(searched), plain)
    assert line.reading_key == "found_only" and np.isnan(line.p) and np.isfinite(line.estimate)
    assert "found_here" in line.warning_keys
    assert other.p_adjusted == answered(table, plain)[0].p_adjusted


@pytest.mark.parametrize(
    ("found", "standing", "sessions"),
    [
        (FoundIn(sessions=("day 0", "day 1")), "searched", {"day 0", "day 1"}),
        (FoundIn(sessions=("day 0",)), "same_golfers", {"day 1"}),
        (FoundIn(swings=tuple(f"s{i:04d}" for i in range(160))), "searched", {"day 0", "day 1"}),
        (FoundIn(swings=tuple(f"s{i:04d}" for i in range(0, 160, 20))), "same_golfers", {"day 1"}),
        (FoundIn(golfers=("G000",), swings=("s0020", "s0040")), "searched", {"day 0", "day 1"}),
    ],
)
@pytest.mark.parametrize("level", ["within", "between"])
def test_swings_that_a_search_gives_by_session_or_swing_are_not_new(
    found: FoundIn, standing: str, sessions: set[str], level: str
) -> None:
    """Truth: made. Eight golfers on two days. Before, only golfers given by name counted as searched.

    Without any, all swings were called fresh, and the searched swings confirmed the question.
    """
    rows, said = confirming_rows(table_with_company(golfers=8, sessions=2), hunch(found, level=level))
    assert (said, set(rows["session"])) == (standing, sessions)


def test_golfers_without_a_swing_in_a_searched_session_confirm() -> None:
    """Truth: made. Eight of 16 golfers swing on another day, which was not searched; the club does not matter."""
    table = table_with_company(golfers=16).assign(club="7 iron")
    table.loc[table["golfer"] >= "G008", "session"] = "day 1"
    table.loc[(table["session"] == "day 0") & (table["order"] > 10), "club"] = "driver"
    driver = table.loc[table["club"] == "driver", "swing"]
    for found in (FoundIn(sessions=("day 0",)), FoundIn(swings=tuple(driver))):
        rows, standing = confirming_rows(table, hunch(found, where={"club": ["7 iron"]}))
        assert standing == "fresh" and set(rows["session"]) == {"day 1"}


@pytest.mark.parametrize(
    ("found", "standing", "number"),
    [
        (FoundIn(sessions=("day 0",)), "fresh", 10),
        (FoundIn(golfers=("G001",), sessions=("day 0",)), "fresh", 10),
        (FoundIn(sessions=("day 0", "day 1")), "searched", 20),
        (FoundIn(golfers=("G001",)), "searched", 20),
        (FoundIn(golfers=("G000",)), "fresh", 20),
        (FoundIn(swings=tuple(f"s{i:04d}" for i in range(20, 25))), "fresh", 10),
        (FoundIn(swings=tuple(f"s{i:04d}" for i in range(22, 37))), "same_session", 5),
        (FoundIn(swings=tuple(f"s{i:04d}" for i in range(20, 40))), "searched", 20),
        (FoundIn(sessions=("day 0", "day 1"), swings=("s0020", "s0021")), "same_session", 8),
    ],
)
def test_swings_of_one_golfer_that_a_search_gives_are_not_new(
    found: FoundIn, standing: str, number: int
) -> None:
    """Truth: made. G001 has ten swings on each of two days. Before, without a session in the search all were fresh."""
    table = table_with_company(golfers=8, sessions=2)
    rows, said = confirming_rows(table, hunch(found, level="golfer", golfer="G001"))
    assert (said, len(rows), set(rows["golfer"])) == (standing, number, {"G001"})
    assert said == "searched" or not set(rows["swing"]) & set(found.swings)


def test_a_false_find_is_not_confirmed() -> None:
    """Truth: made. Without an effect the other golfers do not say what the searched ones seemed to say."""
    table = table_with_company(golfers=16, within=0.0, between=0.0)
    (line,) = answered(table, hunch(FoundIn(golfers=tuple(f"G{i:03d}" for i in range(8)))))
    assert line.reading_key == "not_settled"


def test_trying_again_is_shown_and_counts() -> None:
    """Truth: made. Two tries of the same relation: both lines say so, and Holm counts both."""
    table = table_with_company(golfers=16)
    found = FoundIn(golfers=("G000", "G001"))
    first, second = answered(table, hunch(found), hunch(FoundIn(golfers=("G002",)), "again"))
    assert "tried_again" in first.warning_keys and "tried_again" in second.warning_keys
    assert max(first.p_adjusted, second.p_adjusted) >= 2 * min(first.p, second.p) - 1e-12


def test_reliability_is_that_of_the_analysis_of_variance_and_changes_count_placement() -> None:
    """Truth: other. ICC(1) by restricted likelihood, the same where golfers swing equally often."""
    table = table_with_company(golfers=10, swings=12)
    row = measurability(table, [COLUMN], ERRORS).iloc[0]
    other = reliability(table, COLUMN)
    assert row["reliability_one"] == pytest.approx(other.icc, abs=1e-6)
    assert row["reliability_session"] == pytest.approx(other.of_mean(10), abs=1e-6)
    assert row["own_sd"] == pytest.approx(other.sem, rel=1e-6)
    assert row["detectable_one"] == pytest.approx(1.959964 * np.sqrt(2 * (other.sem**2 + 1.5**2)), rel=1e-5)


def test_a_player_stands_against_what_a_new_member_of_the_group_could_show() -> None:
    """Truth: other. The t prediction interval of one more mean, written out."""
    table = table_with_company(golfers=9)
    table["group"] = np.where(table["golfer"] == "G000", "learners", "skilled")
    row = player_against_group(table, [COLUMN], golfer="G000", group="skilled", errors=ERRORS).iloc[0]
    means = table.groupby("golfer")[COLUMN].mean()
    others = means.drop("G000")
    assert row["difference"] == pytest.approx(means["G000"] - others.mean())
    half = stats.t.ppf(0.975, 7) * others.std() * np.sqrt(1 + 1 / 8)
    assert (row["range_low"], row["range_high"]) == pytest.approx((-half, half))
    assert row["error"] > 1.5 and row["group_golfers"] == 8
    once = table[(table["golfer"] != "G000") | ~table["golfer"].duplicated()]
    single = player_against_group(once, [COLUMN], golfer="G000", group="skilled", errors=ERRORS).iloc[0]
    assert np.isfinite(single["difference"]) and np.isnan(single["error"])


def test_a_player_is_compared_with_swings_of_the_same_club() -> None:
    """Truth: made. All lean 8 deg more with the driver; the learner swings one iron, the others both clubs."""
    irons = table_with_company(golfers=9).assign(club="7 iron")
    drivers = irons.assign(club="driver", **{COLUMN: irons[COLUMN] + 8.0})
    learner = pd.concat([drivers[drivers["golfer"] == "G000"], irons[irons["golfer"] == "G000"].iloc[:1]])
    others = pd.concat([irons, drivers])
    table = pd.concat([learner, others[others["golfer"] != "G000"]], ignore_index=True)
    table["group"] = np.where(table["golfer"] == "G000", "learners", "skilled")
    row = player_against_group(table, [COLUMN], golfer="G000", group="skilled", errors=ERRORS).iloc[0]
    means = drivers.groupby("golfer")[COLUMN].mean()
    assert row["club"] == "driver"
    assert row["difference"] == pytest.approx(means["G000"] - means.drop("G000").mean())


def test_a_player_whose_clubs_the_group_did_not_swing_is_not_compared() -> None:
    """Truth: made. A putter beside 7 irons: nothing is compared, and nothing else is filled in."""
    table = table_with_company(golfers=9)
    own = table["golfer"] == "G000"
    table = table.assign(group=np.where(own, "learners", "skilled"), club=np.where(own, "putter", "7 iron"))
    row = player_against_group(table, [COLUMN], golfer="G000", group="skilled", errors=ERRORS).iloc[0]
    assert row["club"] == "" and row["group_golfers"] == 0
    assert np.isnan([row["difference"], row["range_low"], row["range_high"]]).all()
