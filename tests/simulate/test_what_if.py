"""A measured swing with one posture changed, against closed forms, a golfer of plain rotations, the demo's truth."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from scipy.optimize import brentq
from simulate.plain_golfer import BALL, PlainGolfer, capture, meeting_the_ball, placed, true_strike
from strike.arcs import make_events

from swinglab import simulate
from swinglab.conventions import BALL_RADIUS_M
from swinglab.errors import BadRequest, MissingInput
from swinglab.events import find_events
from swinglab.records import Events, Strike, Trial
from swinglab.segments import measure_posture
from swinglab.shipped import shipped_folder
from swinglab.simulate import EASINGS, PostureChange, what_if
from swinglab.simulate.members import MEMBERS, member_golfer
from swinglab.strike import measure_strike

TILT = "thorax_lateral_flexion_deg"
PELVIS = ("pelvis_centre_toward_target_cm", "pelvis_centre_up_cm", "pelvis_centre_toward_ball_cm")


@pytest.fixture(scope="module")
def golfer() -> PlainGolfer:
    """A golfer of plain rotations who meets the ball."""
    return placed(PlainGolfer())


@pytest.fixture(scope="module")
def swing(golfer: PlainGolfer) -> tuple[Trial, Events]:
    """That golfer's swing, captured without noise, the clubhead slowed by the ball."""
    trial = capture(golfer, ball_takes=0.2)
    return trial, find_events(trial, None)


def strike_of(trial: Trial) -> Strike:
    """By the ordinary stages."""
    return measure_strike(trial, find_events(trial, None))


def changed(golfer: PlainGolfer, quantity: str, amount: float) -> PlainGolfer:
    """The same golfer with one posture changed, before arm and club answer."""
    angles = {TILT: "tilt", "thorax_flexion_deg": "flexion", "thorax_axial_rotation_deg": "turn",
              "lead_elbow_flexion_deg": "bend"}  # fmt: skip
    if quantity in angles:
        return replace(golfer, **{angles[quantity]: getattr(golfer, angles[quantity]) + amount})
    if quantity in PELVIS:
        return replace(golfer, shift=tuple(amount / 100 * np.eye(3)[PELVIS.index(quantity)]))
    axis = 0 if quantity == "ball_ahead_of_lead_heel_cm" else 2
    return replace(golfer, place=tuple(np.array(golfer.place) - amount / 100 * np.eye(3)[axis]))


@pytest.mark.parametrize(
    ("quantity", "amount"),
    [(TILT, 5.0), (TILT, -5.0), ("thorax_flexion_deg", 5.0), ("thorax_axial_rotation_deg", 6.0),
     ("lead_elbow_flexion_deg", 10.0), (PELVIS[0], 4.0), (PELVIS[1], -2.0), (PELVIS[2], 2.0),
     ("ball_ahead_of_lead_heel_cm", 3.0), ("ball_distance_cm", -2.0)],
)  # fmt: skip
def test_the_default_agrees_with_a_golfer_of_plain_rotations(
    golfer: PlainGolfer, swing: tuple[Trial, Events], quantity: str, amount: float
) -> None:
    """Truth: other (an independent kinematic golfer, its strike without frames): within 0.03 deg and 0.04 cm."""
    trial, events = swing
    after = strike_of(what_if(trial, events, {quantity: amount}))
    before = measure_strike(trial, events)
    expected = true_strike(meeting_the_ball(changed(golfer, quantity, amount), golfer).head)
    for name, value in true_strike(golfer.head).items():
        found = after.values[name] - before.values[name]
        assert found == pytest.approx(expected[name] - value, abs=0.04 if name.endswith("cm") else 0.03), name


