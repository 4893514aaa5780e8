"""The command `begin`: makes a study from a folder of captures, or adds new captures to an existing study."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from swinglab.begin.coded_copies import write_coded_copy
from swinglab.begin.decisions import Decision, Open
from swinglab.begin.device_rows import device_lines
from swinglab.begin.people import Key, Whose, assign, key_path, read_key, write_key
from swinglab.begin.rows import GOLFERS, SWINGS, add_rows, existing, existing_swings, golfer_rows, swing_rows
from swinglab.begin.study_file import FILE, change_study_file, lab_values, read_document, study_text
from swinglab.begin.survey import Lab, Progress, Survey, look, survey
from swinglab.errors import BadRequest, MissingInput, shortened
from swinglab.load import read_capture
from swinglab.whole_file import replace_text

ENDINGS = (".c3d", ".csv", ".parquet")


@dataclass(frozen=True, slots=True)
class Begun:
    """Result of `begin_study`.

    folder : the study folder. found : landmarks, axes, golfers and swings found in the captures. lines : decisions,
    with their reasons and certainty, in words. written : files that were written or extended. key : file with the
    names behind the golfers' codes; None if there is none.
    """

    folder: Path
    found: Survey
    lines: tuple[str, ...]
    written: tuple[str, ...]
    key: Path | None

    @property
    def asked(self) -> tuple[str, ...]:
        """Decisions on axes, unit, turf and hands for a person to make or confirm, one line each, open ones first."""
        decisions = [d for session, lab in self.found.labs.items() for d in _of_session(session, lab)]
        decisions += _hands(self.found)
        return tuple(d.line() for sure in ("open", "likely") for d in decisions if d.sure == sure)


def begin_study(
    folder: str | Path,
    *,
    golfers: str | None = None,
    copies: str | Path | None = None,
    progress: Progress | None = None,
) -> Begun:
    """Make a study from a folder of captures: write study.toml, golfers.csv and swings.csv.

    Parameters
    ----------
    folder : path
        Folder that contains captures/ with .c3d, .csv or .parquet files, in folders of any depth.
    golfers : str, optional
        Pattern of file names (or of paths, with a slash) such as ``"{golfer}_{session}_*"``. By default the first
        folder level below captures/ is the golfer and the next one the session.
    copies : path, optional
        A new study folder for copies of the captures under code names, without people's names in paths, labels and
        C3D parameters. The captures themselves are not changed.
    progress : callable, optional
        Called with the number of captures done, the number of all captures, and the name of the capture.

    Returns
    -------
    Begun

    Raises
    ------
    MissingInput
        There is no captures/ folder, or no capture in it.
    BadRequest
        A file name does not match the pattern or begins or ends with a space, or the folder for the copies is inside
        the folder of the captures.

    Notes
    -----
    Nothing is overwritten: an existing study gets rows for captures and golfers that have none, and missing sections of
    study.toml. Golfers get codes (G01, ...); the key to their names is stored next to the study folder, never in it.

    Examples
    --------
    >>> import swinglab as sl
    >>> begun = sl.begin_study("my_study")            # doctest: +SKIP
    >>> print(*begun.lines, sep="\\n")                  # doctest: +SKIP
    """
    source = Path(folder).expanduser().resolve()
    if source.name == "captures" and not (source / "captures").is_dir():
        source = source.parent
    names = _captures(source)
    study = source if copies is None else Path(copies).expanduser().resolve()
    if copies is not None and study.is_relative_to(source):
        raise BadRequest(
            "the folder for the copies is inside the folder of the captures",
            file=study,
            do="give a folder outside the folder of the captures",
        )
    key_file = key_path(study)
    rows_there = existing_swings(study)
    # swings.csv takes precedence over folders and patterns.
    of_rows = {
        row["capture"]: Whose(row["golfer"], row.get("session", ""))
        for row in rows_there
        if row.get("capture")
    }
    new = [name for name in names if name not in of_rows]
    taken = [row["golfer"] for row in existing(study, GOLFERS)]
    whose, key, how = assign(new, golfers, read_key(key_file), taken)
    if copies is not None:
        names, whose, key = _copied(source, names, whose, key, study, progress)
    whose |= {name: of_rows[name] for name in names if name in of_rows}
    captures = tuple(look(study / "captures", names, whose, progress))
    found = survey(captures)
    written = _write(study, found, rows_there)
    has_names = bool(key.names())
    if has_names:
        write_key(key_file, key)
    lines = _lines(found, how, written, study, key_file if has_names else None, copies is None and has_names)
    lines += _found_besides(study, found)
    if golfers and of_rows:
        lines.append(
            f"existing rows of {SWINGS} keep their golfers; to assign all golfers again, remove {SWINGS} and {GOLFERS}"
        )
    lines += device_lines(study, found, key)
    return Begun(study, found, tuple(lines), tuple(written), key_file if has_names else None)


def _captures(folder: Path) -> list[str]:
    """Return the captures' paths relative to captures/, in natural order (t9 before t10)."""
    root = folder / "captures"
    if not root.is_dir():
        what = (
            "the folder contains no folder named captures" if folder.is_dir() else "the folder does not exist"
        )
        do = f"create the folder {folder.name}/captures and put the captures there, in one folder for each golfer"
        raise MissingInput(what, file=folder.name, do=do)
    names = [path.relative_to(root).as_posix() for path in root.rglob("*")
             if path.suffix.lower() in ENDINGS and path.is_file() and not path.name.startswith(".")]  # fmt: skip
    if not names:
        raise MissingInput(
            "the folder contains no capture",
            file=f"{folder.name}/captures",
            do=f"put captures ({', '.join(ENDINGS)}) into this folder",
        )
    spaced = [name for name in names if any(part != part.strip() for part in name.split("/"))]
    if spaced:
        raise BadRequest(
            f"names of files or folders must not begin or end with a space, which tables drop: {shortened(spaced)}",
            do="rename these files or folders",
        )
    return sorted(names, key=_natural)


