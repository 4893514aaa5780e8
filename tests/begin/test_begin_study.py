"""`begin_study` on folders of captures: what is written, what is kept, what is coded, what stays open."""

from __future__ import annotations

from pathlib import Path

import ezc3d
import numpy as np
import pandas as pd
import pytest

from swinglab import simulate
from swinglab.begin import Begun, begin_study
from swinglab.begin.device_rows import known_swings
from swinglab.begin.draft import read_draft
from swinglab.begin.rows import existing_swings
from swinglab.errors import MissingInput, UnreadableFile
from swinglab.report import write_report
from swinglab.study import answer_study, check_folder, measure_study, open_study, write_results
from tests.begin.made_captures import DIALECTS, LABS, Lab, write_swing

RATE_HZ = 240.0
GAIT = DIALECTS["gait"]


def swing(golfer: str = "G01", hand: str = "right", seed: int = 0, **more: float) -> simulate.Swing:
    """A simulated swing with half a millimetre of noise."""
    made = simulate.make_golfer(name=golfer, hand=hand)
    own = {"before_s": 1.8, "after_s": 0.8} | more
    return simulate.make_swing(made, {"thorax_lateral_flexion_deg": float(seed)}, seed=seed, rate_hz=RATE_HZ,
                               noise_m=0.0005, name="x", **own)  # fmt: skip


def put(folder: Path, name: str, one: simulate.Swing, lab: Lab = LABS[0], **more: str) -> Path:
    """Write a swing below captures/ in the gait dialect."""
    path = folder / "captures" / name
    write_swing(path, one.points, one.hand, RATE_HZ, GAIT, lab, **more)
    return path


def bytes_of(folder: Path) -> dict[str, bytes]:
    """The study's own files."""
    return {path.name: path.read_bytes() for path in folder.iterdir() if path.is_file()}


def test_a_folder_without_captures_is_refused(tmp_path: Path) -> None:
    """Truth: made."""
    with pytest.raises(MissingInput, match="no folder named captures"):
        begin_study(tmp_path)
    (tmp_path / "captures").mkdir()
    with pytest.raises(MissingInput, match="the folder contains no capture"):
        begin_study(tmp_path)


def test_a_second_run_changes_nothing_and_a_second_session_adds_rows_alone(tmp_path: Path) -> None:
    """Truth: made. Comments, a row's own cells and the golfer's code stay; the new session's rows come below."""
    study = tmp_path / "study"
    for k in range(2):
        put(study, f"Ann Lee/2026-11-01/swing {k}.c3d", swing(seed=k))
    begin_study(study)
    text = (study / "swings.csv").read_text(encoding="utf-8")
    (study / "swings.csv").write_text(text.replace(",1\n", ",1\n"), encoding="utf-8")
    with (study / "study.toml").open("a", encoding="utf-8") as file:
        file.write("# a comment of mine\n")
    before = bytes_of(study)
    assert "the study is complete: no file was changed" in begin_study(study).lines
    assert bytes_of(study) == before
    for k in range(3):
        put(study, f"Ann Lee/2026-11-08/swing {k}.c3d", swing(seed=5 + k))
    begin_study(study)
    after = bytes_of(study)
    assert after.pop("swings.csv").startswith(before.pop("swings.csv"))
    assert after == before
    rows = pd.read_csv(study / "swings.csv", dtype=str)
    assert rows["session"].tolist() == ["2026-11-01"] * 2 + ["2026-11-08"] * 3
    assert set(rows["golfer"]) == {"G01"}
    assert rows["order"].tolist() == ["1", "2", "1", "2", "3"]
    results = measure_study(open_study(study), workers=1)
    assert results.swings.groupby("session")["thorax_flexion_at_impact_deg"].count().to_dict() == {
        "2026-11-01": 2, "2026-11-08": 3}  # fmt: skip


BACK_S = 1.5


