"""Usual mistakes in a study, each with what the gate must say of it; the list was written before the gate's code.

The studies are small: two golfers (G01 right-handed, G02 left-handed) with swings of the stick golfer, as pose tables.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

import numpy as np
from gate.stick_golfer import pose_table, swing, to_lab

Points = dict[str, np.ndarray]
STUDY = """
title = "A study with a mistake"
[lab]
up = "+Z"
target = "+X"
unit = "mm"
[club]
soled_at_address = true
reference_behind_face_cm = 0
"""
GOLFERS = "golfer,hand,group\nG01,right,a\nG02,left,a\n"
SWINGS = "swing,golfer,capture\n" + "".join(f"S{k},G0{1 + (k > 2)},s{k}.csv\n" for k in range(1, 5))
RATE_HZ = 200.0


class Mistake(NamedTuple):
    """A mistake. edits : (file, old, new) of the study's texts. capture : changes the points of the swings in `of` (all
    where empty). check : exit code of `check`; words : what `check` and `measure` must both say."""

    name: str
    words: tuple[str, ...]
    check: int
    edits: tuple[tuple[str, str, str], ...] = ()
    capture: Callable[[Points], Points] | None = None
    of: tuple[int, ...] = ()


def swing_points(number: int) -> tuple[np.ndarray, Points]:
    """The points (mm, laboratory) of a swing of the right study."""
    hand, stature = ("right", 1.80) if number < 3 else ("left", 1.66)
    t, at = swing("iron", hand=hand, stature=stature, seed=number, rate_hz=RATE_HZ, before_s=1.7, after_s=0.5)
    return t, to_lab(at)


def write_mistake(folder: Path, mistake: Mistake | None = None) -> Path:
    """The right study, or one with a mistake."""
    (folder / "captures").mkdir(parents=True)
    texts = {"study.toml": STUDY, "golfers.csv": GOLFERS, "swings.csv": SWINGS}
    for file, old, new in mistake.edits if mistake else ():
        assert old in texts[file], (file, old)
        texts[file] = texts[file].replace(old, new)
    for name, text in texts.items():
        (folder / name).write_text(text, encoding="utf-8")
    for number in range(1, 5):
        _, at = swing_points(number)
        if mistake and mistake.capture and (not mistake.of or number in mistake.of):
            at = mistake.capture(at)
        t = np.arange(len(next(iter(at.values())))) / RATE_HZ
        table = pose_table(t, at)
        if mistake and mistake.name == "times in milliseconds":
            table["time_s"] *= 1000
        path = folder / "captures" / f"s{number}.csv"
        table.round(4).to_csv(path, index=False)
        if mistake and mistake.name == "damaged file" and number == 1:
            path.write_bytes(path.read_bytes()[:120])
    return folder


def exchanged(one: str, other: str) -> Callable[[Points], Points]:
    """Two labels exchanged."""
    return lambda at: {**at, one: at[other], other: at[one]}


def instead(name: str, of: str) -> Callable[[Points], Points]:
    """A label on another landmark's marker."""
    return lambda at: {**at, name: at[of]}


def _joined(first: Points, second: Points) -> Points:
    """One capture after the other, walked back in a second."""
    share = np.linspace(0, 1, round(RATE_HZ))[:, None]
    share = share * share * (3 - 2 * share)
    return {
        name: np.concatenate([first[name], first[name][-1] * (1 - share) + path[0] * share, path])
        for name, path in second.items()
    }


def two_swings(at: Points) -> Points:
    """The same swing twice in one file."""
    return _joined(at, at)


def practice_swing(at: Points) -> Points:
    """A swing 6 cm over the ball, then the strike."""
    over = {
        name: path + np.array([0, 0, 60.0]) if name.startswith("club") else path for name, path in at.items()
    }
    over["ball"] = np.broadcast_to(at["ball"][0], at["ball"].shape)
    return _joined(over, at)


def ball_moved(at: Points) -> Points:
    """The ball lies 15 cm aside at first."""
    ball = at["ball"].copy()
    ball[:80, 0] += 150.0
    return {**at, "ball": ball}


def club_marker_off(at: Points) -> Points:
    """The clubhead's marker falls off before the swing and stays on the ground."""
    head = at["clubhead"].copy()
    head[100:] = head[100]
    return {**at, "clubhead": head}


def larger(at: Points) -> Points:
    """Another golfer, 8 % larger."""
    return {name: path * 1.08 if name != "ball" else path for name, path in at.items()}


