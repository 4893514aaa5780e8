"""Writing of a new study.toml for the command `begin`, and later changes of its keys without losing comments."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path

import tomlkit
from tomlkit.exceptions import TOMLKitError

from swinglab.begin.decisions import Decision, Match, Open
from swinglab.begin.survey import Lab, Survey
from swinglab.conventions import LANDMARKS
from swinglab.errors import UnreadableFile
from swinglab.load.units import METRES
from swinglab.whole_file import replace_text

FILE = "study.toml"
_BARE_KEY = re.compile(r"[A-Za-z0-9_-]+")


def study_text(found: Survey) -> str:
    """Return the text of a new study.toml with every decision and its certainty; undecided keys are commented out."""
    lab = found.labs[""]
    lines = [
        "# Written by `python3 -m swinglab begin`. Change what is wrong; lines that begin with # are open questions.",
        'title = "New study"',
        "",
        "[lab]",
        *_lab_lines(lab),
    ]
    for session, own in found.labs.items():
        if session:
            lines += [
                "",
                f"[session.{_key(session)}.lab]   # differs from most sessions",
                *_lab_lines(own),
            ]
    named = {name: match for name, match in found.landmarks.items() if name != match.label}
    lines += ["", "[landmarks]", *_landmark_lines(named, found.open)]
    same = len(found.landmarks) - len(named)
    if same:
        lines.append(
            f"# {same} landmark{'s need' if same > 1 else ' needs'} no line: the label is the landmark's name"
        )
    for session, marks in found.session_landmarks.items():
        lines += ["", f"[session.{_key(session)}.landmarks]", *_landmark_lines(marks, ())]
    if found.ball:
        place = ", ".join(f"{v:g}" for v in found.ball.place)
        lines += ["", "[ball]", f"position = [{place}]   # likely: the ball alone in {found.ball.name}"]
    for section, captures in found.still_captures().items():
        several = {golfer: still.names for golfer, still in found.still.items() if len(still.names) > 1}
        if captures or several:
            lines += ["", f"[{section}]", *_still_lines(captures, several, found)]
    return "\n".join(lines) + "\n"


def _lab_lines(lab: Lab) -> list[str]:
    lines = [_line("up", lab.up), _line("target", lab.target)]
    if lab.target.sure != "open":
        lines.append("target_assumed = true  # remove this line if the axis was set with an aim line")
    if lab.write_unit:
        lines.append(_line("unit", lab.unit))
    mark = "# " if lab.ground.sure == "open" else ""
    lines.append(f"{mark}ground = {height_of_turf(lab):g}   # {lab.ground.sure}: {lab.ground.why}")
    return lines


def lab_values(lab: Lab) -> dict[str, object]:
    """Return key -> value of a set-up, as in a section [lab] of study.toml; keys that are not decided are left out."""
    values: dict[str, object] = {}
    for key, decision in (("up", lab.up), ("target", lab.target)):
        if decision.sure != "open":
            values[key] = str(decision.value)
    if "target" in values:
        values["target_assumed"] = True
    if lab.write_unit and lab.unit.sure != "open":
        values["unit"] = str(lab.unit.value)
    if lab.ground.sure != "open":
        values["ground"] = height_of_turf(lab)
    return values


def height_of_turf(lab: Lab) -> float:
    """Return the height of the turf in the unit of the captures of the set-up; 0 if it is not decided."""
    height = lab.ground.value if isinstance(lab.ground.value, float) else 0.0
    return round(height / METRES[lab.read_in], 4)


def _line(key: str, decision: Decision) -> str:
    if decision.sure == "open":
        return f"# {key} = {quoted(' or '.join(decision.candidates) or '?')}   # open: {decision.why}"
    return f"{key} = {quoted(str(decision.value))}   # {decision.sure}: {decision.why}"


def _landmark_lines(marks: Mapping[str, Match], opened: tuple[Open, ...]) -> list[str]:
    order = {name: k for k, name in enumerate(LANDMARKS)}
    lines = [
        f"{name} = {quoted(marks[name].label)}   # {marks[name].sure}"
        + (f": {marks[name].why}" if marks[name].why else "")
        for name in sorted(marks, key=lambda name: (order.get(name, len(order)), name))
    ]
    for item in sorted(opened, key=lambda item: order.get(item.name, len(order))):
        lines.append(f"# {item.name} = {quoted(' or '.join(item.candidates))}   # open: {item.why}")
    return lines


def _still_lines(
    captures: Mapping[str, str], several: Mapping[str, tuple[str, ...]], found: Survey
) -> list[str]:
    """Return the line for a golfer's static capture, or a commented line where there are several."""
    lines = []
    for golfer, name in captures.items():
        more = found.still[golfer].more
        why = "no swing in it" + (f"; landmarks in it that the swings lack: {len(more)}" if more else "")
        lines.append(f"{_key(golfer)} = {quoted(name)}   # {why}")
    for golfer, names in several.items():
        lines.append(
            f"# {_key(golfer)} = {quoted(' or '.join(names))}   # open: choose one; no swing in any of them"
        )
    return lines


def quoted(text: str) -> str:
    """Return a text in quotes, escaped as a TOML string."""
    return json.dumps(text, ensure_ascii=False)


def _key(text: str) -> str:
    return text if _BARE_KEY.fullmatch(text) else quoted(text)


def read_document(folder: Path) -> tomlkit.TOMLDocument:
    """Return study.toml of a folder, parsed with its comments; raise UnreadableFile if it is missing or not TOML."""
    return _parsed(_text(folder))


def _text(folder: Path) -> str:
    with _readable():
        return (folder / FILE).read_text(encoding="utf-8-sig")


def _parsed(text: str) -> tomlkit.TOMLDocument:
    with _readable():
        return tomlkit.parse(text)


@contextmanager
def _readable() -> Iterator[None]:
    """Raise UnreadableFile in place of the errors of reading and parsing study.toml."""
    try:
        yield
    except (TOMLKitError, UnicodeDecodeError, OSError) as error:
        raise UnreadableFile(
            f"the file cannot be read as TOML: {error}", file=FILE, do="correct the file"
        ) from error


def change_study_file(folder: Path, changes: Mapping[tuple[str, ...], object]) -> Path:
    """Set keys of study.toml; all other contents, including comments, are unchanged.

    Parameters
    ----------
    folder : Path
        The study folder.
    changes : mapping
        Path of a key, such as ``("lab", "up")`` or ``("landmarks", "c7")`` -> value; None removes the key. A
        commented-out line with the same key is removed.

    Returns
    -------
    Path
        The path of study.toml, which is replaced atomically.

    Raises
    ------
    UnreadableFile
        The file is missing or not TOML; it is not changed.
    """
    text = _text(folder)
    for path, value in changes.items():
        if value is not None:
            text = _without_question(text, path)
    document = _parsed(text)
    for path, value in changes.items():
        table = document
        for part in path[:-1]:
            if part not in table:
                table[part] = tomlkit.table()
            table = table[part]
        if value is None:
            table.pop(path[-1], None)
        else:
            table[path[-1]] = value
    return replace_text(folder / FILE, tomlkit.dumps(document))


def _without_question(text: str, path: tuple[str, ...]) -> str:
    """Return the text without the commented line that asks for a key, in that key's section only."""
    section, kept = "", []
    for line in text.splitlines(keepends=True):
        header = re.match(r"\s*\[([^\[\]]+)\]", line)
        section = header.group(1).strip() if header else section
        if section == ".".join(path[:-1]) and re.match(rf"#\s*{re.escape(path[-1])}\s*=.*# open:", line):
            continue
        kept.append(line)
    return "".join(kept)
