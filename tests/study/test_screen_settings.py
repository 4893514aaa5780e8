"""[[screen]] and found_in in study.toml. Truth: made."""

from __future__ import annotations

from pathlib import Path

import pytest

from swinglab.errors import StudyFaults
from swinglab.records import FoundIn, PostureScreen
from swinglab.study import open_study
from swinglab.study.settings import settings_of

LAB = {"title": "t", "lab": {"up": "+Z", "target": "+X"}}


def read(**more):
    return settings_of(LAB | more)


def test_a_screen_is_read_with_its_selection() -> None:
    """Truth: made. Events by label, where by value and by range."""
    entry = {
        "name": "s", "outcome": "attack_angle_deg", "level": "golfer", "golfer": "G07", "parts": ["thorax"],
        "events": ["impact"], "smallest_effect": 0.5, "where": {"club": ["7 iron"], "order": {"from": 1, "to": 50}},
    }  # fmt: skip
    settings, faults = read(screen=[entry])
    assert not faults
    assert settings.screens == (
        PostureScreen(
            "s", "attack_angle_deg", "golfer", "G07", ("thorax",), ("impact",), (), 0.5, entry["where"]
        ),
    )


def test_found_in_is_read() -> None:
    """Truth: made. golfer, session and swing become the record's lists."""
    entry = {
        "name": "h", "outcome": "attack_angle_deg", "posture": "thorax_flexion_deg", "event": "impact",
        "expect": "positive", "found_in": {"golfer": ["G01", "G02"], "session": ["a"]},
    }  # fmt: skip
    settings, faults = read(hunch=[entry])
    assert not faults and settings.hunches[0].found_in == FoundIn(("G01", "G02"), ("a",))


def test_wrong_selections_are_named() -> None:
    """Truth: made. Each fault names its place."""
    screen = {"name": "s", "outcome": "attack_angle_deg", "where": {"club": "7 iron"}}
    hunch = {"name": "h", "outcome": "o", "posture": "p", "event": "impact", "found_in": {"players": ["G01"]}}
    _, faults = read(
        screen=[screen, {"name": "t", "outcome": "o", "where": {"order": {"above": 3}}}], hunch=[hunch]
    )
    said = "\n".join(str(fault) for fault in faults)
    assert "[[screen]] 1 where" in said and "club must be a list" in said
    assert "[[screen]] 2 where" in said and "[[hunch]] 1 found_in" in said


def test_a_selection_of_numbers_finds_them(folder: Path) -> None:
    """Truth: made. Numbers of swings.csv are read as 1.0, and the selection [1, 2] was refused: no order 1."""
    screen = """[[screen]]
name = "s"
outcome = "attack_angle_deg"
smallest_effect = 0.5
where = {order = [1, 2]}
"""
    settings = (folder / "study.toml").read_text(encoding="utf-8")
    (folder / "study.toml").write_text(settings + screen, encoding="utf-8")
    open_study(folder)
    (folder / "study.toml").write_text(settings + screen.replace("[1, 2]", "[1, 99]"), encoding="utf-8")
    with pytest.raises(StudyFaults, match="there is no order 99"):
        open_study(folder)
