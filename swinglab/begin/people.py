"""Codes for golfers and sessions from folder and file names; the key to the names is stored outside the study."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path, PurePosixPath

from swinglab.errors import BadRequest
from swinglab.whole_file import replace_text

#: Pattern of a session's folder: a date or a number, perhaps with a word such as day or session, and no name.
_SESSION = re.compile(r"(session|day|visit|week|test|date|s|d|t|v|w)?[\W_]*\d[\d\W_]*", re.IGNORECASE)
_CODE = re.compile(r"G\d{2,}")


@dataclass(frozen=True, slots=True)
class Whose:
    """Golfer and session of a capture, as codes; session is "" if neither folder nor file name gives one."""

    golfer: str
    session: str = ""


@dataclass(frozen=True, slots=True)
class Key:
    """The key to the codes of a study: (kind, name) -> code, where kind is "golfer", "session" or "capture"."""

    codes: dict[tuple[str, str], str]

    def names(self) -> list[str]:
        """Return the names that have a code, longest first; names that serve as their own code are left out."""
        named = (name for (_, name), code in self.codes.items() if name and name != code)
        return sorted(named, key=len, reverse=True)


def key_path(folder: Path) -> Path:
    """Return the path of the file with the key to a study's codes; it is next to the study folder, never in it."""
    return folder.parent / f"{folder.name}_key_to_golfers.csv"


def read_key(path: Path) -> Key:
    """Return the key to a study's codes from its file; an empty key if there is no file.

    Raises BadRequest if a column is missing.
    """
    if not path.is_file():
        return Key({})
    with path.open(encoding="utf-8-sig", newline="") as stream:
        rows = list(csv.DictReader(stream))
    try:
        return Key({(row["kind"], row["name"]): row["code"] for row in rows})
    except KeyError as error:
        raise BadRequest(
            "the file is not a key to golfers' names, which has the columns kind, name and code",
            file=path.name,
            do="restore the original file, or move this file away",
        ) from error  # fmt: skip


def write_key(path: Path, key: Key) -> None:
    """Write the key to a study's codes as a CSV file."""
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\n")
    writer.writerow(["kind", "name", "code"])
    writer.writerows([kind, name, code] for (kind, name), code in key.codes.items())
    replace_text(path, stream.getvalue())


def assign(
    captures: Sequence[str], pattern: str | None, key: Key, taken: Iterable[str]
) -> tuple[dict[str, Whose], Key, str]:
    """Return the golfer and session of every capture, as codes.

    Parameters
    ----------
    captures : sequence of str
        Paths relative to captures/, with slashes.
    pattern : str, optional
        Pattern of file names, or of paths, without extension; ``{golfer}``, ``{session}`` and ``*`` stand for any text.
        By default the first folder is the golfer and the second the session; folders named by dates or numbers are
        sessions.
    key : Key
        Existing codes.
    taken : iterable of str
        Golfer codes in use.

    Returns
    -------
    tuple of dict, Key, str
        Capture -> `Whose`; the key with new codes added; and how golfers were determined, in words.

    Raises
    ------
    BadRequest
        The pattern does not have {golfer} once and {session} at most once, or does not match the name of a capture.
    """
    if pattern:
        named, how = (
            {path: _by_pattern(path, pattern) for path in captures},
            f"found by the pattern {pattern}",
        )
    else:
        named, how = _by_folders(captures)
    codes = dict(key.codes)
    used = {*taken, *codes.values()}
    whose = {}
    for path in captures:
        golfer, session = named[path]
        whose[path] = Whose(
            _code("golfer", golfer, codes, used), _code("session", session, codes, used) if session else ""
        )
    return whose, Key(codes), how


def _code(kind: str, name: str, codes: dict[tuple[str, str], str], used: set[str]) -> str:
    if (kind, name) not in codes:
        if (kind == "golfer" and _CODE.fullmatch(name)) or (kind == "session" and _SESSION.fullmatch(name)):
            code = name
        else:
            form = "G{:02d}" if kind == "golfer" else "S{:d}"
            code = next(c for n in range(1, 10**6) if (c := form.format(n)) not in used)
        codes[(kind, name)] = code
        used.add(code)
    return codes[(kind, name)]


def _by_folders(captures: Sequence[str]) -> tuple[dict[str, tuple[str, str]], str]:
    folders = {path: PurePosixPath(path).parts[:-1] for path in captures}
    if not captures:
        return {}, ""
    firsts = {parts[0] for parts in folders.values() if parts}
    dated = bool(firsts) and all(_SESSION.fullmatch(name) and not _CODE.fullmatch(name) for name in firsts)
    named = {}
    for path, parts in folders.items():
        if dated:
            named[path] = (parts[1] if len(parts) > 1 else "", parts[0] if parts else "")
        else:
            named[path] = (parts[0] if parts else "", "_".join(parts[1:]))
    if not firsts:
        how = (
            "there are no folders below captures/, so all captures are taken as one golfer's; for several golfers give "
            "a pattern of file names with --golfers"
        )
    elif dated:
        how = "the first folder below captures/ is taken as the session, the next as the golfer"
    else:
        how = "the first folder below captures/ is taken as the golfer, the next as the session"
    return named, how


def _by_pattern(path: str, pattern: str) -> tuple[str, str]:
    own = PurePosixPath(path)
    text = own.with_suffix("").as_posix() if "/" in pattern else own.stem
    parts = {"{golfer}": "(?P<golfer>[^/]+?)", "{session}": "(?P<session>[^/]+?)", "*": ".*?"}
    pieces = re.split(r"(\{golfer\}|\{session\}|\*)", pattern)
    if pieces.count("{golfer}") != 1 or pieces.count("{session}") > 1:
        raise BadRequest(
            f"the pattern {pattern} must contain {{golfer}} once and {{session}} at most once", where="--golfers",
            do='write, for example, --golfers "{golfer}_{session}_*"',
        )  # fmt: skip
    found = re.fullmatch("".join(parts.get(piece, re.escape(piece)) for piece in pieces), text)
    if found is None:
        raise BadRequest(
            f"the file name {text} does not match the pattern {pattern}",
            where="--golfers",
            do="give a pattern that all file names match",
        )
    groups = found.groupdict()
    return groups["golfer"], groups.get("session") or ""
