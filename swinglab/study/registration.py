"""Registration of questions before data collection, protected by a hash, and notes about it in every answer."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pandas as pd

from swinglab.answers.judging import COMPANIONS, Question
from swinglab.answers.rules import ALPHA, FEWEST_GOLFERS, FEWEST_IN_A_GROUP
from swinglab.errors import BadRequest, UnreadableFile
from swinglab.finding_words import Note
from swinglab.study.excluded_by_hand import REGISTRATION as FILE
from swinglab.study.opening import Study
from swinglab.whole_file import replace_text

CLOCK = "the clock of this computer, not witnessed by anyone"


@dataclass(frozen=True, slots=True, eq=False)
class Registration:
    """Content of registered.json: the questions and rules that were registered before data collection.

    when : date and time, by the clock of the computer used. questions : name -> keys and values of each question.
    captures : swing -> SHA-256 of its capture, for captures that existed. swings : swings that existed, including those
    without a capture, which have only outcomes of another device. excluded : swings excluded at that time.
    errors : measurement errors of the study. rules : rules of judging, such as alpha. whole : whether the hash in the
    file matches its text, so that the file has not been edited.
    """

    when: str
    questions: Mapping[str, Any]
    captures: Mapping[str, str]
    swings: Sequence[str]
    excluded: Sequence[str]
    errors: Mapping[str, Any]
    rules: Mapping[str, Any]
    whole: bool


def register_study(study: Study) -> Path:
    """Write registered.json and return its path.

    The file contains the questions with their smallest effects, the rules of judging, the exclusions, the swings that
    exist already, and the SHA-256 of their captures.

    Raises
    ------
    BadRequest
        The study is already registered, or study.toml has no question.
    OSError
        The file cannot be written.
    """
    path = study.folder / FILE
    if path.exists():
        raise BadRequest(
            "this study is already registered",
            file=path,
            do="keep the registration; the report names every question that was changed later",
        )
    if not study.questions:
        raise BadRequest("the study has no question to register", file="study.toml", do="add a [[hunch]]")
    captures = {swing: _sha256(file) for swing, file in sorted(study.captures.items()) if file.exists()}
    # A swing without a capture has only outcomes of another device.
    not_recorded = set(study.captures) - set(captures)
    swings = sorted(set(study.swings["swing"].astype(str)) - not_recorded)
    body = {
        "registered": datetime.now(UTC).isoformat(timespec="seconds"),
        "clock": CLOCK,
        "questions": {question.name: _plain(question) for question in study.questions},
        "errors": asdict(study.errors),
        "rules": _rules(),
        "excluded": sorted(_excluded(study)),
        "swings": swings,
        "captures": captures,
    }  # fmt: skip
    text = json.dumps(body | {"sha256": _hash(body)}, indent=1, ensure_ascii=False) + "\n"
    return replace_text(path, text)


def read_registration(folder: Path) -> Registration | None:
    """Return the registration in a study folder; None if the study is not registered.

    Raises
    ------
    UnreadableFile
        registered.json was not written by the command `register`, or is damaged.
    """
    path = folder / FILE
    if not path.exists():
        return None
    try:
        if not path.is_file():  # a link to a device would be read for ever
            raise ValueError(f"{FILE} is a folder or a device, not a file")
        held = json.loads(path.read_text(encoding="utf-8"))
        given = held.pop("sha256")
        parts = {part: dict(held[part]) for part in ("questions", "captures", "errors", "rules")}
        if not all(isinstance(asked, dict) for asked in parts["questions"].values()):
            raise ValueError(f"an entry under questions in {FILE} is not a table")
        excluded = [str(swing) for swing in held["excluded"]]
        # Files of earlier versions name only the swings with a capture.
        swings = [str(swing) for swing in held.get("swings", held["captures"])]
        return Registration(
            when=str(held["registered"]),
            swings=swings,
            excluded=excluded,
            whole=given == _hash(held),
            **parts,
        )
    except (OSError, ValueError, KeyError, AttributeError, TypeError, RecursionError) as error:
        raise UnreadableFile(
            "this file is damaged or was not written by the command register",
            file=FILE,
            do="restore the original file, or remove it",
        ) from error


def registration_notes(
    registration: Registration | None, study: Study, question: Question, rows: pd.DataFrame
) -> list[Note]:
    """Return notes for the answer to a question: what was registered, and what was changed later.

    They count the swings that existed at registration and those added later, and report changed captures, changed
    questions and exclusions after registration.

    Parameters
    ----------
    registration : Registration or None
        None for a study that is not registered; there are no notes then.
    study : Study
    question : Hunch, Comparison or Lesson
    rows : pandas.DataFrame
        Rows of the swing table used for the question.
    """
    if registration is None:
        return []
    swings: Sequence[str] = [str(name) for name in rows["swing"]] if "swing" in rows else []
    golfer = getattr(question, "golfer", None)
    if golfer is not None and swings:
        swings = [str(name) for name in rows.loc[rows["golfer"].astype(str) == str(golfer), "swing"]]
    there = set(registration.swings)
    before = [name for name in swings if name in there]
    notes = [Note("registered", when=registration.when, before=len(before), later=len(swings) - len(before))]
    changed = sum(
        _sha256(study.captures[name]) != registration.captures[name]
        for name in swings
        if name in registration.captures and name in study.captures and study.captures[name].exists()
    )  # fmt: skip
    if changed:
        notes.append(Note("captures_changed", count=changed))
    asked = registration.questions.get(question.name)
    if asked is None:
        notes.append(Note("not_registered"))
    elif differ := sorted(key for key, value in _plain(question).items() if asked.get(key) != value):
        notes.append(Note("question_changed", keys=", ".join(differ)))
    of_golfer = study.swings.set_index("swing")["golfer"].astype(str)
    since = sorted(
        swing for swing in _excluded(study) - set(registration.excluded)
        if golfer is None or of_golfer.get(swing) == str(golfer)
    )  # fmt: skip
    if since:
        notes.append(Note("excluded_since", count=len(since), names=", ".join(since)))
    if dropped := sorted(set(registration.questions) - {one.name for one in study.questions}):
        notes.append(Note("questions_dropped", count=len(dropped), names="; ".join(dropped)))
    now = {"[errors]": asdict(study.errors), "rules": _rules()}
    then = {"[errors]": registration.errors, "rules": registration.rules}
    if differ := [name for name in now if now[name] != then[name]]:
        notes.append(Note("question_changed", keys=", ".join(differ)))
    if not registration.whole:
        notes.append(Note("registration_edited"))
    return notes


def _rules() -> dict[str, Any]:
    """Return the rules by which answers are judged, in types that JSON can store."""
    return {
        "alpha": ALPHA, "fewest_golfers": FEWEST_GOLFERS, "fewest_in_a_group": FEWEST_IN_A_GROUP,
        "companions": {level: list(keys) for level, keys in COMPANIONS.items()},
    }  # fmt: skip


def _excluded(study: Study) -> set[str]:
    """Return the swings that no answer uses: excluded by hand, or marked in swings.csv."""
    marked = study.swings.get("exclude", pd.Series("", index=study.swings.index)) != ""
    return {*study.excluded["swing"].astype(str), *study.swings.loc[marked, "swing"].astype(str)}


def _plain(question: Question) -> dict[str, Any]:
    """Return a question in types that JSON can store."""
    return json.loads(json.dumps(asdict(question) | {"kind": type(question).__name__.lower()}))


def _hash(body: Mapping[str, Any]) -> str:
    return hashlib.sha256(json.dumps(body, sort_keys=True, ensure_ascii=False).encode()).hexdigest()


def _sha256(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()