def _natural(name: str) -> list[tuple[int, str]]:
    """Return a sort key for natural order, in which t10 comes after t9."""
    pieces, number = [], ""
    for letter in name.lower() + "\0":
        if letter.isdecimal():
            number += letter
            continue
        if number:
            pieces.append((int(number), ""))
            number = ""
        pieces.append((-1, letter))
    return pieces


def _copied(
    source: Path, names: list[str], whose: dict[str, Whose], key: Key, study: Path, progress: Progress | None
) -> tuple[list[str], dict[str, Whose], Key]:
    """Copy captures that have no coded copy yet to files with code names.

    Returns the names of the copies, the golfer and session of each copy, and the key with the new codes.
    """
    codes = dict(key.codes)
    counts = Counter(code.rsplit("_", 1)[0] for (kind, _), code in codes.items() if kind == "capture")
    new_names, new_whose = [], {}
    for number, name in enumerate(names, start=1):
        own = whose[name]
        known = codes.get(("capture", name))
        if known is None:
            stem = f"{own.golfer}/{own.session}/{own.golfer}" if own.session else f"{own.golfer}/{own.golfer}"
            counts[stem] += 1
            ending = ".c3d" if name.lower().endswith(".c3d") else ".csv"
            known = f"{stem}_{counts[stem]:03d}{ending}"
            codes[("capture", name)] = known
        if not (study / "captures" / known).exists():
            write_coded_copy(read_capture(source / "captures" / name), study / "captures" / known)
        new_names.append(known)
        new_whose[known] = own
        if progress:
            progress(number, len(names), known)
    return new_names, new_whose, Key(codes)