def joined_swings() -> tuple[dict[str, np.ndarray], list[simulate.Swing]]:
    """A practice swing (no ball moves) and two struck balls in one recording, with a way back to address between."""
    own = [swing(seed=k, before_s=2.6, after_s=1.4) for k in range(3)]
    share = (1 - np.cos(np.linspace(0, np.pi, round(BACK_S * RATE_HZ))))[:, None] / 2
    points: dict[str, np.ndarray] = {}
    for name in own[0].points:
        parts = [np.array(one.points[name]) for one in own]
        if name == "ball":
            parts[0] = np.broadcast_to(parts[0][:20].mean(axis=0), parts[0].shape)
        whole = [parts[0]]
        for part in parts[1:]:
            whole += [whole[-1][-1] * (1 - share) + part[0] * share, part]
        points[name] = np.concatenate(whole)
    return points, own


def test_several_swings_in_one_file(tmp_path: Path) -> None:
    """Truth: made. A row each; the practice swing is excluded with its reason; posture as if captured alone."""
    points, own = joined_swings()
    write_swing(tmp_path / "captures" / "G01" / "all.c3d", points, "right", RATE_HZ, GAIT, LABS[0])
    begin_study(tmp_path)
    rows = pd.read_csv(tmp_path / "swings.csv")
    assert rows["exclude"].fillna("").tolist() == ["no ball struck", "", ""]
    assert (rows["from_s"].to_numpy()[1:] >= rows["to_s"].to_numpy()[:-1]).all()
    lengths = [len(one.time_s) / RATE_HZ + BACK_S for one in own]
    impacts = np.cumsum([0, *lengths[:-1]]) + [one.true_events["impact"] for one in own]
    assert ((rows["from_s"] < impacts) & (impacts < rows["to_s"])).all()
    results = measure_study(open_study(tmp_path), workers=1)
    found = results.events[results.events["event"] == "impact"]["time_s"].to_numpy()
    assert found == pytest.approx(impacts[1:], abs=0.002)
    for k, one in enumerate(own[1:]):
        truth = one.true_posture()["impact"]["thorax_lateral_flexion_deg"]
        assert results.swings["thorax_lateral_flexion_at_impact_deg"][k] == pytest.approx(truth, abs=0.6)


def test_a_static_capture_is_the_golfers_neutral_and_no_swing(tmp_path: Path) -> None:
    """Truth: made. The first address of a swing, held."""
    one = swing()
    put(tmp_path, "G01/t1.c3d", one)
    still = {name: np.repeat(path[:1], 200, axis=0) for name, path in one.points.items()}
    write_swing(tmp_path / "captures" / "G01" / "standing.c3d", still, "right", RATE_HZ, GAIT, LABS[0])
    begun = begin_study(tmp_path)
    assert any("no row in swings.csv: G01/standing.c3d" in line for line in begun.lines)
    assert list(pd.read_csv(tmp_path / "swings.csv")["capture"]) == ["G01/t1.c3d"]
    assert set(open_study(tmp_path).neutral) == {"G01"}


MEDIAL = ("knee_medial", "ankle_medial")


def test_a_static_capture_with_more_markers_defines_them_for_the_swings(tmp_path: Path) -> None:
    """Truth: made. Medial markers of knees and ankles are taken off for the swings, as is usual; clusters of three on
    thigh and shank carry them. `begin` enters the capture under [static] and [neutral]; `check` finds no fault, and the
    internal rotation of the hip, which needs them, is measured."""
    one = swing()
    with_clusters = dict(one.points) | _clusters(one)
    still = {name: np.repeat(path[:1], 260, axis=0) for name, path in with_clusters.items()}
    moving = {name: path for name, path in with_clusters.items() if not name.startswith(MEDIAL)}
    dialect = GAIT | {
        f"{part}_{k}": f"{{S}}{part.upper()}{k}" for part in ("thigh", "shank") for k in range(3)
    }
    for name, points in (("standing", still), ("t1", moving)):
        write_swing(tmp_path / "captures" / "G01" / f"{name}.c3d", points, "right", RATE_HZ, dialect, LABS[0])
    begun = begin_study(tmp_path)
    assert any(
        "also for [static]" in line and "lack these landmarks: ankle_medial_left" in line
        for line in begun.lines
    )
    study = open_study(tmp_path)
    assert set(study.static) == set(study.neutral) == {"G01"}
    found = check_folder(tmp_path, workers=1)
    assert found.passed, found.captures["problem"].tolist()
    there = found.available.set_index("name")["swings"]
    assert there["lead_hip_internal_rotation_deg"] == 1


