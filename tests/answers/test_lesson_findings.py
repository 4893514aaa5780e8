"""Lessons as findings: the judged step, drift, posture against its own error, later looks, readings."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from made_questions import BEND, lesson_table
from scipy import stats
from statsmodels.stats.multitest import multipletests

from swinglab.answers import compare_before_after, judge
from swinglab.answers.aim import Aim, aim_of
from swinglab.errors import BadRequest, BadTable
from swinglab.records import Errors, Finding, Lesson
from swinglab.statistics import fit_step

LESSON = Lesson(
    "bend", "G07", "phase", "thorax_flexion_deg", "impact", "low_point_ahead_cm", smallest_effect=1.0,
    expect="positive", target=(0.0, 4.0), planned_swings=25,
)  # fmt: skip


def answer(table: pd.DataFrame, lesson: Lesson = LESSON, **errors: float) -> tuple[Finding, ...]:
    """The judged lines of a lesson."""
    return judge(compare_before_after(table, lesson, errors=Errors(**errors)), [lesson])


def line(found: tuple[Finding, ...], outcome: str, key: str, per: str = "after against before") -> Finding:
    """The one line of this quantity by this method, with the placement error of the study."""
    (one,) = [
        f for f in found
        if f.outcome == outcome and f.method_key == key and f.per == per and np.isnan(f.placement_deg)
    ]  # fmt: skip
    return one


def test_the_judged_line_is_the_strikes_step_beside_a_trend() -> None:
    """Truth: other. fit_step on the golfer's own swings in their order, though the rows were shuffled."""
    table = lesson_table()
    found = answer(table)
    own = table[table["golfer"] == "G07"].sort_values("order")
    step = fit_step(own["low_point_ahead_cm"], own["phase"] == "after", trend=True)
    first = found[0]
    assert [f.role for f in found] == ["default", *["beside"] * (len(found) - 1)]
    assert line(found, "low_point_ahead_cm", "block_signs").p < 0.05
    assert (first.estimate, first.standard_error, first.p) == pytest.approx(
        (step.estimate, step.standard_error, step.p)
    )
    assert (first.level, first.per, first.unit) == ("golfer", "after against before", "cm")
    assert (first.n_golfers, first.n_swings, first.smallest_effect) == (1, 50, 1.0)
    assert first.predictor == "phase[after]" and first.event == ""
    assert first.reading_key == "lesson_changed" and first.family == "golfer G07"


def changed(**changes: object) -> Lesson:
    """The lesson with other keys."""
    return replace(LESSON, **changes)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("table", "lesson", "key"),
    [
        ({}, LESSON, "lesson_changed"),
        ({"strike": 0.0, "drift": 0.12, "seed": 3}, LESSON, "lesson_drift"),
        ({"strike": 0.0, "seed": 2}, LESSON, "lesson_posture_only"),
        ({"posture": 0.0, "seed": 2}, LESSON, "lesson_strike_only"),
        ({"posture": 0.0, "strike": 0.0, "seed": 2}, LESSON, "not_settled"),
        ({"posture": 0.0, "strike": 0.0}, changed(smallest_effect=9.0), "too_small"),
        ({"strike": 0.0}, changed(smallest_effect=9.0), "lesson_posture_only"),
        ({"posture": 8.0}, LESSON, "lesson_away"),
        ({"posture": -16.0}, LESSON, "lesson_past"),
        ({"strike": -5.0}, LESSON, "lesson_against"),
        ({"posture": 8.0, "strike": -5.0}, LESSON, "lesson_away"),
        ({"posture": 8.0, "strike": 0.0, "seed": 2}, LESSON, "lesson_posture_away"),
        ({"posture": -16.0, "strike": 0.0, "seed": 2}, LESSON, "lesson_posture_past"),
        ({}, changed(target=None), "lesson_undirected"),
        ({}, changed(expect="either"), "lesson_undirected"),
        ({}, changed(planned_swings=40), "lesson_running"),
    ],
)  # fmt: skip
def test_a_lesson_is_read_by_its_direction_and_its_aim(table: dict, lesson: Lesson, key: str) -> None:
    """Truth: made. Drift, posture alone, strike alone, nothing; away from the aim, past it, against expectation."""
    assert answer(lesson_table(**table), lesson)[0].reading_key == key


