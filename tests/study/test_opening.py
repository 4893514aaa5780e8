"""Opening a study: what it says is taken over, and everything wrong with it is said at once."""

from __future__ import annotations

from pathlib import Path

import pytest

from swinglab.errors import StudyFaults
from swinglab.study import open_study


def change(folder: Path, file: str, old: str, new: str) -> None:
    text = (folder / file).read_text(encoding="utf-8")
    assert old in text
    (folder / file).write_text(text.replace(old, new), encoding="utf-8")


def faults_of(folder: Path, **options: bool) -> str:
    with pytest.raises(StudyFaults) as caught:
        open_study(folder, **options)
    return str(caught.value)


def test_a_right_study_opens(folder: Path) -> None:
    """made: every setting of the file arrives where the stages look for it."""
    study = open_study(folder)
    assert study.title == "Winter programme"
    assert study.setup.landmarks == {"asis_left": ("LASI",), "c7": ("C7a", "C7b")}
    assert study.setup.soled_at_address
    assert study.setup_for("G02").hand == "left"
    assert study.hunches[0].adjust == ("clubhead_speed_mps", "stature_m")
    assert study.comparisons[0].between == "group"
    assert study.lessons[0].golfer == "G02"
    assert study.captures["S3"] == (folder / "captures" / "s3.c3d").resolve()
    assert study.golfers["stature_m"].tolist() == [1.80, 1.70]


@pytest.mark.parametrize(
    ("file", "old", "new", "words"),
    [
        ("study.toml", 'up = "+Z"\n', "", "study.toml, [lab] up: a study must say which capture axis this is."),
        ("study.toml", 'up = "+Z"', 'up = "Z"', "[lab] up: must be one of +X, -X"),
        ("study.toml", 'target = "+X"', 'target = "-Z"', "[lab] target: lies along up"),
        ("study.toml", 'title = "Winter programme"', "", "title: a study needs a title"),
        ("study.toml", "asis_left", "asis_lft", "there is no landmark of this name. Do: near names: asis_left"),
        ("study.toml", "attack_angle_deg", "atack_angle_deg", "there is no outcome atack_angle_deg. Do: near names:"),
        ("study.toml", "thorax_lateral_flexion_deg", "thorax_lateral_flexon_deg", "no posture quantity"),
        ("study.toml", 'event = "shaft_horizontal_down"', 'event = "delivery"', "there is no event delivery"),
        ("study.toml", 'golfer = "G02"', 'golfer = "G22"', "there is no golfer G22. Do: near names: G02"),
        ("study.toml", 'phase = "phase"', 'phase = "phse"', "there is no column of swings.csv phse"),
        ("study.toml", '"stature_m"]', '"statur_m"]', "no column to adjust for statur_m. Do: near names: stature_m"),
        ("study.toml", "[ball]", "[bal]", "bal: this key is not known. Do: near names: ball"),
        ("study.toml", 'target = "+X"', 'target = "+X"\nrate_hz = 0', "[lab] rate_hz: must be a number above 0"),
        ("study.toml", 'group = "skilled"', 'group = "skiled"', "there is no group skiled. Do: near names: skilled"),
        ("study.toml", "soled_at_address = true", 'face = ["clubhead_1"]', "[club] face: must be three landmarks"),
        ("study.toml", "soled_at_address = true", "reference_beside_face_cm = 80",
         "[club] reference_beside_face_cm: must be a number from 0 to 30, not 80"),
        ("study.toml", "soled_at_address = true", "reference_behind_face_cm = -31", "a number from -30 to 30"),
        ("study.toml", '[lab]', '[lab', "this is not TOML"),
        ("study.toml", 'name = "groups"', 'name = "a lesson"', "two questions are called a lesson"),
        ("golfers.csv", "golfer,hand", "golfer,hnd", "golfers.csv: the column hand is missing. Do: near names: hnd"),
        ("golfers.csv", "G02,left", "G02,both", "golfers.csv, row 3: hand must be right or left, not 'both'"),
        ("golfers.csv", "G02,left", "G01,left", "the golfer G01 stands more than once"),
        ("swings.csv", "swing,golfer,capture", "swing,golfer,file", "swings.csv: the column capture is missing"),
        ("swings.csv", "S4,", "S3,", "swings.csv, rows 4, 5: the swing S3 stands more than once"),
        ("swings.csv", "S4,G01", "S4,G09", "swings.csv, row 5: there is no golfer G09 in golfers.csv"),
        ("swings.csv", "S4,G01,s4.c3d", "S4,G01,s4.mp4", "the capture s4.mp4 ends in .mp4"),
        ("swings.csv", "S4,G01,s4.c3d", "S4,G01,../../s4.c3d", "lies outside the study folder"),
        ("swings.csv", "impact_s", "measured_atack_angle_deg", "there is no measured column"),
        ("swings.csv", "impact_s", "attack_angle_deg", "is one that swinglab measures"),
        ("swings.csv", "waggle,", "waggle,soon", "impact_s must be a number or empty"),
    ],
)  # fmt: skip
def test_each_fault_is_named(folder: Path, file: str, old: str, new: str, words: str) -> None:
    """made: one thing broken, and its file, place and mend are told."""
    change(folder, file, old, new)
    assert words in faults_of(folder)


def test_all_faults_come_at_once(folder: Path) -> None:
    """made: three files with a fault each give one error with three lines."""
    change(folder, "study.toml", 'up = "+Z"\n', "")
    change(folder, "golfers.csv", "G02,left", "G02,both")
    change(folder, "swings.csv", "S4,G01", "S4,G09")
    with pytest.raises(StudyFaults) as caught:
        open_study(folder)
    assert len(caught.value.faults) == 3
    assert "3 faults in this study" in str(caught.value)


def test_no_swings_no_study_no_folder(folder: Path, tmp_path: Path) -> None:
    """made: a study without swings, without captures, and a folder that is none."""
    (folder / "swings.csv").write_text("swing,golfer,capture,phase\n", encoding="utf-8")
    assert "swings.csv: there are no rows" in faults_of(folder)
    assert "this is no study folder" in faults_of(tmp_path / "nowhere")


def test_captures_all_missing(folder: Path) -> None:
    """made: one missing capture is left out later, all missing is a fault of the study."""
    for path in sorted((folder / "captures").iterdir())[1:]:
        path.unlink()
    open_study(folder)
    (folder / "captures" / "s1.c3d").unlink()
    assert "none of the captures is there" in faults_of(folder)


def test_symlink_to_outside(folder: Path, tmp_path: Path) -> None:
    """made: a link that leads out of the folder needs leave."""
    outside = tmp_path / "s1.c3d"
    outside.write_bytes(b"")
    (folder / "captures" / "s1.c3d").unlink()
    (folder / "captures" / "s1.c3d").symlink_to(outside)
    assert "lies outside the study folder" in faults_of(folder)
    assert open_study(folder, allow_outside=True).captures["S1"] == outside.resolve()


def test_semicolons_and_other_text(folder: Path) -> None:
    """made: a table saved with semicolons, and one in another encoding, are told apart from a missing column."""
    text = (folder / "golfers.csv").read_text(encoding="utf-8")
    (folder / "golfers.csv").write_text(text.replace(",", ";"), encoding="utf-8")
    assert "separated by semicolons" in faults_of(folder)
    (folder / "golfers.csv").write_bytes("golfer,hand,group\nGä,right,x\n".encode("latin-1"))
    assert "this is not UTF-8 text" in faults_of(folder)