def _clusters(one: simulate.Swing) -> dict[str, np.ndarray]:
    """Three points on each thigh and shank, rigid with both points of the joint below and the joint above."""
    made = {}
    for side in ("left", "right"):
        for part, joint, above in (
            ("thigh", "knee", f"asis_{side}"),
            ("shank", "ankle", f"knee_lateral_{side}"),
        ):
            lateral, medial = (one.exact[f"{joint}_{place}_{side}"] for place in ("lateral", "medial"))
            across = (lateral - medial) / np.linalg.norm(lateral - medial, axis=1, keepdims=True)
            along = one.exact[above] - (lateral + medial) / 2
            along -= (along * across).sum(axis=1, keepdims=True) * across
            along /= np.linalg.norm(along, axis=1, keepdims=True)
            front = np.cross(across, along)
            for k, (x, y, z) in enumerate(((0.05, 0.1, 0.02), (0.06, 0.2, -0.01), (0.02, 0.15, 0.06))):
                made[f"{part}_{k}_{side}"] = (lateral + medial) / 2 + x * front + y * along + z * across
    return made


def test_captures_of_the_ball_and_of_the_club_alone_are_no_golfers(tmp_path: Path) -> None:
    """Truth: made. No swing shows the ball: its place comes from its own capture; a club held still is nobody's neutral
    posture and no row; the low point is where it is with the ball's marker."""
    one = swing()
    put(tmp_path / "with", "G01/t1.c3d", one, LABS[1])
    rest = {"ball": np.repeat(one.points["ball"][:1], 200, axis=0)}
    club = {
        name: np.repeat(path[:1], 200, axis=0) for name, path in one.points.items() if name.startswith("club")
    }
    swung = {name: path for name, path in one.points.items() if name != "ball"}
    for name, points in (("G01/t1", swung), ("G01/ball", rest), ("club", club)):
        write_swing(
            tmp_path / "without" / "captures" / f"{name}.c3d", points, "right", RATE_HZ, GAIT, LABS[1]
        )
    lows = []
    for folder in (tmp_path / "with", tmp_path / "without"):
        begun = begin_study(folder)
        study = open_study(folder)
        assert not study.neutral
        assert list(study.golfers["golfer"]) == ["G01"]
        lows.append(measure_study(study, workers=1).swings["low_point_ahead_cm"].tolist())
    assert any("capture of the ball alone: G01/ball.c3d" in line for line in begun.lines)
    assert lows[1] == pytest.approx(lows[0], abs=0.2)


def test_captures_with_another_set_of_labels_do_not_spoil_the_study(tmp_path: Path) -> None:
    """Truth: made. Three captures in one set of labels, one in another: the study is that of the three, the fourth is
    named and has no row; as a session of its own, with every landmark, it is measured by labels of its own."""
    for k in range(3):
        put(tmp_path / "mixed", f"G01/t{k}.c3d", swing(seed=k))
        put(tmp_path / "days", f"G01/day1/t{k}.c3d", swing(seed=k))
    other = swing(seed=9)
    for place in ("mixed/captures/G01/other.c3d", "days/captures/G01/day2/other.c3d"):
        write_swing(tmp_path / place, other.points, "right", RATE_HZ, DIALECTS["isb"], LABS[0])
    begun = begin_study(tmp_path / "mixed")
    assert any(
        "captures with other labels than most" in line and "G01/other.c3d" in line for line in begun.lines
    )
    assert len(open_study(tmp_path / "mixed").swings) == 3
    assert check_folder(tmp_path / "mixed", workers=1).passed
    begun = begin_study(tmp_path / "days")
    assert not begun.found.foreign
    study = open_study(tmp_path / "days")
    assert study.setup_for_swing(study.swings["swing"].iloc[-1]).landmarks["c7"] == ("C7",)
    assert study.setup_for_swing(study.swings["swing"].iloc[-1]).landmarks["xiphoid"] == ("PX",)
    assert len(measure_study(study, workers=1).swings) == 4


