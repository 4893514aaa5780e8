"""A study registered before its data: what is frozen, and what answers say of swings and questions since."""

from __future__ import annotations

import hashlib
import json
from dataclasses import replace
from pathlib import Path

import pandas as pd
import pytest

from swinglab.errors import BadRequest, UnreadableFile
from swinglab.records import Errors, Hunch
from swinglab.study import register_study
from swinglab.study.excluded_by_hand import read_excluded
from swinglab.study.registration import _hash, read_registration, registration_notes

HUNCH = Hunch("tilt", "attack_angle_deg", "thorax_lateral_flexion_deg", "impact", smallest_effect=0.5)


class Made:
    """As much of a study as registration reads."""

    def __init__(self, folder: Path, questions: tuple[Hunch, ...] = (HUNCH,)) -> None:
        self.folder, self.questions, self.errors = folder, questions, Errors(placement_deg=2.0)
        self.excluded = read_excluded(None)
        self.swings = pd.DataFrame({"swing": ["a1", "a2", "a3"], "golfer": "G1", "exclude": ""})
        self.captures = {name: folder / f"{name}.c3d" for name in ("a1", "a2")}
        for name, path in self.captures.items():
            path.write_bytes(name.encode())


def keys(made: Made, question: Hunch = HUNCH, swings: tuple[str, ...] = ("a1", "a2", "a4")) -> dict[str, str]:
    """Notes on a question, by their keys."""
    rows = pd.DataFrame({"swing": swings, "golfer": "G1"})
    notes = registration_notes(read_registration(made.folder), made, question, rows)  # type: ignore[arg-type]
    return {note.key: str(note) for note in notes}


def test_what_is_registered_is_hashed_and_never_overwritten(tmp_path: Path) -> None:
    """Truth: other (hashlib). Questions, rules and captures stand in the file; a second registration is refused."""
    made = Made(tmp_path)
    assert read_registration(tmp_path) is None and keys(made) == {}
    held = json.loads(register_study(made).read_text(encoding="utf-8"))  # type: ignore[arg-type]
    assert held["captures"]["a1"] == hashlib.sha256(b"a1").hexdigest()
    assert held["questions"]["tilt"]["smallest_effect"] == 0.5 and held["rules"]["alpha"] == 0.05
    assert "not witnessed" in held["clock"]
    with pytest.raises(BadRequest, match="already registered"):
        register_study(made)  # type: ignore[arg-type]
    with pytest.raises(BadRequest, match="no question"):
        register_study(Made(tmp_path / "..", ()))  # type: ignore[arg-type]


def test_answers_say_what_was_there_and_what_changed(tmp_path: Path) -> None:
    """Truth: made. Swings there and since; another smallest effect; a new question; an edited capture."""
    made = Made(tmp_path)
    path = register_study(made)  # type: ignore[arg-type]
    notes = keys(made)
    assert list(notes) == ["registered"]
    assert "2 swings of this question existed then, 1 swing added later" in notes["registered"]
    assert "smallest_effect" in keys(made, replace(HUNCH, smallest_effect=0.1))["question_changed"]
    assert "not_registered" in keys(made, replace(HUNCH, name="new"))
    made.questions = (replace(HUNCH, name="new"),)
    assert "1 question registered and later removed: tilt" in keys(made)["questions_dropped"]
    made.questions = (HUNCH,)
    made.swings.loc[1, "exclude"] = "looks odd"
    assert "1 swing excluded after registration (a2)" in keys(made)["excluded_since"]
    assert "excluded_since" not in keys(made, replace(HUNCH, level="golfer", golfer="G2"))
    made.errors = Errors(placement_deg=0.0)
    assert keys(made)["question_changed"].startswith(
        "this question was changed after registration: [errors]."
    )
    made.captures["a1"].write_bytes(b"other")
    assert "1 capture changed" in keys(made)["captures_changed"]
    path.write_text(path.read_text(encoding="utf-8").replace("0.5", "0.7"), encoding="utf-8")
    assert "registration_edited" in keys(made)
    path.write_text("[]", encoding="utf-8")
    with pytest.raises(UnreadableFile):
        read_registration(tmp_path)


def test_swings_of_another_device_alone_existed_too(tmp_path: Path) -> None:
    """Truth: made. They counted as added later; a swing whose capture is missing does, still."""
    made = Made(tmp_path)
    made.captures["a2"].unlink()
    path = register_study(made)  # type: ignore[arg-type]
    all_three = ("a1", "a2", "a3")
    assert (
        "2 swings of this question existed then, 1 swing added later"
        in keys(made, swings=all_three)["registered"]
    )
    held = json.loads(path.read_text(encoding="utf-8"))
    assert held["swings"] == ["a1", "a3"]
    # A file of an earlier version has no list of swings.
    body = {key: value for key, value in held.items() if key not in ("swings", "sha256")}
    path.write_text(json.dumps(body | {"sha256": _hash(body)}), encoding="utf-8")
    notes = keys(made, swings=all_three)
    assert list(notes) == ["registered"]
    assert "1 swing of this question existed then, 2 swings added later" in notes["registered"]