def test_where_nothing_compensates_a_circle_turns_about_the_pelvis() -> None:
    """Truth: made (closed form). Centre and normal of a circle turn about the forward axis through the pivot."""
    golfer = PlainGolfer(still=True)
    still = capture(golfer, 500.0)
    normal = np.array([0.03, np.cos(np.radians(58)), np.sin(np.radians(58))])
    normal /= np.linalg.norm(normal)
    down = -(np.array([0.0, 1.0, 0.0]) - normal[1] * normal) / np.hypot(normal[0], normal[2])
    along = np.cross(normal, down)
    along *= np.sign(along[0])
    radius, start = 1.4, np.radians(-4.5)
    spoke = np.cos(start) * down + np.sin(start) * along
    way = np.cos(start) * along - np.sin(start) * down
    centre = BALL - BALL_RADIUS_M * way - radius * spoke
    time = still.time_s - 1.55
    angle = start + 26.0 * time
    points = still.points_m.copy()
    head = centre + radius * (np.cos(angle)[:, None] * down + np.sin(angle)[:, None] * along)
    points[:, still.landmarks.index("clubhead")] = np.where(
        (time > -0.1)[:, None], head, head[time > -0.1][0]
    )
    trial = replace(still, points_m=points, raw_m=points.copy())
    events = make_events(500.0, takeaway=0.4, top=1.27, shaft_horizontal_down=1.49, impact=(1.55, 1e-4))
    tilt = 2.0
    found = measure_strike(what_if(trial, events, PostureChange({TILT: tilt}, "nothing_compensates")), events)
    a = np.radians(tilt)
    # More tilt lowers the trail side (-X): a turn about the forward axis, +Z here, that takes up toward -X.
    turn = np.array([[np.cos(a), -np.sin(a), 0], [np.sin(a), np.cos(a), 0], [0, 0, 1.0]])
    pivot = golfer.pivot()
    middle, axis = pivot + turn @ (centre - pivot), turn @ normal
    lowest = middle - radius * (np.array([0, 1.0, 0]) - axis[1] * axis) / np.hypot(axis[0], axis[2])
    assert found.values["low_point_ahead_cm"] == pytest.approx(100 * lowest[0], abs=0.1)
    inclination = np.degrees(np.arccos(axis[1]))
    assert found.values["arc_plane_inclination_deg"] == pytest.approx(inclination, abs=0.05)
    heading = np.degrees(np.arctan2(-axis[0], axis[2]))
    assert found.values["arc_plane_direction_in_to_out_deg"] == pytest.approx(heading, abs=0.05)

    def course(u: float) -> tuple[np.ndarray, np.ndarray]:
        d, f = turn @ down, turn @ along
        return middle + radius * (np.cos(u) * d + np.sin(u) * f), np.cos(u) * f - np.sin(u) * d

    contact = brentq(lambda u: float((BALL - course(u)[0]) @ course(u)[1]) - BALL_RADIUS_M, -0.4, 0.3)
    attack = np.degrees(np.arcsin(course(contact)[1][1]))
    assert found.values["attack_angle_deg"] == pytest.approx(attack, abs=0.05)


def test_no_change_returns_the_same_swing_to_the_last_digit(swing: tuple[Trial, Events]) -> None:
    """Truth: made. For every variant and easing; and before takeaway whatever the change is."""
    trial, events = swing
    for easing in EASINGS:
        for variant in ("hands_on_club", "nothing_compensates", "hands_keep_path"):
            same = what_if(trial, events, PostureChange({TILT: 0.0, PELVIS[0]: 0.0}, variant, easing))
            assert np.array_equal(same.points_m, trial.points_m)
            assert np.array_equal(same.raw_m, trial.raw_m)
            tiny = what_if(trial, events, PostureChange({TILT: 1e-9}, variant, easing))
            assert np.abs(tiny.raw_m - trial.raw_m).max() < 1e-9
        still = trial.time_s < events.time_s("takeaway")
        moved = what_if(trial, events, PostureChange({TILT: 8.0}, easing=easing))
        assert np.array_equal(moved.raw_m[still], trial.raw_m[still])
        assert np.abs(moved.raw_m - trial.raw_m).max() > 0.02


