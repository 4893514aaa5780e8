"""A study folder that is right, for tests to break one thing at a time."""

from __future__ import annotations

from pathlib import Path

import pytest

STUDY = """
title = "Winter programme"
question = "Does tilt go with a shallower strike?"
[lab]
up = "+Z"
target = "+X"
[landmarks]
asis_left = "LASI"
c7 = ["C7a", "C7b"]
[ball]
marker = "centre"
[club]
soled_at_address = true
[reference]
group = "skilled"
[[hunch]]
name = "tilt and attack"
outcome = "attack_angle_deg"
posture = "thorax_lateral_flexion_deg"
event = "shaft_horizontal_down"
expect = "positive"
adjust = ["clubhead_speed_mps", "stature_m"]
smallest_effect = 0.5
[[comparison]]
name = "groups"
of = "thorax_flexion_deg"
event = "impact"
between = "group"
[[lesson]]
name = "a lesson"
golfer = "G02"
phase = "phase"
of = "thorax_flexion_deg"
event = "impact"
outcome = "low_point_ahead_cm"
"""
GOLFERS = "golfer,hand,group,stature_m\nG01,right,skilled,1.80\nG02,left,learners,1.70\n"
SWINGS = "swing,golfer,capture,phase,order,exclude,impact_s\n" + "".join(
    f"S{i},G0{1 + i % 2},s{i}.c3d,{'before' if i < 4 else 'after'},{i},{'waggle' if i == 5 else ''},\n"
    for i in range(1, 7)
)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A study folder whose captures are there by name only."""
    home = tmp_path / "a study"
    (home / "captures").mkdir(parents=True)
    (home / "study.toml").write_text(STUDY, encoding="utf-8")
    (home / "golfers.csv").write_text(GOLFERS, encoding="utf-8")
    (home / "swings.csv").write_text(SWINGS, encoding="utf-8")
    for i in range(1, 7):
        (home / "captures" / f"s{i}.c3d").write_bytes(b"")
    return home