def _write(study: Path, found: Survey, rows_there: list[dict[str, str]]) -> list[str]:
    """Write missing files, sections and rows of the study; return a line on each file that was written or extended."""
    written = []
    if not (study / FILE).exists():
        replace_text(study / FILE, study_text(found))
        written.append(f"{FILE} written")
    else:
        written += _what_the_file_lacks(study, found, {row.get("session", "") for row in rows_there})
    left = {one.name for one in found.captures if not one.swings} | found.foreign
    rows = swing_rows(found.captures, rows_there, left)
    known = {row["golfer"] for row in existing(study, GOLFERS)}
    golfers = [
        row for row in golfer_rows(found, known) if row["golfer"] in {swing["golfer"] for swing in rows}
    ]
    if golfers or not known:
        add_rows(study, GOLFERS, golfers, ("golfer", "hand", "group"))
        written.append(f"{GOLFERS}: {len(golfers)} row{'' if len(golfers) == 1 else 's'} added")
    if rows or not rows_there:
        add_rows(study, SWINGS, rows, ("swing", "golfer", "capture"))
        written.append(f"{SWINGS}: {len(rows)} row{'' if len(rows) == 1 else 's'} added")
    return written


def _what_the_file_lacks(study: Path, found: Survey, sessions_there: set[str]) -> list[str]:
    """Add missing sections and static captures to an existing study.toml; its contents are not changed.

    sessions_there : sessions that have rows in swings.csv already.
    """
    document = read_document(study)
    changes: dict[tuple[str, ...], object] = {}
    if "landmarks" not in document and found.landmarks:
        changes |= {
            ("landmarks", mark): match.label for mark, match in found.landmarks.items() if mark != match.label
        }
    if "lab" not in document:
        lab = found.labs[""]
        for key, decision in (("up", lab.up), ("target", lab.target)):
            if decision.sure != "open":
                changes[("lab", key)] = str(decision.value)
        if ("lab", "target") in changes:
            changes[("lab", "target_assumed")] = True
    for session, lab in _new_set_ups(found, sessions_there, document.get("session", {})).items():
        changes |= {("session", session, "lab", key): value for key, value in lab_values(lab).items()}
    if found.ball and "position" not in document.get("ball", {}):
        changes[("ball", "position")] = list(found.ball.place)
    for section, captures in found.still_captures().items():
        there = document.get(section, {})
        changes |= {(section, golfer): name for golfer, name in captures.items() if golfer not in there}
    if not changes:
        return []
    change_study_file(study, changes)
    return [f"{FILE}: added {', '.join('.'.join(path) for path in changes)}"]


def _new_set_ups(found: Survey, sessions_there: set[str], sections: Mapping[str, Any]) -> dict[str, Lab]:
    """Return new session -> its set-up, for sessions whose set-up differs from that of the sessions in the study.

    The study's own decisions apply to the sessions that are there, so these get no section.

    Parameters
    ----------
    found : Survey
    sessions_there : set of str
        Sessions that have rows in swings.csv already; [lab] of study.toml applies to those without a section.
    sections : mapping
        Session -> its section in study.toml.
    """
    in_lab = {s for s in sessions_there if s and "lab" not in sections.get(s, {})}
    common_is_there = not in_lab or any(s not in found.labs for s in in_lab)
    captures = [one for one in found.captures if one.swings and one.name not in found.foreign]
    new = dict.fromkeys(one.whose.session for one in captures if one.whose.session)
    set_ups = {s: found.labs.get(s, None if common_is_there else found.labs[""]) for s in new}
    return {
        s: lab
        for s, lab in set_ups.items()
        if lab is not None and s not in sessions_there and "lab" not in sections.get(s, {})
    }


def _found_besides(study: Path, found: Survey) -> list[str]:
    """List landmarks that the captures show but study.toml, which already has landmarks, does not name."""
    named = read_document(study).unwrap().get("landmarks", {})
    more = [
        f"{mark} ({match.label})"
        for mark, match in found.landmarks.items()
        if mark not in named and mark != match.label.rpartition(":")[2]
    ]
    if not more:
        return []
    return [
        f"landmarks of the captures that {FILE} does not name yet: {shortened(more)}; add them in notebook 01"
    ]


