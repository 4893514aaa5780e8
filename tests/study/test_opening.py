"""Opening a study: what it says is taken over, and everything wrong with it is said at once."""

from __future__ import annotations

from pathlib import Path

import pandas as pd
import pytest

from swinglab.errors import StudyFaults
from swinglab.records import Errors, Hunch, Setup
from swinglab.study import Study, open_study


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
        ("study.toml", 'up = "+Z"\n', "", "study.toml, [lab] up: the axis of the captures that points up is missing."),
        ("study.toml", 'up = "+Z"', 'up = "Z"', "[lab] up: must be one of +X, -X"),
        ("study.toml", 'target = "+X"', 'target = "-Z"', "[lab] target: is parallel to up"),
        ("study.toml", 'title = "Winter programme"', "", "title: the title is missing"),
        ("study.toml", "asis_left", "asis_lft",
         "there is no landmark of this name. Do: check the spelling; similar names: asis_left"),
        ("study.toml", "attack_angle_deg", "atack_angle_deg", "there is no outcome atack_angle_deg. Do: check"),
        ("study.toml", "thorax_lateral_flexion_deg", "thorax_lateral_flexon_deg", "no posture quantity"),
        ("study.toml", 'event = "shaft_horizontal_down"', 'event = "delivry"',
         "there is no event delivry. Do: check the spelling; similar names: delivery"),
        ("study.toml", "attack_angle_deg", "Attack angel",
         "there is no outcome Attack angel. Do: check the spelling; similar names: Attack angle"),
        ("study.toml", 'golfer = "G02"', 'golfer = "G22"',
         "there is no golfer G22. Do: check the spelling; similar names: G02"),
        ("study.toml", 'phase = "phase"', 'phase = "phse"', "there is no column of swings.csv phse"),
        ("study.toml", '"stature_m"]', '"statur_m"]',
         "no covariate statur_m. Do: check the spelling; similar names: stature_m"),
        ("study.toml", "[ball]", "[bal]", "bal: this key is not known. Do: check the spelling; similar names: ball"),
        ("study.toml", 'target = "+X"', 'target = "+X"\nrate_hz = 0', "[lab] rate_hz: must be a number above 0"),
        ("study.toml", 'group = "skilled"', 'group = "skiled"',
         "there is no group skiled. Do: check the spelling; similar names: skilled"),
        ("study.toml", "soled_at_address = true", 'face = ["clubhead_1"]', "[club] face: must be three landmarks"),
        ("study.toml", "soled_at_address = true", "reference_beside_face_cm = 80",
         "[club] reference_beside_face_cm: must be a number from 0 to 30, not 80"),
        ("study.toml", "soled_at_address = true", "reference_behind_face_cm = -31", "a number from -30 to 30"),
        ("study.toml", '[lab]', '[lab', "this file is not valid"),
        ("study.toml", 'name = "groups"', 'name = "a lesson"', "two questions have the same name, a lesson"),
        ("golfers.csv", "golfer,hand", "golfer,hnd",
         "golfers.csv: the column hand is missing. Do: check the spelling; similar names: hnd"),
        ("golfers.csv", "G02,left", "G02,both", "golfers.csv, row 3: hand must be right or left, not 'both'"),
        ("golfers.csv", "G02,left", "G01,left", "the golfer G01 appears more than once"),
        ("swings.csv", "swing,golfer,capture", "swing,golfer,file", "swings.csv: the column capture is missing"),
        ("swings.csv", "S4,", "S3,", "swings.csv, rows 4, 5: the swing S3 appears more than once"),
        ("swings.csv", "S4,G01", "S4,G09", "swings.csv, row 5: there is no golfer G09 in golfers.csv"),
        ("swings.csv", "S4,G01,s4.c3d", "S4,G01,s4.mp4", "the capture s4.mp4 ends in .mp4"),
        ("swings.csv", "S4,G01,s4.c3d", "S4,G01,../../s4.c3d", "is outside the study folder"),
        ("swings.csv", "impact_s", "measured_atack_angle_deg", "swinglab does not know the measured column"),
        ("swings.csv", "impact_s", "attack_angle_deg", "swinglab itself measures the column"),
        ("swings.csv", "waggle,", "waggle,soon", "cells of impact_s must be numbers or empty"),
    ],
)  # fmt: skip
def test_each_fault_is_named(folder: Path, file: str, old: str, new: str, words: str) -> None:
    """made: one thing broken, and its file, place and what to do are named."""
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
    assert "swings.csv: the table has no rows" in faults_of(folder)
    assert "the folder is not a study folder" in faults_of(tmp_path / "nowhere")