def test_overshoot_is_counted_as_past() -> None:
    """Truth: made. Short, within and past the band are counted by phase, by hand."""
    table = lesson_table(posture=-12.0)
    note = next(
        w for w in line(answer(table), "thorax_flexion_deg", "step_beside_trend").warnings if "aim" in w
    )
    own = table[table["golfer"] == "G07"]
    for phase, rows in own.groupby("phase"):
        short, past = int((rows[BEND] > 4).sum()), int((rows[BEND] < 0).sum())
        assert f"{phase}: {short} short, {25 - short - past} within, {past} past" in note


def test_the_aim_of_a_single_value_has_the_width_given_or_the_players_own_spread() -> None:
    """Truth: made. target_value 4 with a width of 2 is the band 2 to 6; without one, one SD of the swings before."""
    table = lesson_table()
    before = table[(table["golfer"] == "G07") & (table["phase"] == "before")][BEND].to_numpy()
    assert aim_of(changed(target=None, target_value=4.0, target_width=2.0), before) == Aim(2.0, 6.0)
    own = aim_of(changed(target=None, target_value=4.0), before)
    assert own is not None and own.high - own.low == pytest.approx(2 * before.std(ddof=1))
    assert aim_of(changed(target=None), before) is None


def test_a_posture_that_drifts_is_no_change_of_posture() -> None:
    """Truth: made. Posture drifts in a line, strike steps: never read as a change of both (30 studies)."""
    keys = []
    for seed in range(30):
        table = lesson_table(posture=0.0, seed=seed)
        own = table["golfer"] == "G07"
        table.loc[own, BEND] -= 0.16 * table.loc[own, "order"]
        keys.append(answer(table)[0].reading_key)
    assert keys.count("lesson_changed") + keys.count("lesson_past") <= 3
    assert keys.count("lesson_strike_only") >= 20


def test_the_verdict_waits_for_the_planned_swings_and_is_given_there() -> None:
    """Truth: made. Until then no p and wider limits; swings beyond the plan do not alter the verdict."""
    table = lesson_table()
    waiting, given = answer(table, changed(planned_swings=40))[0], answer(table)[0]
    assert np.isnan(waiting.p) and np.isnan(waiting.p_adjusted) and "25 of 40" in waiting.reading
    assert waiting.ci_high - waiting.ci_low > given.ci_high - given.ci_low
    own = table.index[(table["golfer"] == "G07") & (table["phase"] == "after") & (table["order"] > 45)]
    early = answer(table, changed(planned_swings=20))[0]
    assert early.estimate == pytest.approx(
        answer(table.drop(index=own), changed(planned_swings=20))[0].estimate
    )
    assert "beyond_plan" in early.warning_keys


def test_two_clubs_in_a_lesson_are_no_step() -> None:
    """Truth: made. After the lesson the other club, 5 cm further: taken out, or refused to be pooled by `where`."""
    table = lesson_table(strike=0.0, seed=2)
    own = table["golfer"] == "G07"
    table["club"] = np.where(table["order"] % 2 == 0, "7 iron", "driver")
    table.loc[own & (table["club"] == "driver") & (table["phase"] == "after"), "club"] = "7 iron"
    table.loc[own & (table["club"] == "driver"), "low_point_ahead_cm"] -= 5.0
    both = answer(table)[0]
    assert both.ci_low < 0.0 < both.ci_high and "kinds_centred" in both.warning_keys
    iron = answer(table, changed(where={"club": ("7 iron",)}))[0]
    assert iron.n_swings == int((own & (table["club"] == "7 iron")).sum())


def test_another_club_after_the_lesson_gives_no_step() -> None:
    """Truth: made. Driver before, 7 iron after: posture and strike stepped by half of their level, found as changes."""
    table = lesson_table(posture=0.0, strike=0.0)
    table["club"] = np.where(table["phase"] == "before", "driver", "7 iron")
    with pytest.raises(BadTable, match="phases before and after have no club and shot in common"):
        answer(table)
    table.loc[table["phase"] == "after", "club"] = ""
    with pytest.raises(BadTable, match="no club and shot in common"):
        answer(table)


def test_swings_of_a_club_in_one_phase_alone_are_not_compared() -> None:
    """Truth: made. Ten drivers after, far off, also shifted the mean posture beside its aim; now as without them."""
    table = lesson_table().assign(club="7 iron")
    extra = table[(table["golfer"] == "G07") & (table["phase"] == "after")].head(10)
    extra = extra.assign(
        club="driver", order=extra["order"] + 100.0, **{BEND: 40.0, "low_point_ahead_cm": -30.0}
    )
    lesson = changed(planned_swings=None)
    alone, both = answer(table, lesson), answer(pd.concat([table, extra]), lesson)
    assert [number for f in both for number in (f.estimate, f.p, f.n_swings)] == pytest.approx(
        [number for f in alone for number in (f.estimate, f.p, f.n_swings)], nan_ok=True
    )
    assert both[0].reading_key == alone[0].reading_key