def _lines(
    found: Survey, how: str, written: list[str], study: Path, key: Path | None, in_place: bool
) -> list[str]:
    swings = sum(len(one.swings) for one in found.captures)
    practice = sum(swing.struck is False for one in found.captures for swing in one.swings)
    lines = [
        f"captures: {len(found.captures)}, with {swings} swing{'' if swings == 1 else 's'}"
        + (f"; no ball is struck in {practice} of them" if practice else "")
    ]
    lines += [f"  cannot be read: {one.name}: {one.fault}" for one in found.captures if one.fault]
    still = [one.name for one in found.captures if not one.swings and not one.fault]
    if still:
        lines.append(f"  static captures without a swing, which get no row in swings.csv: {shortened(still)}")
    if found.foreign:
        names = shortened(sorted(found.foreign))
        lines.append(
            f"  captures with other labels than most, which get no row in swings.csv: {names}; make a separate study "
            "from them"
        )
    if found.ball:
        lines.append(
            f"  capture of the ball alone: {found.ball.name}; the ball's place in it is used as [ball] position"
        )
    for golfer, own in found.still.items():
        which = own.names[0] if len(own.names) == 1 else f"open [{' or '.join(own.names)}?]"
        lines.append(f"  static capture of {golfer}, for [neutral]: {which}")
        if own.more:
            lines.append(
                f"  also for [static], because the swings of {golfer} lack these landmarks: {shortened(own.more)}"
            )
    golfers = sorted({one.whose.golfer for one in found.captures})
    lines.append(f"golfers: {', '.join(golfers)}" + (f" (likely): {how}; check this" if how else ""))
    lines += [d.line() for session, lab in found.labs.items() for d in _of_session(session, lab)]
    lines += [hands.line() for hands in _hands(found)]
    sure = Counter(match.sure for match in found.landmarks.values())
    lines.append(f"landmarks: {sure['certain']} certain, {sure['likely']} likely, {len(found.open)} open")
    lines += [f"  open: {_open_words(item)}" for item in found.open]
    unread = _unread(found)
    if unread:
        lines.append(
            f"labels that name no landmark: {', '.join(unread[:20])}{' ...' if len(unread) > 20 else ''}"
        )
    lines += written or ["the study is complete: no file was changed"]
    if key is not None:
        lines.append(
            f"the names behind the codes are in {key.name}, next to the study folder; do not pass this file on"
        )
    if in_place:
        lines.append(
            "swings.csv contains the names of folders and files; if these are people's names, "
            f"python3 -m swinglab begin {study.name} --copies NEW_FOLDER makes a study from copies with codes as names"
        )
    return lines


def _hands(found: Survey) -> list[Decision]:
    """Return one decision for all golfers whose hand, certainty and reason are the same."""
    alike: dict[Decision, list[str]] = {}
    for golfer, hand in found.hands.items():
        alike.setdefault(replace(hand, name="hand of"), []).append(golfer)
    return [replace(hand, name=f"hand of {shortened(golfers)}") for hand, golfers in alike.items()]


def _of_session(session: str, lab: Lab) -> list[Decision]:
    """Return axes, unit and turf of the study, or of a session that differs from it."""
    before = f"session {session}, which differs from the others: " if session else ""
    return [replace(d, name=before + d.name) for d in (lab.up, lab.target, lab.unit, lab.ground)]


def _open_words(item: Open) -> str:
    return f"{item.name} [{' or '.join(item.candidates)}?]; {item.why}"


def _unread(found: Survey) -> list[str]:
    used = {match.label for match in found.landmarks.values()} | {
        c for item in found.open for c in item.candidates
    }
    names = dict.fromkeys(
        item.name.rpartition(":")[2] for one in found.captures for item in one.landmarks.unread
    )
    return [name for name in names if name not in used]
