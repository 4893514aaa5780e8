"""A small made study in a folder: six golfers of two groups, three swings each, hostile names, broken captures."""

from __future__ import annotations

import atexit
import shutil
import tempfile
from functools import cache
from pathlib import Path

from swinglab import simulate

HOSTILE = '<script>alert("x")</script> & "Ümläut", =1+1'
SETTINGS = """
[[hunch]]
name = '=tilt & <attack>'
outcome = "attack_angle_deg"
posture = "thorax_lateral_flexion_deg"
event = "shaft_horizontal_down"
expect = "positive"
smallest_effect = 0.5
[[comparison]]
name = "</script><b>groups"
of = "thorax_flexion_deg"
event = "impact"
between = "group"
"""


def write_small_study(folder: Path) -> Path:
    """Write it; deterministic, and simulated once for each test process."""
    return Path(shutil.copytree(_simulated(), folder, dirs_exist_ok=True))


@cache
def _simulated() -> Path:
    folder = Path(tempfile.mkdtemp(prefix="small study "))
    atexit.register(shutil.rmtree, folder, ignore_errors=True)
    swings, golfers = [], {}
    for number in range(6):
        hand = "left" if number % 2 else "right"
        golfer = simulate.make_golfer(name=f"G{number + 1:02d}", hand=hand, stature_m=1.66 + 0.03 * number)
        golfers[golfer.name] = {"hand": hand, "group": "skilled" if number < 3 else "<learners>"}
        for turn in range(3):
            more = {
                "thorax_lateral_flexion_deg": 2.0 * (turn - 1) + 0.3 * number,
                "thorax_flexion_deg": 0.5 * turn * number,
            }
            made = simulate.make_swing(
                golfer, more, seed=10 * number + turn, noise_m=0.0005, rate_hz=200.0,
                name=f"{golfer.name}_{turn}", before_s=1.4, after_s=0.5,
            )  # fmt: skip
            swings.append(simulate.StudySwing(made, cells={"order": turn + 1, "note": "=1+1"}))
    study = simulate.SimulatedStudy(
        HOSTILE, swings, golfers=golfers, question="<b>Does it?</b>", settings=SETTINGS
    )
    simulate.write_study(folder, study)
    return folder


def break_captures(folder: Path) -> None:
    """One capture missing, one empty, one a text file; the rest of the study stays."""
    captures = folder / "captures"
    (captures / "G01_0.c3d").unlink()
    (captures / "G02_0.c3d").write_bytes(b"")
    (captures / "G03_0.c3d").write_text("not a capture at all\n" * 100, encoding="utf-8")