MISTAKES = (
    Mistake(
        "up reversed",
        ("[up]", "[lab] up", 'up = "+Z" everything agrees'),
        1,
        (("study.toml", 'up = "+Z"', 'up = "-Z"'),),
    ),
    Mistake(
        "up another axis",
        ("[up]", 'up = "+Z" everything agrees'),
        1,
        (("study.toml", 'up = "+Z"', 'up = "+Y"'),),
    ),
    Mistake(
        "up and target exchanged",
        ("[up]", "[lab] up", "[lab] target"),
        1,
        (("study.toml", 'up = "+Z"\ntarget = "+X"', 'up = "+X"\ntarget = "+Z"'),),
    ),
    Mistake(
        "target reversed",
        ("[target]", 'target = "+X" everything agrees'),
        1,
        (("study.toml", 'target = "+X"', 'target = "-X"'),),
    ),
    Mistake(
        "target across",
        ("[target]", 'target = "+X" everything agrees'),
        1,
        (("study.toml", 'target = "+X"', 'target = "+Y"'),),
    ),
    Mistake(
        "left-hander entered as right",
        ("[hand]", "golfers.csv hand = left everything agrees", "S3, S4"),
        1,
        (("golfers.csv", "G02,left", "G02,right"),),
    ),
    Mistake(
        "right-hander entered as left",
        ("[hand]", "golfers.csv hand = right everything agrees", "S1, S2"),
        1,
        (("golfers.csv", "G01,right", "G01,left"),),
    ),
    Mistake(
        "mm read as m",
        ("[unit]", "does not have human size", "1000 times as small"),
        1,
        (("study.toml", 'unit = "mm"', 'unit = "m"'),),
    ),
    Mistake(
        "mm read as cm", ("[unit]", "10 times as small"), 1, (("study.toml", 'unit = "mm"', 'unit = "cm"'),)
    ),
    Mistake(
        "one file in m",
        ("[unit]", "1000 times as large", "S2"),
        1,
        capture=lambda at: {name: path / 1000 for name, path in at.items()},
        of=(2,),
    ),
    Mistake(
        "ASIS labels exchanged",
        ("[sides]", "asis_left and asis_right are exchanged"),
        1,
        capture=exchanged("asis_left", "asis_right"),
    ),
    Mistake(
        "front and back of the chest exchanged",
        ("[front_back]", "c7 and jugular_notch are exchanged"),
        1,
        capture=exchanged("c7", "jugular_notch"),
    ),
    Mistake(
        "heel and toe exchanged",
        ("[front_back]", "heel_left and toe_left are exchanged"),
        1,
        capture=exchanged("heel_left", "toe_left"),
    ),
    Mistake(
        "knees exchanged",
        ("[sides]", "knee_lateral_left and knee_lateral_right are exchanged"),
        1,
        capture=exchanged("knee_lateral_left", "knee_lateral_right"),
    ),
    Mistake(
        "club ends exchanged",
        ("[club_ends]", "club_butt and clubhead are exchanged"),
        1,
        capture=exchanged("clubhead", "club_butt"),
    ),
    Mistake(
        "wrong label",
        ("[proportions]", "asis_left, asis_right"),
        0,
        capture=instead("asis_left", "knee_lateral_left"),
    ),
    Mistake(
        "missing golfer",
        ("there is no golfer G02 in golfers.csv",),
        2,
        (("golfers.csv", "G02,left,a\n", ""),),
    ),
    Mistake(
        "comma decimals that could be thousands",
        ("the number 1,800 in the column stature_m may have a decimal comma",),
        2,
        (
            (
                "golfers.csv",
                "golfer,hand,group\nG01,right,a\nG02,left,a",
                'golfer,hand,group,stature_m\nG01,right,a,"1,800"\nG02,left,a,"1,660"',
            ),
        ),
    ),
    Mistake("times in milliseconds", ("[time]", "time"), 1),
    Mistake(
        "practice swing",
        ("[passes]", "a practice swing, or several swings"),
        0,
        capture=practice_swing,
        of=(1,),
    ),
    Mistake(
        "two swings", ("[passes]", "a practice swing, or several swings"), 0, capture=two_swings, of=(3,)
    ),
    Mistake(
        "ball marker moved",
        ("[ball]", "the ball moves more than 2 cm before impact", "swing S1"),
        0,
        capture=ball_moved,
        of=(1,),
    ),
    Mistake("damaged file", ("s1.csv",), 1),
    Mistake(
        "another golfer's capture",
        ("[same_lengths]", "differ by more than 5 %", "S4"),
        0,
        capture=larger,
        of=(4,),
    ),
    Mistake(
        "club marker off",
        ("[constant]", "the length of the shaft", "S2"),
        0,
        capture=club_marker_off,
        of=(2,),
    ),
    Mistake(
        "wrong ground",
        ("[ground]", "the feet are above the turf"),
        0,
        (("study.toml", 'target = "+X"', 'target = "+X"\nground = -600'),),
    ),
)
