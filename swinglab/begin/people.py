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
    """Golfer and session of a capture, as codes; session is "" where neither folders nor pattern give one."""

    golfer: str
    session: str = ""


@dataclass(frozen=True, slots=True)
class Key:
    """Codes of golfers and sessions: (kind, name) -> code. kind : "golfer" or "session"."""

    codes: dict[tuple[str, str], str]

    def names(self) -> list[str]:
        """Return the names behind codes, longest first, without those that are identical to their code."""
        named = (name for (_, name), code in self.codes.items() if name and name != code)
        return sorted(named, key=len, reverse=True)


def key_path(folder: Path) -> Path:
    """Return the path of the key: next to the study folder, never in it."""
    return folder.parent / f"{folder.name}_key_to_golfers.csv"


def read_key(path: Path) -> Key:
    """Read the key; empty where there is no file."""
    if not path.is_file():
        return Key({})
    with path.open(encoding="utf-8-sig", newline="") as stream:
        rows = list(csv.DictReader(stream))
    try:
        return Key({(row["kind"], row["name"]): row["code"] for row in rows})
    except KeyError as error:
        raise BadRequest(
            "this is not a key to golfers' names: the columns kind, name and code are missing", file=path.name,
            do="move it away, or restore it",
        ) from error  # fmt: skip


def write_key(path: Path, key: Key) -> None:
    """Write the key; its folder is the study folder's parent."""
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\n")
    writer.writerow(["kind", "name", "code"])
    writer.writerows([kind, name, code] for (kind, name), code in key.codes.items())
    replace_text(path, stream.getvalue())


def assign(
    captures: Sequence[str], pattern: str | None, key: Key, taken: Iterable[str]
) -> tuple[dict[str, Whose], Key, str]:
    """Determine golfer and session of every capture.

    Parameters
    ----------
    captures : sequence of str
        Paths relative to captures/, with slashes.
    pattern : str, optional
        Of a path or a file name without its extension; ``{golfer}``, ``{session}`` and ``*`` stand for any text. By
        default the first folder is the golfer and the second the session; folders named by dates or numbers are
        sessions.
    key : Key
        Existing codes.
    taken : iterable of str
        Golfer codes in use.

    Returns
    -------
    tuple of dict, Key, str
        Capture -> `Whose`, the key with new codes, and how golfers were determined, in words.
    """
    if pattern:
        named, how = {path: _by_pattern(path, pattern) for path in captures}, f"by the pattern {pattern}"
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
        how = "no folders: all captures as of one golfer; if there are several, give --golfers a pattern of file names"
    elif dated:
        how = "the first folder as the session, the second as the golfer"
    else:
        how = "the first folder below captures/ as the golfer, the next as the session"
    return named, how


def _by_pattern(path: str, pattern: str) -> tuple[str, str]:
    own = PurePosixPath(path)
    text = own.with_suffix("").as_posix() if "/" in pattern else own.stem
    parts = {"{golfer}": "(?P<golfer>[^/]+?)", "{session}": "(?P<session>[^/]+?)", "*": ".*?"}
    pieces = re.split(r"(\{golfer\}|\{session\}|\*)", pattern)
    if pieces.count("{golfer}") != 1 or pieces.count("{session}") > 1:
        raise BadRequest(
            f"the pattern {pattern} must hold {{golfer}} once and {{session}} at most once", where="--golfers",
            do='for instance --golfers "{golfer}_{session}_*"',
        )  # fmt: skip
    found = re.fullmatch("".join(parts.get(piece, re.escape(piece)) for piece in pieces), text)
    if found is None:
        raise BadRequest(
            f"the pattern {pattern} does not fit {text}", where="--golfers", do="give a pattern that fits all"
        )
    groups = found.groupdict()
    return groups["golfer"], groups.get("session") or ""