def test_two_static_captures_of_a_golfer_are_not_chosen_between(tmp_path: Path) -> None:
    """Truth: made. A commented line with both; no [neutral] until a person says which."""
    one = swing()
    put(tmp_path, "G01/t1.c3d", one)
    still = {name: np.repeat(path[:1], 200, axis=0) for name, path in one.points.items()}
    for name in ("a", "b"):
        write_swing(tmp_path / "captures" / "G01" / f"{name}.c3d", still, "right", RATE_HZ, GAIT, LABS[0])
    begin_study(tmp_path)
    assert '# G01 = "G01/a.c3d or G01/b.c3d"   # open' in (tmp_path / "study.toml").read_text(
        encoding="utf-8"
    )
    assert not open_study(tmp_path).neutral


def test_a_target_far_from_every_axis_stays_open(tmp_path: Path) -> None:
    """Truth: made. Turned by 30 deg about the vertical: neither target nor hand is guessed."""
    turn = np.radians(30)
    about = np.array([[np.cos(turn), 0, np.sin(turn)], [0, 1, 0], [-np.sin(turn), 0, np.cos(turn)]])
    one = swing()
    points = {name: path @ about.T for name, path in one.points.items()}
    write_swing(tmp_path / "captures" / "G01" / "t.c3d", points, "right", RATE_HZ, GAIT, LABS[0])
    begun = begin_study(tmp_path)
    assert begun.found.labs[""].target.sure == "open"
    assert begun.found.hands["G01"].sure == "open"
    assert "# target =" in (tmp_path / "study.toml").read_text(encoding="utf-8")


def test_an_axis_that_jumps_between_sessions_is_reported_and_kept_apart(tmp_path: Path) -> None:
    """Truth: made. The third day has another target axis."""
    for day, lab in (("day1", LABS[0]), ("day2", LABS[0]), ("day3", Lab("+Z", "-X"))):
        put(tmp_path, f"G01/{day}/t.c3d", swing(seed=int(day[-1])), lab)
    begun = begin_study(tmp_path)
    assert any(
        line.startswith("session day3, which differs from the others: target: -X") for line in begun.lines
    )
    study = open_study(tmp_path)
    targets = [study.setup_for_swing(name).target for name in study.swings["swing"]]
    assert targets == ["+X", "+X", "-X"]
    assert measure_study(study, workers=1).left_out.empty


def test_another_height_of_the_turf_in_a_session_is_reported_and_kept_apart(tmp_path: Path) -> None:
    """Truth: made. The third day's turf lies 35 cm higher in the lab axes: its postures equal those of the same swing.

    A ball on a tee, 4 cm above the turf, on the fourth day is no other turf.
    """
    teed = swing(seed=1)
    teed.points["ball"][:, 1] += 0.04
    made = {"day1": swing(seed=1), "day2": swing(seed=2), "day3": swing(seed=1), "day4": teed}
    for day, one in made.items():
        put(tmp_path, f"G01/{day}/t.c3d", one, Lab("+Z", "+X", ground_m=0.35 if day == "day3" else 0.0))
    begun = begin_study(tmp_path)
    said = [line for line in begun.lines if "which differs from the others" in line]
    assert len(said) == 4 and all(line.startswith("session day3") for line in said)
    study = open_study(tmp_path)
    heights = [study.setup_for_swing(name).ground for name in study.swings["swing"]]
    np.testing.assert_allclose(heights, [0.0, 0.0, 350.0, 0.0], atol=5.0)
    table = measure_study(study, workers=1).swings.set_index("session")
    height_cm = table["trail_heel_height_at_impact_cm"]
    assert abs(height_cm["day3"] - height_cm["day1"]) < 0.5


def test_the_height_of_the_turf_of_a_session_is_in_the_unit_of_its_own_captures(tmp_path: Path) -> None:
    """Truth: made. Two days in mm, one in m, the turf at 0.35 m: before, the third day got a height of 350 m."""
    for day, unit in (("day1", "mm"), ("day2", "mm"), ("day3", "m")):
        put(tmp_path, f"G01/{day}/t.c3d", swing(seed=int(day[-1])), Lab("+Z", "+X", unit, 0.35))
    begin_study(tmp_path)
    study = open_study(tmp_path)
    heights = [study.setup_for_swing(name).ground for name in study.swings["swing"]]
    assert heights == pytest.approx([350.0, 350.0, 0.35], rel=0.02)
    assert measure_study(study, workers=1).left_out.empty