def test_captures_all_missing(folder: Path) -> None:
    """made: one missing capture is left out later, all missing is a fault of the study."""
    for path in sorted((folder / "captures").iterdir())[1:]:
        path.unlink()
    open_study(folder)
    (folder / "captures" / "s1.c3d").unlink()
    assert "none of the captures in swings.csv was found" in faults_of(folder)


def test_symlink_to_outside(folder: Path, tmp_path: Path) -> None:
    """made: a link that leads out of the folder needs leave."""
    outside = tmp_path / "s1.c3d"
    outside.write_bytes(b"")
    (folder / "captures" / "s1.c3d").unlink()
    (folder / "captures" / "s1.c3d").symlink_to(outside)
    assert "is outside the study folder" in faults_of(folder)
    assert open_study(folder, allow_outside=True).captures["S1"] == outside.resolve()


def test_semicolons_are_read_and_other_encodings_refused(folder: Path) -> None:
    """made: a table saved with semicolons is read with a note, one in another encoding is refused."""
    text = (folder / "golfers.csv").read_text(encoding="utf-8")
    with_commas = text.replace(",", ";").replace("1.80", "1,80")
    (folder / "golfers.csv").write_text(with_commas, encoding="utf-8")
    study = open_study(folder)
    assert study.golfers["stature_m"].tolist() == [1.80, 1.70]
    assert study.notes == (
        "golfers.csv: the file was read with semicolons between columns and decimal commas",
    )
    (folder / "golfers.csv").write_bytes("golfer,hand,group\nGä,right,x\n".encode("latin-1"))
    assert "the file is not UTF-8 text" in faults_of(folder)


def test_words_on_screen_are_accepted(folder: Path) -> None:
    """made: labels of an event, a quantity and an outcome mean their names."""
    change(folder, "study.toml", 'event = "shaft_horizontal_down"', 'event = "Delivery"')
    change(folder, "study.toml", '"thorax_lateral_flexion_deg"', '"Thorax lateral flexion"')
    change(folder, "study.toml", 'outcome = "attack_angle_deg"', 'outcome = "attack angle"')
    assert open_study(folder).hunches[0] == original(folder)


def original(folder: Path) -> Hunch:
    return Hunch("tilt and attack", "attack_angle_deg", "thorax_lateral_flexion_deg", "shaft_horizontal_down",
                 "within", "positive", ("clubhead_speed_mps", "stature_m"), 0.5)  # fmt: skip


def test_a_fault_hides_no_other(folder: Path) -> None:
    """made: a question with an unknown key has its names checked too; an unknown golfer hides nothing."""
    change(folder, "study.toml", 'expect = "positive"', 'expct = "positive"')
    change(folder, "study.toml", "thorax_lateral_flexion_deg", "thorax_lateral_flexon_deg")
    change(folder, "swings.csv", "S4,G01", "S4,G09")
    change(folder, "golfers.csv", "1.80", '"12,4x"')
    text = faults_of(folder)
    assert "expct: this key is not known" in text
    assert "there is no posture quantity thorax_lateral_flexon_deg" in text
    assert "there is no golfer G09" in text


OVERRIDES = """
[club.driver]
soled_at_address = false
reference_behind_face_cm = 1.5
[ball.driver]
teed = true
[session.day2.lab]
up = "-Z"
rate_hz = 500
[session.day2.landmarks]
c7 = "C7x"
[session.day2.errors]
placement_deg = 3.0
"""


def test_settings_by_club_session_and_swing(folder: Path) -> None:
    """made: a swing's own row wins over its club's settings, those over its session's, those over the study's."""
    with (folder / "study.toml").open("a", encoding="utf-8") as file:
        file.write(OVERRIDES)
    text = "swing,golfer,capture,phase,session,club,hand,soled,surface,lie,shot\n"
    rows = ["day1,iron,,,,,", "day1,driver,,,,,", "day2,driver,right,yes,mat,uphill,half"]
    text += "".join(f"S{i},G02,s{i}.c3d,a,{row}\n" for i, row in enumerate(rows, start=1))
    (folder / "swings.csv").write_text(text, encoding="utf-8")
    study = open_study(folder)
    one, two, three = (study.setup_for_swing(f"S{i}") for i in (1, 2, 3))
    assert (one.soled_at_address, one.teed, one.hand, one.up) == (True, False, "left", "+Z")
    assert (two.soled_at_address, two.teed, two.reference_behind_face_cm) == (False, True, 1.5)
    assert (three.up, three.rate_hz, three.hand) == ("-Z", 500, "right")
    assert (three.soled_at_address, three.teed, three.surface) == (True, False, "mat")
    assert (three.lie, three.shot) == ("uphill", "half")
    assert three.landmarks == {"asis_left": ("LASI",), "c7": ("C7x",)}
    assert study.errors_of(study.swings[study.swings["session"] == "day2"]).placement_deg == 3.0
    assert study.errors_of(study.swings).placement_deg is None


