"""SHA-256 hashes of files, and of the parts of this package's source code that determine the measured numbers."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping
from functools import cache
from pathlib import Path

PACKAGE = Path(__file__).resolve().parent.parent

#: Parts of the package that measured swings, answers and reports depend on. Each list has its own hash, so that a
#: change of the report does not invalidate measured swings.
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
    """Return whether a path is an existing file; False (no error) for a name that is too long for the file system."""
    try:
        return path.is_file()
    except OSError:
        return False


def is_there(path: Path) -> bool:
    """Return whether a file or folder exists; False (no error) for a name that is too long for the file system."""
    try:
        return path.exists()
    except OSError:
        return False


def hash_file(path: Path) -> str:
    """Return the SHA-256 of a file as hexadecimal digits."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def hash_files(paths: Mapping[str, Path]) -> dict[str, str]:
    """Return a dict from name to SHA-256 of each file; files that do not exist are left out."""
    return {name: hash_file(path) for name, path in paths.items() if is_file(path)}


@cache
def source_hash(parts: tuple[str, ...]) -> str:
    """Return the SHA-256 of this package's source code and data files in the given subpackages and modules.

    Line ends are normalised, so that the hash is the same on Windows and Linux. It is computed once in each process and
    therefore describes the code that was loaded, not later edits of the files.
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