def test_a_later_session_with_another_set_up_gets_its_own_section(tmp_path: Path) -> None:
    """Truth: made. Before, a second run reported the other axes and turf of a new session but did not write them.

    Other contents of study.toml stay, a corrected axis included, and a third run changes nothing.
    """
    put(tmp_path, "G01/day1/t.c3d", swing(seed=1), Lab("+Z", "+X"))
    begin_study(tmp_path)
    file = tmp_path / "study.toml"
    text = file.read_text(encoding="utf-8")
    for k, day in enumerate(("day2", "day3")):
        put(tmp_path, f"G01/{day}/t.c3d", swing(seed=2 + k), Lab("+Z", "-X", ground_m=0.35))
    put(tmp_path, "G01/day4/t.c3d", swing(seed=5), Lab("+Z", "+X"))
    assert any("session.day2.lab.target" in line for line in begin_study(tmp_path).lines)
    assert file.read_text(encoding="utf-8").startswith(text)
    study = open_study(tmp_path)
    set_ups = [study.setup_for_swing(name) for name in study.swings["swing"]]
    assert [one.target for one in set_ups] == ["+X", "-X", "-X", "+X"]
    assert [one.ground for one in set_ups] == pytest.approx([0.0, 350.0, 350.0, 0.0], abs=5.0)
    assert measure_study(study, workers=1).left_out.empty
    before = bytes_of(tmp_path)
    begin_study(tmp_path)
    assert bytes_of(tmp_path) == before


def test_a_capture_that_swings_csv_names_from_the_study_folder_is_not_added_again(tmp_path: Path) -> None:
    """Truth: made. Before, captures/a.c3d in swings.csv was taken for another file than a.c3d, and its swings were
    added again, under a golfer who was made up."""
    put(tmp_path, "a.c3d", swing())
    put(tmp_path, "b.c3d", swing(seed=1))
    begin_study(tmp_path)
    rows = pd.read_csv(tmp_path / "swings.csv", dtype=str)
    rows["golfer"] = "Lee"
    rows["capture"] = "captures/" + rows["capture"]
    rows.to_csv(tmp_path / "swings.csv", index=False)
    (tmp_path / "golfers.csv").write_text("golfer,hand,group\nLee,right,all\n", encoding="utf-8")
    before = bytes_of(tmp_path)
    begun = begin_study(tmp_path)
    assert "the study is complete: no file was changed" in begun.lines
    assert bytes_of(tmp_path) == before
    found = known_swings(existing_swings(tmp_path), begun.found.captures)
    assert all(np.isfinite(one.speed) for one in found)


NAME = "Grunewaldt"


def planted(folder: Path) -> Begun:
    """A name in folder, file, label and C3D parameter; then copies under code names."""
    source = folder / "bare"
    for k in range(2):
        put(source, f"{NAME}/2026-11-01/{NAME}_{k}.c3d", swing(seed=k), prefix=f"{NAME}:", subject=NAME)
    one = swing(seed=3)
    write_swing(source / "captures" / NAME / "2026-11-02" / f"{NAME}.csv", one.points, "right", RATE_HZ, GAIT, LABS[0],
                prefix=f"{NAME}:")  # fmt: skip
    return begin_study(source, copies=folder / "study")


def test_a_name_is_nowhere_in_copies_or_results(tmp_path: Path) -> None:
    """Truth: made. Every byte of the study's folder after a whole run; the key lies beside it and holds the name."""
    begun = planted(tmp_path)
    study = open_study(begun.folder)
    results = measure_study(study, workers=1)
    assert len(results.swings) == 3
    write_results(
        study, results, answer_study(study, results), begun.folder / "results", also=(write_report,)
    )
    for path in begun.folder.rglob("*"):
        assert NAME not in path.name
        if path.is_file():
            assert NAME.encode() not in path.read_bytes(), path
    assert begun.key is not None
    assert begun.key.parent == tmp_path
    assert NAME in begun.key.read_text(encoding="utf-8")