@pytest.mark.parametrize("swings", [25, 3])
def test_the_posture_stands_beside_its_own_error(swings: int) -> None:
    """Truth: made. The change beside its smallest detectable one, by t: 1.96 errors were too few for 3 swings."""
    table = lesson_table(posture=-16.0).groupby(["golfer", "phase"], sort=False).head(swings)
    found = answer(table, changed(planned_swings=None))
    written = " | ".join(line(found, "thorax_flexion_deg", "step_beside_trend").warnings)
    own = table[table["golfer"] == "G07"]
    spread = np.sqrt(own.groupby("phase")[BEND].var().mean() * 2 / swings)
    limit = stats.t.ppf(0.975, 2 * swings - 2) * spread
    assert f"exceeds the smallest detectable change of these means, {limit:.2g} deg" in written


def test_a_known_placement_error_enters_the_detectable_change_without_losing_certainty() -> None:
    """Truth: made. 3 swings on each of two days, placement 50 deg: nearly all of the error, so 1.96 standard errors."""
    table = lesson_table().sort_values("order").groupby(["golfer", "phase"], sort=False).head(3)
    table["session"] = np.where(table["phase"] == "after", "second", "first")
    found = answer(table, changed(planned_swings=None), placement_deg=50.0)
    written = " | ".join(line(found, "thorax_flexion_deg", "step_beside_trend").warnings)
    assert (
        f"does not exceed the smallest detectable change of these means, {1.96 * 2**0.5 * 50:.2g} deg"
        in written
    )


def test_markers_put_on_again_widen_the_posture_alone() -> None:
    """Truth: made. Before and after on two days: the placement error of both enters, the strike keeps its own."""
    table = lesson_table().sort_values(["golfer", "order"])
    table["session"] = np.where(table["phase"] == "after", "second", "first")
    near, far = answer(table, placement_deg=0.0), answer(table, placement_deg=3.0)
    plain = line(near, "thorax_flexion_deg", "step_without_trend").standard_error
    wide = line(far, "thorax_flexion_deg", "step_without_trend").standard_error
    assert wide == pytest.approx(np.sqrt(plain**2 + 2 * 9.0))
    assert near[0].standard_error == far[0].standard_error
    unknown = answer(table)
    assert sorted(f.placement_deg for f in unknown if f.placement_deg >= 0) == [2.0, 4.0]
    assert any(
        "placed again" in said for said in line(unknown, "thorax_flexion_deg", "step_beside_trend").warnings
    )
    assert any("different sessions" in said for said in unknown[0].warnings)


def test_later_looks_stand_beside_and_change_nothing() -> None:
    """Truth: made. A week later is compared with before; the judged line is the same without it."""
    found, short = (
        answer(lesson_table(later=True)),
        answer(lesson_table(later=True).query("session == 'first'")),
    )
    assert found[0].estimate == pytest.approx(short[0].estimate)
    kept = line(found, "low_point_ahead_cm", "later_look", "a week later against before")
    assert kept.ci_low < 5.0 < kept.ci_high and kept.p < 0.01
    assert any(f.outcome == "thorax_flexion_deg" and f.per.startswith("a week later") for f in found)


def test_swings_of_the_drill_are_not_judged() -> None:
    """Truth: made. Drill swings between before and after, far off: all lines are those without them."""
    table = lesson_table()
    own = table[(table["golfer"] == "G07") & (table["phase"] == "before")].tail(6)
    extra = [own.assign(phase=phase, order=own["order"] + 0.5, **{BEND: 99.0}) for phase in ("drill", "")]
    kept = [number for f in answer(table) for number in (f.estimate, f.p)]
    extra[1]["order"] += 0.25
    for more in extra:
        found = answer(pd.concat([table, more]))
        assert [number for f in found for number in (f.estimate, f.p)] == pytest.approx(kept, nan_ok=True)


