"""The effect of a changed posture, its derivative, and geometry beside what happens within players."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from simulate.plain_golfer import PlainGolfer, capture, meeting_the_ball, placed, true_strike

from swinglab import answers, simulate
from swinglab.columns import error_column_name, event_column_name
from swinglab.errors import BadRequest, BadTable
from swinglab.events import find_events
from swinglab.records import Errors, Events, Hunch, Trial
from swinglab.simulate.members import MEMBERS, member_golfer
from swinglab.strike import measure_strike

TILT = "thorax_lateral_flexion_deg"
SHIFT = "pelvis_centre_toward_target_cm"
HUNCH = Hunch("tilt", "attack_angle_deg", TILT, "shaft_horizontal_down")


@pytest.fixture(scope="module")
def golfer() -> PlainGolfer:
    """A golfer of plain rotations."""
    return placed(PlainGolfer())


@pytest.fixture(scope="module")
def swing(golfer: PlainGolfer) -> tuple[Trial, Events]:
    """That golfer's swing at 240 Hz, without noise."""
    trial = capture(golfer, 240.0)
    return trial, find_events(trial, None)


def test_the_derivative_is_that_of_a_golfer_of_plain_rotations(
    golfer: PlainGolfer, swing: tuple[Trial, Events]
) -> None:
    """Truth: other (an independent kinematic golfer): attack angle and low point per 10 deg and per cm."""
    table = answers.sensitivity(*swing, postures=[TILT, SHIFT], draws=0).set_index(["posture", "outcome"])
    more, less = (meeting_the_ball(replace(golfer, tilt=golfer.tilt + d), golfer) for d in (1.0, -1.0))
    shifted = [meeting_the_ball(replace(golfer, shift=(d, 0.0, 0.0)), golfer) for d in (0.005, -0.005)]
    for posture, (a, b), times in ((TILT, (more, less), 5.0), (SHIFT, shifted, 1.0)):
        for outcome in ("attack_angle_deg", "low_point_ahead_cm", "club_path_in_to_out_deg"):
            expected = times * (true_strike(a.head)[outcome] - true_strike(b.head)[outcome])
            found = table["slope"][posture, outcome]
            assert found == pytest.approx(expected, rel=0.03, abs=0.06), (posture, outcome)
    # The path still passes the ball: the sole is as high at impact as it was.
    assert abs(table["slope"][SHIFT, "sole_at_impact_cm"]) < 0.03
    # Moving the golfer toward the target and moving the ball back in the stance are the same for the club.
    ball = answers.sensitivity(*swing, postures=["ball_ahead_of_lead_heel_cm"], draws=0).set_index("outcome")
    assert ball["slope"]["attack_angle_deg"] == pytest.approx(
        -table["slope"][SHIFT, "attack_angle_deg"], rel=0.02
    )


def test_an_effect_is_the_difference_of_two_measured_swings(swing: tuple[Trial, Events]) -> None:
    """Truth: made. The changed trial, measured by hand; and no change, no effect."""
    effect = answers.posture_effect(*swing, {TILT: 4.0})
    before, after = measure_strike(*swing), measure_strike(effect.trial, find_events(effect.trial, None))
    for name in ("attack_angle_deg", "low_point_ahead_cm"):
        assert effect.change[name] == pytest.approx(after.values[name] - before.values[name], abs=1e-12)
    assert not effect.missing
    assert not any(answers.posture_effect(*swing, {TILT: 0.0}).change.values())


def test_an_effect_that_depends_on_its_easing_is_not_reported(swing: tuple[Trial, Events]) -> None:
    """Truth: made. Top and delivery set by hand too late: one way of easing in reaches into the arc."""
    trial, events = swing
    impact = events.time_s("impact")
    late = {"top": impact - 0.03, "shaft_horizontal_down": impact + 0.06}
    wrong = find_events(trial, None, by_hand=late)
    effect = answers.posture_effect(trial, wrong, {TILT: 8.0})
    assert "assumed time course" in effect.missing["attack_angle_deg"]
    assert np.isnan(effect.change["attack_angle_deg"])
    table = answers.sensitivity(trial, wrong, postures=[TILT], draws=0).set_index("outcome")
    assert "assumed time course" in table["note"]["attack_angle_deg"] and np.isnan(
        table["slope"]["attack_angle_deg"]
    )