def test_copies_hold_the_same_points_and_a_second_run_adds_new_ones_alone(tmp_path: Path) -> None:
    """Truth: other. The copy and its original read by another library (ezc3d)."""
    begun = planted(tmp_path)
    copy = begun.folder / "captures" / "G01" / "2026-11-01" / "G01_001.c3d"
    original = tmp_path / "bare" / "captures" / NAME / "2026-11-01" / f"{NAME}_0.c3d"
    one, other = (ezc3d.c3d(str(path))["data"]["points"][:3] for path in (copy, original))
    np.testing.assert_allclose(one, other, rtol=1e-6)
    before = {path: path.stat().st_mtime_ns for path in (begun.folder / "captures").rglob("*.c3d")}
    put(tmp_path / "bare", f"{NAME}/2026-11-09/{NAME}_0.c3d", swing(seed=9), prefix=f"{NAME}:")
    begin_study(tmp_path / "bare", copies=begun.folder)
    assert {path: path.stat().st_mtime_ns for path in before} == before
    rows = pd.read_csv(begun.folder / "swings.csv", dtype=str)
    assert rows["session"].tolist() == ["2026-11-01", "2026-11-01", "2026-11-02", "2026-11-09"]


def test_golfers_by_a_pattern_of_file_names(tmp_path: Path) -> None:
    """Truth: made. Names in file names become codes in order."""
    for name, hand in (("Berg", "right"), ("Dahl", "left")):
        put(tmp_path, f"{name}_winter_1.c3d", swing(hand=hand))
    begin_study(tmp_path, golfers="{golfer}_{session}_*")
    rows = pd.read_csv(tmp_path / "golfers.csv")
    assert rows.to_dict("list") == {
        "golfer": ["G01", "G02"],
        "hand": ["right", "left"],
        "group": ["all", "all"],
    }
    assert set(pd.read_csv(tmp_path / "swings.csv")["session"]) == {"S1"}


def test_a_decision_is_saved_with_every_comment_kept(tmp_path: Path) -> None:
    """Truth: made. An open line goes, its key comes; everything else keeps its text."""
    put(tmp_path, "G01/t.c3d", swing())
    begin_study(tmp_path)
    path = tmp_path / "study.toml"
    lines = (
        path.read_text(encoding="utf-8")
        .replace('xiphoid = "STRN"', '# xiphoid = "STRN"   # open: a test')
        .splitlines()
    )
    path.write_text(
        "\n".join([*lines, "# mine", "[ball]", "teed = false   # as it was"]) + "\n", encoding="utf-8"
    )
    draft = read_draft(tmp_path)
    draft.give("STRN", "xiphoid")
    draft.turn("target", "-X")
    draft.play("G01", "left")
    assert draft.save() == ("study.toml", "golfers.csv")
    text = path.read_text(encoding="utf-8")
    assert "# open: a test" not in text
    for kept in ("# mine", "teed = false   # as it was", 'xiphoid = "STRN"', 'target = "-X"'):
        assert kept in text
    assert pd.read_csv(tmp_path / "golfers.csv")["hand"].tolist() == ["left"]
    assert open_study(tmp_path).setup.landmarks["xiphoid"] == ("STRN",)


def test_decisions_are_not_saved_into_a_file_that_was_broken_meanwhile(tmp_path: Path) -> None:
    """Truth: made. study.toml is edited while the page is open; the error names the file, which stays as it is."""
    put(tmp_path, "G01/t.c3d", swing())
    begin_study(tmp_path)
    draft = read_draft(tmp_path)
    draft.turn("target", "-X")
    path = tmp_path / "study.toml"
    path.write_text("[lab\n", encoding="utf-8")
    with pytest.raises(UnreadableFile, match=r"study\.toml: the file cannot be read as TOML"):
        draft.save()
    assert path.read_text(encoding="utf-8") == "[lab\n"
    path.unlink()
    with pytest.raises(UnreadableFile, match=r"study\.toml"):
        draft.save()