def test_another_club_is_compared_with_the_same_club_before() -> None:
    """Truth: made. Seven more degrees of bend with the driver, at any time; a look with it needs it before too."""
    table = lesson_table(later=True).assign(club="7 iron")
    look = (table["golfer"] == "G07") & (table["phase"] == "a week later")
    table.loc[look, "club"] = "driver"
    table.loc[look, BEND] += 7.0
    alone = line(answer(table), "thorax_flexion_deg", "later_look", "a week later against before")
    assert np.isnan(alone.estimate) and "have no club and shot in common" in alone.warnings[0]
    first = table[(table["golfer"] == "G07") & (table["phase"] == "before")]
    driver = first.assign(club="driver", order=first["order"] - 100.0, **{BEND: first[BEND] + 7.0})
    both = line(
        answer(pd.concat([driver, table])), "thorax_flexion_deg", "later_look", "a week later against before"
    )
    own = table.loc[look, BEND].mean() - driver[BEND].mean()
    assert both.estimate == pytest.approx(own, abs=0.3) and both.n_swings == len(driver) + look.sum()


def test_posture_and_strike_of_a_lesson_share_one_family() -> None:
    """Truth: other. p of both, by Holm as statsmodels has it."""
    found = answer(lesson_table(posture=-1.0, strike=1.0))
    steps = (found[0], line(found, "thorax_flexion_deg", "step_beside_trend"))
    expected = multipletests([f.p for f in steps], method="holm")[1]
    assert [f.p_adjusted for f in steps] == pytest.approx(list(expected))


def test_contact_in_words_becomes_the_share_of_clean_strikes() -> None:
    """Truth: made. Clean from 2 cm on, else fat; uncertain counts as missing, and is counted."""
    table = lesson_table()
    table["contact"] = np.where(table["low_point_ahead_cm"] > 3.5, "clean", "fat")
    table.loc[table.index[table["golfer"] == "G07"][:3], "contact"] = "uncertain"
    lesson = Lesson("bend", "G07", "phase", "thorax_flexion_deg", "impact", "contact")
    first = answer(table, lesson)[0]
    assert first.unit == "share of clean strikes" and 0.5 < first.estimate < 1.2
    assert first.n_swings == 47 and any(
        text.startswith("3 rows with a missing value") for text in first.warnings
    )


def test_a_running_lesson_with_only_clean_strikes_before_has_limits() -> None:
    """Truth: made. 25 clean strikes before, 5 of 25 fat after, 40 planned: a ZeroDivisionError before."""
    table = lesson_table()
    table["contact"] = np.where((table["phase"] == "after") & (table["order"] % 5 == 0), "fat", "clean")
    lesson = Lesson("b", "G07", "phase", "thorax_flexion_deg", "impact", "contact", planned_swings=40)
    first = answer(table, lesson)[0]
    assert first.reading_key == "lesson_running" and np.isnan(first.p)
    assert -1.0 < first.ci_low < first.estimate < first.ci_high < 1.0


def test_lessons_that_cannot_be_read_are_refused() -> None:
    """Truth: made. No such golfer, one phase, too few swings of one, no such column."""
    table = lesson_table()
    with pytest.raises(BadRequest, match="no golfer G70"):
        answer(table, Lesson("x", "G70", "phase", "thorax_flexion_deg", "impact", "low_point_ahead_cm"))
    with pytest.raises(BadTable, match="same value in the column phase"):
        answer(table[table["phase"] == "before"])
    own = table[(table["golfer"] == "G07") & (table["phase"] == "after")].index
    with pytest.raises(BadTable, match="25 in the phase before and 2 in the phase after"):
        answer(table.drop(index=own[2:]))
    with pytest.raises(BadTable, match="no column fase"):
        answer(table, Lesson("x", "G07", "fase", "thorax_flexion_deg", "impact", "low_point_ahead_cm"))


def test_a_posture_that_was_not_measured_leaves_the_strike_its_answer() -> None:
    """Truth: made. Without one posture value the strike is judged and the posture's line says why."""
    table = lesson_table()
    table[BEND] = np.nan
    found = answer(table)
    assert np.isfinite(found[0].p) and found[0].reading_key == "lesson_strike_only"
    assert "0 in the phase before" in " ".join(
        line(found, "thorax_flexion_deg", "step_beside_trend").warnings
    )


def test_without_sessions_the_rows_order_stands_where_places_repeat() -> None:
    """Truth: made. Places that start again, sessions not given: the swings are taken as they stand."""
    table = lesson_table(later=True).sort_values(["golfer", "session", "order"])
    bare = answer(table.drop(columns="session"))
    assert bare[0].n_swings == 50
    assert bare[0].estimate == pytest.approx(answer(table)[0].estimate)