@pytest.mark.slow
def test_noise_and_pivot_are_in_the_standard_error(golfer: PlainGolfer) -> None:
    """Truth: other (the spread over repeated noise): for a shift, which has no pivot, within a factor of 1.6."""
    exact = capture(golfer, 240.0)
    slopes, errors = [], []
    for seed in range(8):
        noise = np.random.default_rng(seed).normal(0.0, 5e-4, exact.raw_m.shape)
        # A ball marker with noise that never leaves would be a ball that was not struck; this golfer's rests.
        noise[:, [name == "ball" for name in exact.landmarks]] = 0.0
        trial = replace(exact, raw_m=exact.raw_m + noise, noise_m=np.full(len(exact.landmarks), 5e-4))
        table = answers.sensitivity(trial, find_events(trial, None), postures=[SHIFT]).set_index("outcome")
        slopes.append(table["slope"]["attack_angle_deg"])
        errors.append(table["standard_error"]["attack_angle_deg"])
    assert np.mean(errors) == pytest.approx(np.std(slopes, ddof=1), rel=0.6)
    tilt = answers.sensitivity(exact, find_events(exact, None), postures=[TILT], draws=0).set_index("outcome")
    assert 0.05 < tilt["standard_error"]["low_point_ahead_cm"] / -tilt["slope"]["low_point_ahead_cm"] < 0.25


def _table(slopes: dict[str, float], *, seed: int = 0, lesson: float = 6.0) -> pd.DataFrame:
    """Swings of golfers with their own slopes (per unit), the second half with more tilt; no measurement error."""
    random = np.random.default_rng(seed)
    posture = event_column_name(TILT, "shaft_horizontal_down")
    rows = []
    for golfer, slope in slopes.items():
        for k in range(20):
            after = k >= 10
            x = random.normal(0.0, 2.0) + lesson * after
            rows.append({"golfer": golfer, "session": golfer, "order": k + 1, "phase": "after" if after else "before",
                         posture: 15.0 + x, error_column_name(posture): 0.0,
                         "attack_angle_deg": -4.0 + slope * x + random.normal(0.0, 0.2),
                         error_column_name("attack_angle_deg"): 0.0})  # fmt: skip
    return pd.DataFrame(rows)


def test_difference_between_geometry_and_players_is_what_was_put_in() -> None:
    """Truth: made. Players' slope 1.2, geometry 2.0 per 10 deg; intervals of 8 tables cover -0.8 in 6 or more."""
    golfers = [f"G{k:02d}" for k in range(1, 11)]
    covered = 0
    for seed in range(8):
        random = np.random.default_rng([7, seed])
        table = _table({g: float(random.normal(0.12, 0.02)) for g in golfers}, seed=seed)
        slopes = pd.DataFrame(
            {"golfer": golfers, "geometric": random.normal(2.0, 0.1, 10), "geometric_se": 0.1, "n_swings": 2,
             "note": ""}
        )  # fmt: skip
        found = answers.compare_geometry(table, slopes, HUNCH, errors=Errors(0.0, 0.0))
        covered += found.difference.ci_low <= -0.8 <= found.difference.ci_high
        assert found.difference.estimate == pytest.approx(found.players.estimate - found.geometric.estimate)
    assert covered >= 6
    # The players' own slope predicts their changes better than geometry, and either better than no change.
    error = found.prediction_error
    assert error["players"] < error["geometry"] < error["no_change"]
    assert len(found.held_out) == 10 and len(found.by_golfer) == 10


def test_few_geometric_slopes_widen_the_interval_of_the_difference() -> None:
    """Truth: other. Degrees of freedom by Welch and Satterthwaite; those of the known error of the pivot are infinite.

    They were those of the players' slope alone: with three scattered slopes, 95 % limits covered 0 in 84 % of studies.
    """
    golfers = [f"G{k:02d}" for k in range(1, 9)]
    table = _table(dict.fromkeys(golfers, 0.12))
    slopes = pd.DataFrame({"golfer": golfers[:3], "geometric": [0.2, 1.1, 2.6], "geometric_se": 0.0, "n_swings": 2,
                           "note": ""})  # fmt: skip
    found = answers.compare_geometry(table, slopes, HUNCH, errors=Errors(0.0, 0.0))
    own, players = found.geometric.standard_error, found.players
    by_hand = (own**2 + players.standard_error**2) ** 2 / (
        own**4 / 2 + players.standard_error**4 / players.df
    )
    assert found.difference.df == pytest.approx(by_hand) == pytest.approx(2.0, rel=0.05)
    known = answers.compare_geometry(table, slopes.assign(geometric_se=20.0), HUNCH, errors=Errors(0.0, 0.0))
    assert known.difference.df > 100


