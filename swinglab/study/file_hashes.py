"""sha256 of files, and of the parts of this package that the numbers depend on."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping
from functools import cache
from pathlib import Path

PACKAGE = Path(__file__).resolve().parent.parent

#: Parts of the package by what depends on them. A change of a report or a notebook invalidates no measured swing.
MEASURING = (
    "conventions.py", "columns", "records", "signals", "load", "segments", "events", "strike", "study/opening.py",
    "study/settings.py", "study/swing.py", "study/results.py", "study/csv_tables.py", "study/long_table.py",
    "study/events_by_hand.py",
    "study/folder_tables.py", "study/names.py", "study/setting_keys.py", "study/gate",
    "study/device_outcomes.py", "study/excluded_by_hand.py", "study/measuring.py",
)  # fmt: skip
ANSWERING = ("statistics", "answers", "finding_words.py", "study/answering.py", "study/registration.py",
             "study/validating.py")  # fmt: skip
REPORTING = ("figures", "report")


def is_file(path: Path) -> bool:
    """Whether a file is there; a name that is too long for the system names none."""
    try:
        return path.is_file()
    except OSError:
        return False


def is_there(path: Path) -> bool:
    """Whether anything is there, as `is_file`."""
    try:
        return path.exists()
    except OSError:
        return False


def hash_file(path: Path) -> str:
    """sha256 of a file, as hexadecimal digits."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def hash_files(paths: Mapping[str, Path]) -> dict[str, str]:
    """sha256 of each file that is there, by its name."""
    return {name: hash_file(path) for name, path in paths.items() if is_file(path)}


@cache
def source_hash(parts: tuple[str, ...]) -> str:
    """sha256 of the package's own source and data in these parts.

    Line ends are normalised, so that a checkout on Windows agrees with one on Linux. Computed once a process:
    it describes the code that was loaded, not an edit made since.
    """
    digest = hashlib.sha256()
    for path in _files(parts):
        digest.update(path.relative_to(PACKAGE).as_posix().encode() + b"\0")
        digest.update(path.read_bytes().replace(b"\r\n", b"\n") + b"\0")
    return digest.hexdigest()


def _files(parts: Iterable[str]) -> list[Path]:
    found: list[Path] = []
    for part in parts:
        path = PACKAGE / part
        inside = path.rglob("*") if path.is_dir() else [path]
        found += [one for one in inside if one.is_file() and "__pycache__" not in one.parts]
    return sorted(set(found))
