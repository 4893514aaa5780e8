"""Made studies as folders: what stands in them, in which axes, how finely, and that one seed gives one study."""

import hashlib
import tomllib
import warnings

import c3d
import numpy as np
import pandas as pd
import pytest
from simulated_studies import make_study

from swinglab import simulate
from swinglab.columns import STRIKES
from swinglab.conventions import EVENTS, axis_vector
from swinglab.errors import BadRequest
from swinglab.simulate.demo import make_demo


@pytest.fixture(scope="module")
def golfers():
    return [simulate.make_golfer(name="G01"), simulate.make_golfer(name="G02", hand="left", stature_m=1.68)]


@pytest.fixture(scope="module")
def swings(golfers):
    return [
        simulate.make_swing(g, seed=k, rate_hz=120, name=f"{g.name}_{k}") for g in golfers for k in (1, 2)
    ]


def read(path):
    """Points (n, k, 3) in the file's unit and labels, by the c3d package."""
    with path.open("rb") as stream, warnings.catch_warnings():
        warnings.filterwarnings("ignore", message="No analog data")
        reader = c3d.Reader(stream)
        frames = np.array([points for _, points, _ in reader.read_frames()])
        labels = [label.strip() for label in reader.point_labels]
        scale, rate = reader.point_scale, reader.point_rate
    points = frames[:, :, :3].copy()
    points[frames[:, :, 3] < 0] = np.nan
    return points, labels, scale, rate


@pytest.mark.parametrize(
    "lab",
    [simulate.Lab(), simulate.Lab("+Y", "-Z", ground_mm=-300.0, ball_mm=(120.0, -80.0))],
    ids=["Z up", "Y up"],
)
def test_a_written_study_is_the_made_swings(tmp_path, swings, lab):
    """made; other: read back with the c3d package: every point within half a stored step, lefts mirrored."""
    items = [simulate.StudySwing(s, {"order": k + 1}) for k, s in enumerate(swings)]
    folder = simulate.write_study(
        tmp_path / "study", simulate.SimulatedStudy('A "made" study', items, lab=lab)
    )
    settings = tomllib.loads((folder / "study.toml").read_text())
    assert settings["title"] == 'A "made" study'
    assert settings["lab"] == {"up": lab.up, "target": lab.target, "ground": lab.ground_mm, "unit": "mm"}
    golfers = pd.read_csv(folder / "golfers.csv")
    assert golfers["hand"].tolist() == ["right", "left"]
    up, target = axis_vector(lab.up), axis_vector(lab.target)
    for swing, capture in zip(swings, pd.read_csv(folder / "swings.csv")["capture"], strict=True):
        points, labels, scale, rate = read(folder / "captures" / capture)
        assert scale >= 0.05 and rate == 120  # integers, in steps of at least 0.05 mm
        left = swing.hand == "left"
        for name in ("asis_left", "c7", "clubhead", "ball"):
            label = name.replace("left", "right") if left and name != "ball" else name
            exact = 1000 * swing.exact[name]
            side = -exact[:, 2] if left else exact[:, 2]
            along, height = exact[:, 0] + lab.ball_mm[0], exact[:, 1] + lab.ground_mm
            expected = (np.outer(along, target) + np.outer(height, up)
                        + np.outer(side + lab.ball_mm[1], np.cross(target, up)))  # fmt: skip
            found = points[:, labels.index(label)]
            assert np.array_equal(np.isnan(found), np.isnan(expected))
            assert np.nanmax(np.abs(found - expected)) <= 0.5 * scale * 1.001


def test_truth_stands_beside_the_captures(tmp_path, swings):
    """made: events, posture and strike in the columns of a study's results."""
    folder = simulate.write_study(
        tmp_path / "s", simulate.SimulatedStudy("t", [simulate.StudySwing(s) for s in swings])
    )
    events = pd.read_csv(folder / "truth" / "truth_events.csv")
    assert events.columns.tolist() == ["swing", "event", "time_s", "time_from_impact_s", "frame", "method",
                                       "standard_error_s", "note"]  # fmt: skip
    assert all(tuple(rows) == EVENTS for _, rows in events.groupby("swing")["event"])
    strike = pd.read_csv(folder / "truth" / "truth_strike.csv")
    assert strike.columns.tolist() == ["swing", *STRIKES, "contact"]
    posture = pd.read_csv(folder / "truth" / "truth_posture.csv").set_index(["swing", "event", "quantity"])[
        "value"
    ]
    name = swings[0].name
    when = swings[0].true_events["impact"]
    turn = np.interp(when, swings[0].time_s, swings[0].true_curves["thorax_axial_rotation_deg"])
    assert posture[name, "impact", "thorax_axial_rotation_deg"] == pytest.approx(turn, abs=0.2)
    assert (name, "address", "pelvis_centre_up_cm") not in posture.index  # relative to address itself


def test_a_pose_table_holds_joint_centres(tmp_path, swings):
    """made: wide, in the study's unit, no bony landmark."""
    items = [simulate.StudySwing(s, kind="joint_centres") for s in swings]
    folder = simulate.write_study(tmp_path / "s", simulate.SimulatedStudy("t", items))
    table = pd.read_csv(folder / "captures" / f"{swings[0].name}.csv")
    assert {"time_s", "hip_left_x", "nose_z", "clubhead_y", "ball_x"} <= set(table.columns)
    assert not any(column.startswith(("c7", "asis")) for column in table.columns)
    found = table[["hip_left_x", "hip_left_y", "hip_left_z"]].to_numpy()  # Z up, target +X: x, -side, height
    exact = 1000 * swings[0].exact["hip_left"]
    assert found == pytest.approx(np.stack([exact[:, 0], -exact[:, 2], exact[:, 1]], axis=1), abs=0.051)


