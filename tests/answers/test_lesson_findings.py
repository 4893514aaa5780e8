"""Lessons as findings: the judged step, drift, posture against its own error, later looks, readings."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from swinglab.answers import compare_before_after, judge
from swinglab.errors import BadRequest, BadTable
from swinglab.records import Errors, Finding, Lesson
from swinglab.statistics import fit_step

POSTURE = "thorax_flexion_at_impact_deg"
LESSON = Lesson("bend", "G07", "phase", "thorax_flexion_deg", "impact", "low_point_ahead_cm", 4.0, 1.0)


def lesson_table(
    *, posture: float = -8.0, strike: float = 5.0, drift: float = 0.0, later: bool = False, seed: int = 1
) -> pd.DataFrame:
    """One golfer's 25 swings before and 25 after, in one session, and 15 a week later; another golfer besides."""
    rng = np.random.default_rng(seed)
    phases = ["before"] * 25 + ["after"] * 25 + ["a week later"] * (15 if later else 0)
    n, taught = len(phases), np.array([phase != "before" for phase in phases])
    table = pd.DataFrame({"golfer": "G07", "phase": phases})
    table["session"] = np.where(table["phase"] == "a week later", "second", "first")
    table["order"] = table.groupby("session", sort=False).cumcount() + 1
    table[POSTURE] = 10 + posture * taught + rng.normal(0, 2, n)
    table["low_point_ahead_cm"] = 1 + strike * taught + drift * np.arange(n) + rng.normal(0, 1.5, n)
    other = table.assign(golfer="G08", low_point_ahead_cm=0.0)
    return pd.concat([other, table.sample(frac=1, random_state=2)], ignore_index=True)


def answer(table: pd.DataFrame, lesson: Lesson = LESSON, **errors: float) -> tuple[Finding, ...]:
    """The judged lines of a lesson."""
    return judge(compare_before_after(table, lesson, errors=Errors(**errors)), [lesson])


def line(found: tuple[Finding, ...], outcome: str, ending: str, per: str = "after against before") -> Finding:
    """The one line of this quantity whose method ends so."""
    (one,) = [f for f in found if f.outcome == outcome and f.method.endswith(ending) and f.per == per]
    return one


def test_the_judged_line_is_the_strikes_step_beside_a_trend() -> None:
    """Truth: other. fit_step on the golfer's own swings in their order, though the rows were shuffled."""
    table = lesson_table()
    found = answer(table)
    own = table[table["golfer"] == "G07"].sort_values("order")
    step = fit_step(own["low_point_ahead_cm"], own["phase"] == "after", trend=True)
    first = found[0]
    assert first.role == "default" and [f.role for f in found[1:]] == ["beside"] * 4
    assert (first.estimate, first.standard_error, first.p) == pytest.approx(
        (step.estimate, step.standard_error, step.p)
    )
    assert (first.level, first.per, first.unit) == ("golfer", "after against before", "cm")
    assert (first.n_golfers, first.n_swings, first.smallest_effect) == (1, 50, 1.0)
    assert first.predictor == "phase[after]" and first.event == ""
    assert first.reading.startswith("worked")


def test_readings_tell_drift_posture_and_strike_apart() -> None:
    """Truth: made. A drift alone; posture alone; strike alone; nothing; a step that is too small to matter."""
    drift = lesson_table(strike=0.0, drift=0.12, seed=3)
    assert answer(drift)[0].reading == "a change, which drift alone could explain"
    posture = answer(lesson_table(strike=0.0, seed=2))[0].reading
    assert posture == "not settled: the posture changed, a change of the strike was not found"
    strike = answer(lesson_table(posture=0.0, seed=2))[0].reading
    assert strike.startswith("the strike changed") and "posture was not found" in strike
    assert answer(lesson_table(posture=0.0, strike=0.0, seed=2))[0].reading.startswith("not settled: about")
    wide = Lesson(**{name: getattr(LESSON, name) for name in LESSON.__slots__} | {"smallest_effect": 9.0})
    assert answer(lesson_table(strike=0.0), wide)[0].reading.startswith("too small to matter")


