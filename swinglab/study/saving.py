"""Adding a question to study.toml; the other contents of the file, including comments, are not changed."""

from __future__ import annotations

import json
import os
import tempfile
import tomllib
from collections.abc import Mapping
from dataclasses import fields
from pathlib import Path
from typing import Any

from swinglab.errors import StudyFaults
from swinglab.records import Comparison, FoundIn, Hunch, Lesson, PostureScreen
from swinglab.study.opening import Study
from swinglab.study.question_names import question_faults
from swinglab.study.settings import FILE, settings_of

Question = Hunch | Comparison | Lesson | PostureScreen
_KINDS = {Hunch: "hunch", Comparison: "comparison", Lesson: "lesson", PostureScreen: "screen"}


def question_toml(question: Question) -> str:
    """Return a question as lines of study.toml; keys without a value are left out.

    Examples
    --------
    >>> print(question_toml(Comparison("a", "stature_m", None, "group", smallest_effect=0.1)))
    [[comparison]]
    name = "a"
    of = "stature_m"
    between = "group"
    smallest_effect = 0.1
    """
    rows = [f"[[{_KINDS[type(question)]}]]"]
    for item in fields(question):
        value = getattr(question, item.name)
        if value is None or value == "" or (isinstance(value, tuple | Mapping) and not value):
            continue
        if isinstance(value, FoundIn):
            value = {
                name.removesuffix("s"): getattr(value, name) for name in ("golfers", "sessions", "swings")
            }
            value = {name: names for name, names in value.items() if names}
        rows.append(f"{item.name} = {_toml(value)}")
    return "\n".join(rows)


def _toml(value: Any) -> str:
    if isinstance(value, Mapping):
        return "{ " + ", ".join(f"{_key(name)} = {_toml(entry)}" for name, entry in value.items()) + " }"
    if isinstance(value, list | tuple):
        return "[" + ", ".join(_toml(entry) for entry in value) + "]"
    if isinstance(value, str):
        return json.dumps(value, ensure_ascii=False)
    return str(value).lower() if isinstance(value, bool) else repr(value)


def _key(name: str) -> str:
    plain = name.isascii() and all(letter.isalnum() or letter in "_-" for letter in name)
    return name if plain else json.dumps(name, ensure_ascii=False)


def save_question(study: Study, question: Question) -> Path:
    """Add a question at the end of a study's study.toml and return the path of the file.

    Raises
    ------
    StudyFaults
        The question is not valid, for example because its name is already used or a column is unknown. The file is
        then unchanged.
    """
    path = study.folder / FILE
    before = path.read_text(encoding="utf-8")
    after = before.rstrip("\n") + "\n\n" + question_toml(question) + "\n"
    settings, faults = settings_of(tomllib.loads(after.removeprefix("\ufeff")))
    faults = [*faults, *question_faults(settings, study.golfers, study.swings)]
    if faults:
        raise StudyFaults(faults, file=FILE)
    handle, beside = tempfile.mkstemp(prefix=f".{FILE}.", dir=path.parent)
    try:
        with os.fdopen(handle, "w", encoding="utf-8", newline="") as file:
            file.write(after)
        Path(beside).chmod(path.stat().st_mode & 0o777)
        Path(beside).replace(path)
    except BaseException:
        Path(beside).unlink(missing_ok=True)
        raise
    return path
