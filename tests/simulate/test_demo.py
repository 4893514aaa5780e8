"""The demo study as it stands in data_demo: its size, its known answers, and that it is what `simulate` makes."""

import tomllib
import warnings
from pathlib import Path

import c3d
import numpy as np
import pandas as pd
import pytest

from swinglab.simulate import demo, draw_offsets, make_swing
from swinglab.simulate.members import MEMBERS, member_variation

FOLDER = Path(__file__).parents[2] / "data_demo"
#: What a run on the demo leaves there.
RUNS = {"results", "notebooks", ".swinglab"}
TILT, DELIVERY = "thorax_lateral_flexion_deg", "shaft_horizontal_down"


@pytest.fixture(scope="module")
def swings():
    table = pd.read_csv(FOLDER / "swings.csv", dtype={"phase": str}, keep_default_na=False)
    return table.merge(pd.read_csv(FOLDER / "golfers.csv"), on="golfer")


@pytest.fixture(scope="module")
def truth(swings):
    posture = pd.read_csv(FOLDER / "truth" / "truth_posture.csv")
    wide = posture.pivot_table(index="swing", columns=["quantity", "event"], values="value")
    wide.columns = [f"{q} at {e}" for q, e in wide.columns]
    strike = pd.read_csv(FOLDER / "truth" / "truth_strike.csv")
    return swings.merge(strike, on="swing").merge(wide.reset_index(), on="swing")


def test_the_demo_is_small_enough_and_whole(swings):
    """made: 15 MB at most, every capture there, at most 34 landmarks at 200 Hz."""
    files = [
        path for path in FOLDER.rglob("*") if path.is_file() and not RUNS & {*path.relative_to(FOLDER).parts}
    ]
    assert sum(path.stat().st_size for path in files) <= 15_000_000
    assert {path.name for path in (FOLDER / "captures").iterdir()} == set(swings["capture"])
    with (FOLDER / "captures" / "G01_nov_01.c3d").open("rb") as stream, warnings.catch_warnings():
        warnings.filterwarnings("ignore", message="No analog data")
        reader = c3d.Reader(stream)
        assert len(reader.point_labels) <= 34 and reader.point_rate == 200 and reader.point_scale >= 0.05


def test_two_groups_both_hands_and_swings_enough(swings):
    """made: at least ten golfers in two groups, both hands, eight with six swings or more."""
    golfers = swings.groupby("golfer").agg({"swing": "size", "group": "first", "hand": "first"})
    assert len(golfers) == len(MEMBERS) >= 10
    assert set(golfers["group"]) == {"skilled", "learners"} and set(golfers["hand"]) == {"right", "left"}
    assert (golfers["swing"] >= 6).sum() >= 8


def test_the_questions_have_the_answers_that_were_put_in(truth):
    """made: within positive, between negative, a null, a group difference, a lesson of 2 SD, one that drifts."""
    x, y = f"{TILT} at {DELIVERY}", "attack_angle_deg"
    own = truth[truth["phase"].isin(["", "before"]) & (truth["golfer"] != "G09")]
    within = own[[x, y]] - own.groupby("golfer")[[x, y]].transform("mean")
    assert 0.1 < np.polyfit(within[x], within[y], 1)[0] < 0.3
    means = own.groupby("golfer")[[x, y]].mean()
    assert np.polyfit(means[x], means[y], 1)[0] < -0.15
    null = "pelvis_axial_rotation_deg at lead_arm_horizontal_back"
    back = own[null] - own.groupby("golfer")[null].transform("mean")
    assert abs(np.polyfit(back, within[y], 1)[0]) < 0.1
    bend = "thorax_flexion_deg at trail_arm_horizontal_through"
    groups = own.groupby(["group", "golfer"])[bend].mean().groupby("group").mean()
    assert groups["learners"] - groups["skilled"] > 6
    taught = truth[truth["golfer"] == "G07"].groupby("phase")[x]
    assert taught.size()[["before", "after"]].tolist() == [40, 40]
    step = taught.mean()["after"] - taught.mean()["before"]
    assert step > 2 * taught.std()["before"]
    drifting = truth[truth["golfer"] == "G09"]
    slope = np.polyfit(drifting["order"], drifting[x], 1)[0]
    assert slope * len(drifting) == pytest.approx(11, abs=5)
    assert set(truth["contact"]) == {"fat", "clean", "thin"}
    assert (truth["contact"] == truth["measured_contact"]).all()


def test_the_settings_name_what_is_there(swings):
    """made: the questions' golfers, columns and groups exist."""
    settings = tomllib.loads((FOLDER / "study.toml").read_text(encoding="utf-8"))
    assert "simulated" in settings["title"] and settings["club"]["soled_at_address"]
    assert {h["level"] for h in settings["hunch"]} == {"within", "between"} and len(settings["hunch"]) == 3
    assert {lesson["golfer"] for lesson in settings["lesson"]} <= set(swings["golfer"])
    assert all(
        "smallest_effect" in question
        for kind in ("hunch", "comparison", "lesson")
        for question in settings[kind]
    )
    assert settings["reference"]["group"] in set(swings["group"])


def test_simulate_makes_the_demo_that_is_kept():
    """kept: a member's captures are made again from the seed, to one stored unit."""
    place = [member.name for member in MEMBERS].index("G02")
    source = np.random.SeedSequence(demo.SEED).spawn(len(MEMBERS))[place]
    made = demo.make_member_swings(MEMBERS[place], source)
    for item in made[:2]:
        with (FOLDER / "captures" / f"{item.swing.name}.c3d").open("rb") as stream, warnings.catch_warnings():
            warnings.filterwarnings("ignore", message="No analog data")
            reader = c3d.Reader(stream)
            frames = np.array([points for _, points, _ in reader.read_frames()])
            labels, step = [label.strip() for label in reader.point_labels], reader.point_scale
        for name in ("c7", "clubhead", "asis_left"):
            expected = demo.LAB.from_study(item.swing.points[name], "left")
            label = "asis_right" if name == "asis_left" else name  # a left-hander's own sides
            kept = frames[:, labels.index(label), :]
            there = kept[:, 3] >= 0
            assert there.any() and np.abs(kept[there, :3] - expected[there]).max() <= 1.01 * step


@pytest.mark.parametrize("name", ["G06", "G08"])
def test_the_tallest_and_the_slowest_member_keep_their_limbs(name):
    """made: with a varied swing every limb is as long as the body says, knees and arms in reach."""
    member = next(m for m in MEMBERS if m.name == name)
    golfer = demo.make_golfer_of(member)
    offsets = draw_offsets(np.random.default_rng(3), 2, member_variation(member))[1]
    points, body = make_swing(golfer, offsets, rate_hz=60).exact, golfer.body
    for side in ("left", "right"):
        for a, b, length in (("shoulder", "elbow", body.upper_arm), ("elbow", "wrist", body.forearm),
                             ("hip", "knee", body.thigh), ("knee", "ankle", body.shank)):  # fmt: skip
            found = np.linalg.norm(points[f"{a}_{side}"] - points[f"{b}_{side}"], axis=1)
            assert found == pytest.approx(length, abs=1e-6), (side, a, b)