def test_golfers_own_lines_are_what_was_put_in() -> None:
    """Truth: made. Straight lines, one golfer with too few swings, and a condition on the swings."""
    posture = event_column_name(TILT, "shaft_horizontal_down")
    table = pd.DataFrame({"golfer": ["A"] * 5 + ["B"] * 4 + ["C"] * 3,
                          "club": ["7 iron"] * 4 + ["driver"] + ["7 iron"] * 7,
                          posture: [10.0, 12, 14, 16, 40, 20, 21, 22, 25, 1, 2, 3]})  # fmt: skip
    table["attack_angle_deg"] = np.where(
        table["golfer"] == "A", -5 + 0.25 * table[posture], 2 - 0.5 * table[posture]
    )
    lines = answers.golfer_lines(table, replace(HUNCH, where={"club": ["7 iron"]})).set_index("golfer")
    assert list(lines.index) == ["A", "B"]
    assert lines["slope"].to_list() == pytest.approx([0.25, -0.5])
    assert lines["posture"].to_list() == pytest.approx([13.0, 22.0])
    assert lines["outcome"].to_list() == pytest.approx([-1.75, -9.0])
    assert lines["half_range"].to_list() == [3.0, 2.5]


def test_a_change_is_predicted_without_the_golfer_it_is_about() -> None:
    """Truth: made. One golfer's slope is the others' reversed: the prediction has the others' sign."""
    table = _table({f"G{k:02d}": (-0.15 if k == 1 else 0.15) for k in range(1, 9)})
    slopes = pd.DataFrame({"golfer": [f"G{k:02d}" for k in range(1, 9)], "geometric": 1.5, "geometric_se": 0.1,
                           "n_swings": 1, "note": ""})  # fmt: skip
    held = answers.compare_geometry(table, slopes, HUNCH, errors=Errors(0.0, 0.0)).held_out.set_index(
        "golfer"
    )
    one = held.loc["G01"]
    assert one["outcome_change"] < -0.5
    assert one["players"] == pytest.approx(0.15 * one["posture_change"], rel=0.1)
    assert one["geometry"] == pytest.approx(0.15 * one["posture_change"], rel=1e-9)
    assert one["no_change"] == 0.0


@pytest.mark.slow
def test_the_demos_geometry_agrees_with_its_simulation() -> None:
    """Truth: made. Hands that compensate fully in the simulation: its slope within 0.3 deg per 10 deg of tilt."""
    for member in MEMBERS[:4]:
        whole = member_golfer(member) | {"compensation": simulate.Compensation(1.0, 1.0)}
        golfer = simulate.make_golfer(**whole)
        trial = simulate.make_swing(golfer, seed=1, rate_hz=240.0).trial()
        slopes = answers.geometric_slopes(
            {member.name: [(trial, find_events(trial, None))]}, TILT, "attack_angle_deg"
        )
        truth = 10 * simulate.true_sensitivity(golfer, TILT)["attack_angle_deg"]
        assert slopes["geometric"][0] == pytest.approx(truth, abs=0.3), member.name


def test_what_geometry_cannot_answer_is_refused() -> None:
    """Truth: made. Another event, another posture, too few golfers."""
    table = _table({f"G{k:02d}": 0.15 for k in range(1, 9)})
    slopes = pd.DataFrame(
        {"golfer": ["G01"], "geometric": 1.5, "geometric_se": 0.1, "n_swings": 1, "note": ""}
    )
    with pytest.raises(BadRequest, match="only from shaft_45_down to impact"):
        answers.compare_geometry(table, slopes, replace(HUNCH, event="top"), errors=Errors())
    with pytest.raises(
        BadTable, match=r"needs 3 or more golfers with a slope from geometry, but the table has \d"
    ):
        answers.compare_geometry(table, slopes, HUNCH, errors=Errors())
    with pytest.raises(BadRequest, match="cannot be computed from geometry"):
        answers.geometric_slopes({}, "neck_flexion_deg", "attack_angle_deg")
