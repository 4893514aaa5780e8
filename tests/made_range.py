"""What a session on the range is tried with: a lesson of the small study, and captures that arrive."""

from __future__ import annotations

import shutil
from pathlib import Path

from swinglab.watch import RangeSession

GOLFER = "G01"
LESSON = """
[[lesson]]
name = "keep the tilt"
golfer = "G01"
phase = "phase"
of = "thorax_lateral_flexion_deg"
event = "shaft_horizontal_down"
outcome = "attack_angle_deg"
expect = "positive"
target = [0.0, 4.0]
smallest_effect = 0.5
planned_swings = 8
cue = "lead hip first"
"""


def arrive(session: RangeSession, *files: Path) -> list[str]:
    """Copy files into the study and look until nothing more is entered."""
    for file in files:
        shutil.copy(file, session.folder / "captures" / file.name)
    session.poll()
    return session.poll()
