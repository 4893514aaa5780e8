"""Folders of captures in the labels, axes and units of others, simulated for tests of `begin`.

Independent of the begin code: positions come from the simulated swings, labels from the tables here.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd

from tests.made_c3d_file import write_points

#: Labels as other laboratories write them; a landmark that is not named keeps no marker in the file.
_GAIT = {
    "asis": "{S}ASI", "psis": "{S}PSI", "acromion": "{S}SHO", "elbow_lateral": "{S}ELB",
    "elbow_medial": "{S}MELB", "wrist_radial": "{S}WRA", "wrist_ulnar": "{S}WRB", "hand": "{S}FIN",
    "knee_lateral": "{S}KNE", "knee_medial": "{S}MKNE", "ankle_lateral": "{S}ANK",
    "ankle_medial": "{S}MANK", "heel": "{S}HEE", "toe": "{S}TOE", "head_front": "{S}FHD",
    "head_back": "{S}BHD", "jugular_notch": "CLAV", "xiphoid": "STRN", "c7": "C7", "t8": "T8",
    "clubhead": "CLUBHEAD", "club_butt": "CLUBBUTT", "club_hosel": "HOSEL", "club_shaft_1": "SHAFT1",
    "club_shaft_2": "SHAFT2", "ball": "BALL",
}  # fmt: skip
_SPELLED = {
    "asis": "{side} anterior superior iliac spine", "psis": "{side} posterior superior iliac spine",
    "acromion": "{side} acromion", "elbow_lateral": "{side} elbow lateral epicondyle",
    "elbow_medial": "{side} elbow medial epicondyle", "wrist_radial": "{side} radial styloid",
    "wrist_ulnar": "{side} ulnar styloid", "hand": "{side} third metacarpal",
    "knee_lateral": "{side} knee lat epicondyle", "knee_medial": "{side} knee med epicondyle",
    "ankle_lateral": "{side} lateral malleolus", "ankle_medial": "{side} medial malleolus",
    "heel": "{side} heel", "toe": "{side} toe", "head_front": "{side} front head",
    "head_back": "{side} back head", "jugular_notch": "suprasternal notch", "xiphoid": "xiphoid process",
    "c7": "C7 spinous process", "t8": "T8 spinous process", "clubhead": "club head",
    "club_butt": "grip end", "club_hosel": "hosel", "club_shaft_1": "shaft 1", "club_shaft_2": "shaft 2",
    "ball": "golf ball",
}  # fmt: skip
_ISB = {
    "asis": "ASIS_{S}", "psis": "PSIS_{S}", "acromion": "AC_{S}", "elbow_lateral": "EL_{S}",
    "elbow_medial": "EM_{S}", "wrist_radial": "RS_{S}", "wrist_ulnar": "US_{S}", "hand": "MC3_{S}",
    "knee_lateral": "FLE_{S}", "knee_medial": "FME_{S}", "ankle_lateral": "LM_{S}",
    "ankle_medial": "MM_{S}", "heel": "Calcaneus_{S}", "toe": "Toe_{S}", "head_front": "HeadFront_{S}",
    "head_back": "HeadBack_{S}", "jugular_notch": "IJ", "xiphoid": "PX", "c7": "C7", "t8": "T8",
    "clubhead": "ClubFace", "club_butt": "Butt", "club_hosel": "ClubHosel", "club_shaft_1": "ClubShaft_1",
    "club_shaft_2": "ClubShaft_2", "ball": "GolfBall",
}  # fmt: skip
_DOTTED = {
    "asis": "{S}.ASIS", "psis": "{S}.PSIS", "acromion": "{S}.Acromium", "elbow_lateral": "{S}.Elbow.Lat",
    "elbow_medial": "{S}.Elbow.Med", "wrist_radial": "{S}.Wrist.Rad", "wrist_ulnar": "{S}.Wrist.Uln",
    "hand": "{S}.Hand.MC3", "knee_lateral": "{S}.Knee.Lat", "knee_medial": "{S}.Knee.Med",
    "ankle_lateral": "{S}.Ankle.Lat", "ankle_medial": "{S}.Ankle.Med", "heel": "{S}.Heel",
    "toe": "{S}.Toe.Tip", "head_front": "{S}.Head.Front", "head_back": "{S}.Head.Rear",
    "jugular_notch": "Sternal.Notch", "xiphoid": "Xiphoid", "c7": "Cerv.7", "t8": "Thor.8",
    "clubhead": "Club.Head", "club_butt": "Club.Butt", "club_hosel": "Club.Hosel",
    "club_shaft_1": "Club.Shaft.1", "club_shaft_2": "Club.Shaft.2", "ball": "Ball",
}  # fmt: skip
_CODES = {
    "asis": "ias_{S}", "psis": "ips_{S}", "acromion": "acr_{S}", "elbow_lateral": "hle_{S}",
    "elbow_medial": "hme_{S}", "wrist_radial": "rsp_{S}", "wrist_ulnar": "usp_{S}", "hand": "hm3_{S}",
    "knee_lateral": "fle_{S}", "knee_medial": "fme_{S}", "ankle_lateral": "fal_{S}",
    "ankle_medial": "tam_{S}", "heel": "fcc_{S}", "toe": "fm2_{S}", "head_front": "hdf_{S}",
    "head_back": "hdb_{S}", "jugular_notch": "sjn", "xiphoid": "sxs", "c7": "cv7", "t8": "tv8",
    "clubhead": "clubface_ctr", "club_butt": "butt_end", "club_hosel": "hosel", "club_shaft_1": "shaft_1",
    "club_shaft_2": "shaft_2", "ball": "golfball",
}  # fmt: skip
DIALECTS = {"gait": _GAIT, "spelled": _SPELLED, "isb": _ISB, "dotted": _DOTTED, "codes": _CODES}


@dataclass(frozen=True)
class Lab:
    """A laboratory: rows of `axes` are target, up and side (target x up) in the file's axes; `origin_m` of the ball."""

    up: str
    target: str
    unit: str = "mm"
    ground_m: float = 0.0
    ball_m: tuple[float, float] = (0.0, 0.0)

    @property
    def rows(self) -> np.ndarray:
        """(3, 3) rows are target, up and target x up in the file's axes."""
        target, up = _axis(self.target), _axis(self.up)
        return np.stack([target, up, np.cross(target, up)])

    def place(self, points_m: np.ndarray, hand: str) -> np.ndarray:
        """Points of a right-hander in the study frame -> the file's axes and unit."""
        moved = points_m * [1.0, 1.0, -1.0 if hand == "left" else 1.0]
        moved += np.array([self.ball_m[0], self.ground_m, self.ball_m[1]])
        return moved @ self.rows * {"mm": 1000.0, "cm": 100.0, "m": 1.0}[self.unit]