def test_make_study_varies_and_captures_every_golfer(golfers):
    """made: so many swings of each, different ones, the same for the same seed."""
    first, again = (make_study(golfers, swings=2, disturbance=simulate.Disturbance(), seed=3, rate_hz=120)
                    for _ in range(2))  # fmt: skip
    assert [item.swing.name for item in first.swings] == ["G01_01", "G01_02", "G02_01", "G02_02"]
    attacks = [item.swing.true_strike["attack_angle_deg"] for item in first.swings]
    assert len(set(attacks)) == 4
    for one, other in zip(first.swings, again.swings, strict=True):
        assert np.array_equal(one.swing.points["c7"], other.swing.points["c7"])


def test_a_folder_that_holds_something_is_refused(tmp_path, swings):
    """made: nothing is ever overwritten; have the same name are refused."""
    (tmp_path / "mine.txt").write_text("x")
    with pytest.raises(BadRequest, match="empty folder"):
        simulate.write_study(tmp_path, simulate.SimulatedStudy("t", [simulate.StudySwing(swings[0])]))
    twice = [simulate.StudySwing(swings[0])] * 2
    with pytest.raises(BadRequest, match="have the same name"):
        simulate.write_study(tmp_path / "new", simulate.SimulatedStudy("t", twice))


def test_disturbances_are_of_the_size_asked(swings):
    """made: placement is constant in the segment, noise white, gaps and swaps where asked; the truth stays."""
    swing = swings[0]
    only_placed = simulate.Disturbance(noise_mm=0.0, placement_mm=5.0, soft_tissue_mm=0.0)
    placement = simulate.draw_placement(np.random.default_rng(1), only_placed)
    moved = simulate.disturb(swing, only_placed, placement, seed=1)
    off = moved.points["c7"] - swing.exact["c7"]
    assert np.linalg.norm(off, axis=1) == pytest.approx(np.linalg.norm(placement["c7"]), abs=1e-9)
    assert np.array_equal(moved.points["knee_lateral_left"], swing.exact["knee_lateral_left"])
    rough = simulate.Disturbance(noise_mm=1.0, placement_mm=0.0, soft_tissue_mm=0.0, gaps=3)
    seen = simulate.disturb(swing, rough, {}, seed=2)
    assert np.nanstd(seen.points["t8"] - swing.exact["t8"]) == pytest.approx(0.001, rel=0.15)
    lost = [n for n, v in seen.points.items() if n != "ball" and np.isnan(v).any()]
    assert 1 <= len(lost) <= 3 and not any(n.startswith("club") for n in lost)
    swapped = simulate.disturb(swing, simulate.Disturbance(0.0, 0.0, 0.0, swaps=1), {}, seed=3)
    changed = [n for n, v in swapped.points.items() if np.nanmax(np.abs(v - swing.exact[n])) > 1e-12]
    assert len(changed) == 2
    wobbling = simulate.disturb(swing, simulate.Disturbance(0.0, 0.0, 3.0), {}, seed=4)
    wobble = np.concatenate(
        [wobbling.points[n] - swing.exact[n] for n in ("c7", "t8", "asis_left", "psis_right")]
    )
    assert np.std(wobble) == pytest.approx(0.003, rel=0.35)
    assert np.abs(np.diff(wobble, axis=0))[:100].max() < 0.0015  # slow
    assert swapped.true_strike == swing.true_strike


def test_swing_to_swing_variation_has_memory_and_drift():
    """made: standard deviation, autocorrelation and drift of 4000 swings."""
    variation = simulate.SwingVariation({"thorax_flexion_deg": 2.0}, memory=0.5, shared=1.0)
    drawn = simulate.draw_offsets(np.random.default_rng(0), 4000, variation)
    series = np.array([at["thorax_flexion_deg"]["impact"] for at in drawn])
    assert series.std() == pytest.approx(2.0, rel=0.05)
    assert np.corrcoef(series[1:], series[:-1])[0, 1] == pytest.approx(0.5, abs=0.05)
    drift = simulate.SwingVariation({}, drift={"thorax_flexion_deg": 6.0})
    slid = [
        at["thorax_flexion_deg"]["delivery"]
        for at in simulate.draw_offsets(np.random.default_rng(0), 5, drift)
    ]
    assert slid == pytest.approx([-3, -1.5, 0, 1.5, 3])


def digest(folder):
    return {p.relative_to(folder).as_posix(): hashlib.sha256(p.read_bytes()).hexdigest()
            for p in sorted(folder.rglob("*")) if p.is_file()}  # fmt: skip


def test_one_seed_one_demo(tmp_path):
    """made: the same seed writes the same bytes; another seed makes other swings of the same member."""
    size = simulate.DemoSize(each=1, members=("G03",))
    first, again = (digest(simulate.write_demo(tmp_path / n, seed=5, size=size)) for n in ("a", "b"))
    assert first == again and "captures/G03_nov_01.c3d" in first
    here, there = (make_demo(seed=s, size=size).swings[0].swing for s in (5, 6))
    assert here.golfer.parameters == there.golfer.parameters
    assert here.true_strike["attack_angle_deg"] != there.true_strike["attack_angle_deg"]
