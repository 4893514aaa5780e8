"""A lesson over the season: which swings belong to a look, what changed against before, how many swings show it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from made_questions import BEND, lesson_table
from scipy import optimize

from swinglab.answers.lesson_looks import LOOKS, look_back, rows_by_look, swings_to_read
from swinglab.errors import BadRequest
from swinglab.records import Errors, Lesson
from swinglab.report.season import seasons_of

LESSON = Lesson(
    "bend", "G07", "phase", "thorax_flexion_deg", "impact", "low_point_ahead_cm", smallest_effect=1.0,
    expect="positive", target=(0.0, 4.0), planned_swings=25,
)  # fmt: skip


def season() -> pd.DataFrame:
    """Before, drill, after, a week later with the cue for the first five, then ten swings with the driver."""
    table = lesson_table(later=True).assign(club="7 iron", cue="", seen="", swing="s")
    own = table[table["golfer"] == "G07"].sort_values(["session", "order"])
    later = own["phase"] == "a week later"
    own.loc[later & (own["order"] <= 5), "cue"] = "hold it"
    drill = (
        own[own["phase"] == "before"].head(8).assign(phase="drill", order=lambda rows: rows["order"] + 0.5)
    )
    driver = (
        own[later].head(10).assign(club="driver", phase="other club", order=lambda rows: rows["order"] + 50)
    )
    return pd.concat([own, drill, driver, table[table["golfer"] == "G08"]], ignore_index=True)


def test_each_look_holds_its_own_swings() -> None:
    """Truth: made. Drill in none, cued swings not among those kept, the driver apart; means by pandas alone."""
    table = season()
    looks = {look.name: look for look in look_back(table, LESSON, errors=Errors())}
    assert [looks[name].swings for name in LOOKS] == [25, 25, 10, 10]
    own = table[(table["golfer"] == "G07") & (table["club"] == "7 iron")]
    kept = own[(own["phase"] == "a week later") & (own["cue"] == "")]
    found = looks[LOOKS[2]]
    assert found.sessions == ("second",) and found.cued == 0
    assert (found.mean, found.sd) == pytest.approx((kept[BEND].mean(), kept[BEND].std()))
    assert found.within == int(kept[BEND].between(0.0, 4.0).sum())
    assert found.strike == pytest.approx(kept["low_point_ahead_cm"].mean())
    assert "have no club and shot in common" in looks[LOOKS[3]].posture_change.why
    with pytest.raises(BadRequest, match="no golfer G70"):
        rows_by_look(table, replace(LESSON, golfer="G70"))


@pytest.mark.parametrize("blank", ["", None])
def test_a_blank_club_is_no_other_club(blank: str | None) -> None:
    """Truth: made. Blank after: 25 swings were "kept with another club". Blank everywhere: an IndexError."""
    table = lesson_table().assign(club="7 iron")
    table.loc[table["phase"] == "after", "club"] = blank
    assert [len(rows) for rows in rows_by_look(table, LESSON).values()] == [25, 25, 0, 0]
    table["club"] = blank
    assert [len(rows) for rows in rows_by_look(table, LESSON).values()] == [25, 25, 0, 0]


def test_a_change_is_the_step_that_an_explicit_likelihood_gives() -> None:
    """Truth: other. REML of two means with AR(1) errors, its covariance matrix written out and inverted."""
    table = season()
    rows = table[(table["golfer"] == "G07") & table["phase"].isin(["before", "after"])].sort_values("order")
    y = rows[BEND].to_numpy()
    x = np.column_stack([np.ones(len(y)), (rows["phase"] == "after").to_numpy(float)])
    apart = np.abs(np.subtract.outer(rows["order"].to_numpy(), rows["order"].to_numpy()))

    def fit(phi: float) -> tuple[float, float]:
        inside = np.linalg.inv(np.where(apart == 0, 1.0, np.sign(phi) ** apart * np.abs(phi) ** apart))
        square = x.T @ inside @ x
        b = np.linalg.solve(square, x.T @ inside @ y)
        rest = y - x @ b
        variance = rest @ inside @ rest / (len(y) - 2)
        logs = (len(y) - 2) * np.log(variance) - np.linalg.slogdet(inside)[1] + np.linalg.slogdet(square)[1]
        return float(logs), float(b[1])

    best = optimize.minimize_scalar(lambda phi: fit(phi)[0], bounds=(-0.9, 0.9), method="bounded")
    change = look_back(table, LESSON, errors=Errors())[1].posture_change
    assert change.estimate == pytest.approx(fit(best.x)[1], rel=1e-4)
    assert change.low < change.estimate < change.high


def test_the_error_of_placement_is_in_the_posture_of_another_day_alone() -> None:
    """Truth: made. At 50 deg it is nearly all of the error: 1.96 times the square root of 2 times 50."""
    plain, wide = (look_back(season(), LESSON, errors=Errors(placement_deg=deg)) for deg in (None, 50.0))
    half = (wide[2].posture_change.high - wide[2].posture_change.low) / 2
    assert half == pytest.approx(1.96 * np.sqrt(2) * 50, rel=0.02)
    assert wide[1].posture_change == plain[1].posture_change
    assert wide[2].strike_change == plain[2].strike_change


@pytest.mark.parametrize(("phi", "placement"), [(0.0, 0.0), (0.4, 0.0), (0.0, 0.2)])
def test_the_planned_swings_show_the_change_as_often_as_promised(phi: float, placement: float) -> None:
    """Truth: made. 4,000 simulated pairs of days with the change that is planned for; the test of known variance."""
    spread, made, effect = 2.0, 60, 1.6
    number = int(swings_to_read(spread, made, effect, autocorrelation=phi, placement_deg=placement))
    assert number > 10
    rng = np.random.default_rng(3)

    def means(count: int) -> np.ndarray:
        noise = rng.normal(size=(4000, count))
        for i in range(1, count):
            noise[:, i] = phi * noise[:, i - 1] + np.sqrt(1 - phi**2) * noise[:, i]
        return spread * noise.mean(axis=1) + placement * rng.normal(size=4000)

    seen = means(number) + effect - means(made)
    error = np.std(means(number) - means(made))
    assert np.mean(seen > 1.96 * error) == pytest.approx(0.85, abs=0.03)


def test_the_season_in_words() -> None:
    """Truth: made. Plan, what was looked at with its marks, and what is missing."""
    table = season()
    mishit = table.index[(table["golfer"] == "G07") & (table["phase"] == "after")][0]
    table.loc[mishit, "seen"] = "mishit"
    (one,) = seasons_of(table, [LESSON], (), golfer="G07", errors=Errors(placement_deg=1.0))
    assert "25 swings after the lesson, aim 0.0 to 4.0 deg" in one.planned and "rise" in one.planned
    assert "before: 25 swings in first" in one.made and "These include 1 mishit." in one.made
    assert list(one.table["when"]) == list(LOOKS) and one.table.iloc[2]["in the aim"].endswith("of 10")
    assert one.next_session == (
        "All planned sessions have been measured. Plan the next lesson, or measure again in some weeks.",
    )
    first = table[(table["session"] == "first") & (table["order"] <= 40)]
    (short,) = seasons_of(first, [LESSON], (), golfer="G07", errors=Errors())
    assert short.next_session[0].startswith("10 more swings after the lesson")
    assert "Another day, without the cue" in short.next_session[1]
    assert "Another club: at least 10 swings" in short.next_session[2]
    assert seasons_of(table, [LESSON], (), golfer="G08", errors=Errors()) == []


@pytest.mark.parametrize("blank", ["", None, "drill"])
def test_a_season_without_phases_has_the_reason_as_its_text(blank: str | None) -> None:
    """Truth: made. The phase of every swing left blank: an IndexError before."""
    table = lesson_table().assign(phase=blank)
    (one,) = seasons_of(table, [LESSON], (), golfer="G07", errors=Errors())
    assert "no swing of golfer G07 has a phase in the column phase" in one.made


def next_day(table: pd.DataFrame, lesson: Lesson, **errors: float) -> str:
    """What the season says about another day, when only the first day was measured."""
    (one,) = seasons_of(
        table[table["session"] == "first"], [lesson], (), golfer="G07", errors=Errors(**errors)
    )
    (said,) = [text for text in one.next_session if text.startswith("Another day")]
    return said


def test_a_placement_error_in_degrees_is_not_used_for_a_posture_in_cm() -> None:
    """Truth: made. 40 deg were taken as 40 cm, and no number of swings was enough."""
    table = lesson_table().assign(elbow_spacing_at_impact_cm=lambda rows: rows[BEND])
    lesson = replace(LESSON, of="elbow_spacing_cm")
    said = next_day(table, lesson, placement_deg=40.0)
    assert said == next_day(table, lesson) and "10 swings show a change of" in said
    assert "with a placement error of 40 deg" in next_day(table, LESSON, placement_deg=40.0)


def test_an_aim_reached_before_the_lesson_gives_no_change_to_plan_for() -> None:
    """Truth: made. Mean 10, aim 8 to 12: "a change of 0.0 deg may not be detectable" before."""
    said = next_day(lesson_table(), replace(LESSON, target=(8.0, 12.0)), placement_deg=1.0)
    assert "at least 10 swings" in said and "within the aim already" in said


def test_few_swings_before_are_named_as_the_reason() -> None:
    """Truth: made. A change of 0.2 deg, no placement error: more swings before, not other markers, are advised."""
    edge = lesson_table().query("golfer == 'G07' and phase == 'before'")[BEND].mean() - 0.2
    said = next_day(lesson_table(), replace(LESSON, target=(0.0, edge)))
    assert "with 25 swings before. Record more swings before the next lesson." in said