def _axis(name: str) -> np.ndarray:
    return {"+": 1.0, "-": -1.0}[name[0]] * np.eye(3)["XYZ".index(name[1])]


LABS = (
    Lab("+Z", "+X"),
    Lab("+Z", "-Y", "mm", -0.6, (1.2, -0.4)),
    Lab("+Y", "+Z", "m", 0.0, (0.3, 0.2)),
    Lab("+X", "-Z", "mm", 0.35),
    Lab("-Y", "+X", "m", 0.0, (-0.8, 0.5)),
    Lab("-Z", "+Y", "cm", 0.0, (0.5, -0.2)),
    Lab("-X", "+Z", "m", 1.1, (0.0, 2.0)),
)


def label_of(landmark: str, dialect: Mapping[str, str], hand: str) -> str | None:
    """A landmark of a right-hander (left is lead) in a dialect, with the golfer's own side."""
    for side in ("left", "right"):
        if landmark.endswith(f"_{side}"):
            own = side if hand == "right" else {"left": "right", "right": "left"}[side]
            form = dialect.get(landmark.removesuffix(f"_{side}"))
            return None if form is None else form.format(S=own[0].upper(), side=own)
    return dialect.get(landmark)


def write_swing(
    path: Path, points: Mapping[str, np.ndarray], hand: str, rate_hz: float, dialect: Mapping[str, str], lab: Lab,
    *, prefix: str = "", subject: str = "",
) -> list[str]:  # fmt: skip
    """Write a swing's points as C3D or wide table, by the path's ending; the labels that were written."""
    named = {label: name for name in points if (label := label_of(name, dialect, hand)) is not None}
    placed = np.stack([lab.place(points[name], hand) for name in named.values()], axis=1)
    labels = [prefix + label for label in named]
    path.parent.mkdir(parents=True, exist_ok=True)
    if path.suffix == ".c3d":
        write_points(path, labels, placed, rate_hz, lab.unit, subject=subject)
    else:
        write_table(path, labels, placed, rate_hz)
    return labels


def write_table(path: Path, labels: Sequence[str], points: np.ndarray, rate_hz: float) -> None:
    """A wide table: time_s, <label>_x, _y, _z."""
    table: dict[str, np.ndarray] = {"time_s": np.arange(len(points)) / rate_hz}
    for k, label in enumerate(labels):
        for axis, letter in enumerate("xyz"):
            table[f"{label}_{letter}"] = points[:, k, axis]
    pd.DataFrame(table).to_csv(path, index=False)
