"""The stick shot as a study: a real whole-body capture of an implement swung at an object on the ground."""

from __future__ import annotations

import shutil
from pathlib import Path

STUDY = """
title = "A stick shot"
[lab]
up = "+Z"
target = [1.0, 0.24, 0.0]
[landmarks]
jugular_notch = "CLAV"
xiphoid = "STRN"
c7 = "C7"
t8 = "T10"
asis_left = "LASI"
asis_right = "RASI"
psis_left = "LPSI"
psis_right = "RPSI"
acromion_left = "LSHO"
acromion_right = "RSHO"
elbow_lateral_left = "LELB"
elbow_lateral_right = "RELB"
wrist_radial_left = "LWRA"
wrist_ulnar_left = "LWRB"
wrist_radial_right = "RWRA"
wrist_ulnar_right = "RWRB"
hand_left = "LFIN"
hand_right = "RFIN"
knee_lateral_left = "LKNE"
knee_lateral_right = "RKNE"
ankle_lateral_left = "LANK"
ankle_lateral_right = "RANK"
heel_left = "LHEE"
heel_right = "RHEE"
toe_left = "LTOE"
toe_right = "RTOE"
head_front_left = "LFHD"
head_front_right = "RFHD"
head_back_left = "LBHD"
head_back_right = "RBHD"
club_shaft_1 = ["1", "2"]
club_shaft_2 = ["3", "4"]
club_shaft_3 = ["5", "6"]
clubhead = ["7", "9"]
[ball]
position = [-219.0, -86.0, 45.0]
"""


def write_stick_study(folder: Path, capture: Path) -> Path:
    """A study folder of one swing around the real capture."""
    (folder / "captures").mkdir(parents=True)
    (folder / "study.toml").write_text(STUDY, encoding="utf-8")
    (folder / "golfers.csv").write_text("golfer,hand,group\nP1,right,players\n", encoding="utf-8")
    (folder / "swings.csv").write_text(f"swing,golfer,capture\nshot,P1,{capture.name}\n", encoding="utf-8")
    shutil.copyfile(capture, folder / "captures" / capture.name)
    return folder