def test_posture_is_told_against_its_own_error_and_the_target() -> None:
    """Truth: made. The change beside its smallest detectable one; swings on the target's side, by phase."""
    table = lesson_table()
    told = " | ".join(line(answer(table), "thorax_flexion_deg", "without a trend").warnings)
    own = table[table["golfer"] == "G07"]
    reached = {phase: int((rows[POSTURE] <= 4).sum()) for phase, rows in own.groupby("phase")}
    assert f"{reached['before']} of 25 in before, {reached['after']} of 25 in after" in told
    spread = np.sqrt(own.groupby("phase")[POSTURE].var().mean() * 2 / 25)
    assert f"exceeds the smallest detectable change of these means, {1.96 * spread:.2g} deg" in told


def test_markers_put_on_again_widen_the_posture_alone() -> None:
    """Truth: made. Before and after on two days: the placement error of both enters, the strike keeps its own."""
    table = lesson_table().sort_values(["golfer", "order"])
    table["session"] = np.where(table["phase"] == "after", "second", "first")
    near, far = answer(table, placement_deg=0.0), answer(table, placement_deg=3.0)
    plain = line(near, "thorax_flexion_deg", "without a trend").standard_error
    wide = line(far, "thorax_flexion_deg", "without a trend").standard_error
    assert wide == pytest.approx(np.sqrt(plain**2 + 2 * 9.0))
    assert near[0].standard_error == far[0].standard_error
    unknown = answer(table)
    assert sum("placement error taken as" in f.method for f in unknown) == 2
    assert any(
        "put on again" in said for said in line(unknown, "thorax_flexion_deg", "without a trend").warnings
    )
    assert any("different sessions" in said for said in unknown[0].warnings)


def test_later_looks_stand_beside_and_change_nothing() -> None:
    """Truth: made. A week later is compared with before; the judged line is the same without it."""
    found, short = (
        answer(lesson_table(later=True)),
        answer(lesson_table(later=True).query("session == 'first'")),
    )
    assert found[0].estimate == pytest.approx(short[0].estimate)
    kept = line(found, "low_point_ahead_cm", "a later look", "a week later against before")
    assert kept.ci_low < 5.0 < kept.ci_high and kept.p < 0.01
    assert any(f.outcome == "thorax_flexion_deg" and f.per.startswith("a week later") for f in found)


def test_contact_in_words_becomes_the_share_of_clean_strikes() -> None:
    """Truth: made. Clean from 2 cm on, else fat; uncertain counts as missing, and is counted."""
    table = lesson_table()
    table["contact"] = np.where(table["low_point_ahead_cm"] > 3.5, "clean", "fat")
    table.loc[table.index[table["golfer"] == "G07"][:3], "contact"] = "uncertain"
    lesson = Lesson("bend", "G07", "phase", "thorax_flexion_deg", "impact", "contact")
    first = answer(table, lesson)[0]
    assert first.unit == "share of clean strikes" and 0.5 < first.estimate < 1.2
    assert first.n_swings == 47 and "3 rows with a missing value left out" in first.warnings


def test_lessons_that_cannot_be_read_are_refused() -> None:
    """Truth: made. No such golfer, one phase, too few swings of one, no such column."""
    table = lesson_table()
    with pytest.raises(BadRequest, match="there is no golfer G70"):
        answer(table, Lesson("x", "G70", "phase", "thorax_flexion_deg", "impact", "low_point_ahead_cm"))
    with pytest.raises(BadTable, match="has one phase only"):
        answer(table[table["phase"] == "before"])
    own = table[(table["golfer"] == "G07") & (table["phase"] == "after")].index
    with pytest.raises(BadTable, match="25 swings in before and 2 in after"):
        answer(table.drop(index=own[2:]))
    with pytest.raises(BadTable, match="no column fase"):
        answer(table, Lesson("x", "G07", "fase", "thorax_flexion_deg", "impact", "low_point_ahead_cm"))


def test_a_posture_that_was_not_measured_leaves_the_strike_its_answer() -> None:
    """Truth: made. Without one posture value the strike is judged and the posture's line says why."""
    table = lesson_table()
    table[POSTURE] = np.nan
    found = answer(table)
    assert np.isfinite(found[0].p) and found[0].reading.startswith("the strike changed")
    assert "0 swings in before" in " ".join(line(found, "thorax_flexion_deg", "without a trend").warnings)


def test_without_sessions_the_rows_order_stands_where_places_repeat() -> None:
    """Truth: made. Places that start again, sessions not given: the swings are taken as they stand."""
    table = lesson_table(later=True).sort_values(["golfer", "session", "order"])
    bare = answer(table.drop(columns="session"))
    assert bare[0].n_swings == 50
    assert bare[0].estimate == pytest.approx(answer(table)[0].estimate)