def test_ways_of_easing_in_give_one_answer(swing: tuple[Trial, Events]) -> None:
    """Truth: made. What is constant from before delivery until after impact does not depend on how it came in."""
    trial, events = swing
    attack = [
        strike_of(what_if(trial, events, PostureChange({TILT: 6.0}, easing=e))).values["attack_angle_deg"]
        for e in EASINGS
    ]
    assert np.ptp(attack) < 0.01


@pytest.mark.parametrize("variant", ["hands_on_club", "nothing_compensates", "hands_keep_path"])
@pytest.mark.parametrize("quantity", [TILT, "thorax_flexion_deg", "thorax_axial_rotation_deg"])
def test_the_measured_posture_changes_by_what_was_asked(
    swing: tuple[Trial, Events], variant: str, quantity: str
) -> None:
    """Truth: other (the kit's own measurement of posture): one angle by 5 deg, two and the feet not at all."""
    trial, events = swing
    after = what_if(trial, events, PostureChange({quantity: 5.0}, variant))
    whole = (trial.time_s > events.time_s("shaft_horizontal_down")) & (trial.time_s < events.time_s("impact"))
    before, now = measure_posture(trial), measure_posture(after)
    for name in (TILT, "thorax_flexion_deg", "thorax_axial_rotation_deg"):
        moved = (now.curve(name) - before.curve(name))[whole]
        assert moved == pytest.approx(5.0 if name == quantity else 0.0, abs=1e-6), name
    for name in ("heel_left", "heel_right", "ankle_left", "ankle_right", "asis_left", "ball"):
        assert np.array_equal(after.point(name), trial.point(name)), name


def test_segments_keep_their_lengths_and_hands_stay_on_the_club(swing: tuple[Trial, Events]) -> None:
    """Truth: made. Thigh, shank, upper arm, forearm and club as they were; both wrists where they held the club."""
    trial, events = swing
    after = what_if(trial, events, {TILT: 6.0, PELVIS[0]: 3.0, PELVIS[1]: -2.0})

    def lengths(t: Trial) -> np.ndarray:
        hip = {s: t.point(f"hip_{s}") for s in ("left", "right")}
        drop = 0.17 * np.linalg.norm(t.point("acromion_right") - t.point("acromion_left"), axis=1)
        up = np.array(measure_posture(t).rotations["thorax"][:, :, 1])
        shoulder = t.point("acromion_left") - drop[:, None] * up
        wrist = (t.point("wrist_radial_left") + t.point("wrist_ulnar_left")) / 2
        pairs = [
            *((hip[s], t.point(f"knee_{s}")) for s in hip),
            *((t.point(f"knee_{s}"), t.point(f"ankle_{s}")) for s in hip),
            (shoulder, t.point("elbow_left")), (t.point("elbow_left"), wrist),
            (wrist, t.point("clubhead")), (t.point("wrist_ulnar_right"), t.point("clubhead")),
            (t.point("club_butt"), t.point("clubhead")),
        ]  # fmt: skip
        return np.array([np.linalg.norm(a - b, axis=1) for a, b in pairs])

    np.testing.assert_allclose(lengths(after), lengths(trial), atol=1e-9)


def test_missing_samples_stay_missing_and_filled_ones_move(swing: tuple[Trial, Events]) -> None:
    """Truth: made. A gap of the unfiltered clubhead stays a gap; the filled points move as the others do."""
    trial, events = swing
    raw = trial.raw_m.copy()
    gap = slice(700, 706)
    raw[gap, trial.landmarks.index("clubhead")] = np.nan
    after = what_if(replace(trial, raw_m=raw), events, {TILT: 5.0})
    assert np.isnan(after.point("clubhead", raw=True)[gap]).all()
    whole = what_if(trial, events, {TILT: 5.0})
    np.testing.assert_allclose(after.points_m, whole.points_m, atol=1e-12)