@pytest.mark.parametrize(
    ("added", "words"),
    [
        (
            "[club.drver]\nsoled_at_address = false\n",
            "[club.drver] or [ball.drver]: there is no club or session drver",
        ),
        ("[club.x]\nsoled = false\n", "[club.x] soled: this key is not known"),
        ('[session.day2.lab]\nup = "+X"\n', "[session.day2.lab] target: is parallel to up"),
        ("[session.day2.contact]\nfat_behind = 1\n", "[session.day2] contact: this key is not known"),
        ('[[accept]]\nswing = "S1"\ncheck = "size"\n', "[[accept]] 1: this entry has no reason"),
        (
            '[[accept]]\nswing = "S1"\ncheck = "szie"\nreason = "a"\n',
            "[[accept]] 1 check: there is no check szie.",
        ),
        ('[[accept]]\ngolfer = "G09"\ncheck = "size"\nreason = "a child"\n', "there is no golfer G09"),
        ('[static]\nG01 = "gone.c3d"\n', "[static] G01: the static capture gone.c3d is missing"),
        ("[markers]\nradius_mm = -1\n", "[markers] radius_mm: must be a number from 0 to 50"),
    ],
)
def test_faults_of_overrides(folder: Path, added: str, words: str) -> None:
    """made: names and keys of what differs by club or session are checked."""
    with (folder / "study.toml").open("a", encoding="utf-8") as file:
        file.write(added)
    assert words in faults_of(folder)


def test_a_decimal_comma_is_read_or_refused(folder: Path) -> None:
    """made: 12,4 is a number, said so; 1,830 in every row could be thousands and is refused by name."""
    (folder / "golfers.csv").write_text(
        'golfer,hand,group,handicap\nG01,right,skilled,"12,4"\nG02,left,learners,"8,1"\n', encoding="utf-8"
    )
    change(folder, "study.toml", '"stature_m"', '"handicap"')
    study = open_study(folder)
    assert study.golfers["handicap"].tolist() == [12.4, 8.1]
    assert study.notes == ("golfers.csv: the column handicap has decimal commas, and was read as numbers",)
    change(folder, "golfers.csv", '"12,4"', '"1,830"')
    change(folder, "golfers.csv", '"8,1"', '"1,765"')
    found = faults_of(folder)
    assert "golfers.csv, rows 2, 3: the number 1,830 in the column handicap may have a decimal comma" in found


def test_an_answer_takes_the_errors_of_its_own_sessions() -> None:
    """Truth: made. Placement 3 and 4 deg in two sessions: root mean square 3.54 over sessions, whatever their swings;
    soft tissue over swings."""
    days = {"a": Errors(3.0, 1.0), "b": Errors(4.0, 2.0)}
    study = Study(
        Path(),
        "",
        "",
        Setup(),
        pd.DataFrame(),
        pd.DataFrame(),
        {},
        pd.DataFrame(),
        errors=Errors(2.0),
        session_errors=days,
    )
    swings = pd.DataFrame({"session": ["a", "a", "a", "b"]})
    found = study.errors_of(swings)
    assert found.placement_deg == pytest.approx(12.5**0.5)
    assert found.soft_tissue_deg == pytest.approx((7 / 4) ** 0.5)
    assert study.errors_of(swings[:3]) == days["a"]
    assert study.errors_of(pd.DataFrame({"swing": ["x"]})) == Errors(2.0)


def test_a_search_may_name_golfers_whose_swings_are_still_to_come(folder: Path) -> None:
    """Truth: made. A golfer of golfers.csv without a swing is known; one who is in neither table is not."""
    with (folder / "golfers.csv").open("a", encoding="utf-8") as stream:
        stream.write("G03,right,skilled,1.75\n")
    search = '\n[[screen]]\nname = "s"\noutcome = "attack_angle_deg"\nwhere = { golfer = ["G01", "G03"] }\n'
    with (folder / "study.toml").open("a", encoding="utf-8") as stream:
        stream.write(search)
    assert open_study(folder).screens[0].where == {"golfer": ["G01", "G03"]}
    change(folder, "study.toml", '"G03"', '"G04"')
    assert "there is no golfer G04" in faults_of(folder)
