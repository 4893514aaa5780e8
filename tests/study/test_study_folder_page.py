"""references/study_folder.md, the users' page: every key that study.toml may hold stands in it, with its default."""

from __future__ import annotations

import re
import tomllib
from dataclasses import fields
from pathlib import Path

import pytest

from swinglab.records import Comparison, Errors, Hunch, Lesson, PostureScreen, Setup
from swinglab.report.participants import TO_COMPLETE
from swinglab.study.settings import NEEDED, QUESTIONS, SECTIONS, TOP, read_settings

PAGE = (Path(__file__).parents[2] / "references" / "study_folder.md").read_text(encoding="utf-8")
EXAMPLE = re.search(r"```toml\n(.*?)```", PAGE, re.DOTALL).group(1)  # type: ignore[union-attr]
RECORDS = {"hunch": Hunch, "comparison": Comparison, "lesson": Lesson, "screen": PostureScreen}
#: Keys whose record has another name for them.
RENAMED = {("ball", "marker"): "ball_marker", ("markers", "radius_mm"): "marker_radius_mm",
           ("contact", "fat_behind"): "fat_behind_cm",
           ("contact", "thin_above"): "thin_above_cm"}  # fmt: skip


def rows() -> dict[tuple[str, str], str]:
    """(section, key) -> what stands without it, from the page's table."""
    found, section = {}, ""
    table = PAGE.split("| section | key |")[1].split("\n\n")[0]
    for line in table.splitlines()[2:]:
        cells = [cell.strip() for cell in line.strip("|").split("|")]
        section = cells[0].strip("`[]") or section
        found[section, cells[1].strip("`")] = cells[3]
    return found


def declared() -> set[tuple[str, str]]:
    sections = {"": TOP, **SECTIONS, **QUESTIONS}
    return {(section, key) for section, checks in sections.items() for key in checks}


def test_every_key_stands_in_the_table_and_no_other() -> None:
    """Truth: made."""
    named = {
        ("landmarks", "a landmark"),
        ("events", "a label in the files"),
        ("neutral", "a golfer"),
        ("static", "a golfer"),
    }
    assert set(rows()) == declared() | named


def test_the_example_is_whole_and_without_a_fault(tmp_path: Path) -> None:
    """Truth: made. Every section and key, read by the kit itself."""
    (tmp_path / "study.toml").write_text(EXAMPLE, encoding="utf-8")
    settings, faults = read_settings(tmp_path / "study.toml")
    assert faults == []
    raw = tomllib.loads(EXAMPLE)
    held = {("", key) for key in raw if key in TOP}
    held |= {(section, key) for section in SECTIONS for key in raw[section] if key != "driver"}
    held |= {(kind, key) for kind in QUESTIONS for key in raw[kind][0]}
    assert held == declared()
    assert settings.by_name["driver"] == {"soled_at_address": False, "teed": True}
    assert settings.by_session["day2"] == {"up": "+Y", "ground": 12.0}
    assert settings.session_errors["day2"].placement_deg == 2.5
    assert settings.setup.face_landmarks == ("clubhead_1", "clubhead_2", "clubhead_3")


@pytest.mark.parametrize("place", sorted(declared() - {("", "question"), ("", "title")}))
def test_what_stands_without_a_key_is_its_default(place: tuple[str, str]) -> None:
    """Truth: made. Numbers and words in the page's column are those of the records; needed keys say so."""
    section, key = place
    shown = rows()[place]
    if key in NEEDED.get(section, ()) or place in {("lab", "up"), ("lab", "target")}:
        assert shown == "needed"
        return
    if section in {"ethics", "participants"}:  # plain words, for the methods text alone
        assert shown == TO_COMPLETE
        return
    kept = RECORDS.get(section, Errors if section == "errors" else Setup)
    defaults = {field.name: field.default for field in fields(kept)}
    default = defaults.get(RENAMED.get(place, key))
    if isinstance(default, bool):
        assert shown == str(default).lower()
    elif isinstance(default, int | float):
        assert float(shown) == default
    elif isinstance(default, str):
        assert shown.strip('`"') == default
    else:
        assert shown != "needed" and not re.fullmatch(r"[\d.]+", shown)