def _own_share(name: str) -> tuple[Trial, Events, simulate.OwnShare]:
    """A demo member's habitual swing, and what hands and club did in swings with more and less tilt."""
    member = next(m for m in MEMBERS if m.name == name)
    golfer = simulate.make_golfer(**member_golfer(member))
    tilts = (-2.0, -1.0, 0.0, 1.0, 2.0)
    trials = [
        simulate.make_swing(golfer, {TILT: t}, seed=k, rate_hz=240.0).trial() for k, t in enumerate(tilts)
    ]
    swings = [(trial, find_events(trial, None)) for trial in trials]
    return *swings[2], simulate.estimate_own_share(TILT, tilts, swings)


@pytest.mark.parametrize(
    "name",
    [pytest.param(m.name, marks=() if m.name in ("G01", "G09") else pytest.mark.slow) for m in MEMBERS],
)
def test_the_own_share_agrees_with_the_demos_truth(name: str) -> None:
    """Truth: made (data_demo/truth/truth_sensitivity.csv): for 3 deg of tilt within 0.1 deg and 0.2 cm."""
    trial, events, share = _own_share(name)
    after = strike_of(what_if(trial, events, PostureChange({TILT: 3.0}, "own_share", share=share)))
    before = measure_strike(trial, events)
    table = pd.read_csv(shipped_folder("data_demo") / "truth" / "truth_sensitivity.csv")
    slopes = table[(table["golfer"] == name) & (table["posture"] == TILT)].set_index("outcome")["slope"]
    for outcome, within in (
        ("attack_angle_deg", 0.1),
        ("low_point_ahead_cm", 0.2),
        ("low_point_height_cm", 0.2),
    ):
        moved = after.values[outcome] - before.values[outcome]
        assert moved == pytest.approx(3.0 * slopes[outcome], abs=within), outcome


def test_what_cannot_be_reached_is_reported(swing: tuple[Trial, Events]) -> None:
    """Truth: made. A pelvis 15 cm higher: the ball is out of reach and the legs are too short."""
    after = what_if(*swing, {PELVIS[1]: 15.0})
    assert "out of reach" in after.warnings[0]
    assert "lead leg" in " ".join(after.warnings) and "trail leg" in " ".join(after.warnings)


def test_bad_requests_say_what_to_do(swing: tuple[Trial, Events]) -> None:
    """Truth: made. Names, sizes, events, shares and landmarks."""
    trial, events = swing
    for amounts, kwargs, words in (
        ({"thorax_lateral_flexon_deg": 1.0}, {}, "thorax_lateral_flexion_deg"),
        ({TILT: 60.0}, {}, "too large"),
        ({TILT: float("nan")}, {}, "too large"),
        ({TILT: 1.0}, {"variant": "hands_on_clubs"}, "hands_on_club"),
        ({TILT: 1.0}, {"easing": "sudden"}, "backswing"),
        ({TILT: 1.0}, {"variant": "own_share"}, "share"),
        ({"lead_elbow_flexion_deg": 5.0}, {"variant": "hands_keep_path"}, "another variant"),
    ):
        with pytest.raises(BadRequest, match=words):
            PostureChange(amounts, **kwargs)
    unfound = make_events(500.0, top=1.27, impact=1.55)
    with pytest.raises(BadRequest, match="shaft_horizontal_down"):
        what_if(trial, unfound, {TILT: 1.0})
    kept = [k for k, n in enumerate(trial.landmarks) if not n.startswith("wrist")]
    bare = replace(
        trial, landmarks=tuple(trial.landmarks[k] for k in kept), points_m=trial.points_m[:, kept],
        raw_m=trial.raw_m[:, kept], filled=trial.filled[:, kept], noise_m=trial.noise_m[kept],
    )  # fmt: skip
    with pytest.raises(MissingInput, match="wrist"):
        what_if(bare, events, {TILT: 1.0})
    with pytest.raises(BadRequest, match="too few"):
        simulate.estimate_own_share(TILT, [1.0, 2.0], [swing, swing])
