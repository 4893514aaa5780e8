"""A copy of a study for sharing: codes instead of names, and captures reduced to their points."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path

import pandas as pd

from swinglab.begin.coded_copies import write_coded_copy
from swinglab.begin.people import key_path, read_key
from swinglab.errors import BadRequest, StudyFaults, SwinglabError, shortened
from swinglab.load import read_capture
from swinglab.study import Study, open_study, write_table
from swinglab.study.csv_tables import read_own_table, read_sheet
from swinglab.study.device_outcomes import MATCH_FILE
from swinglab.study.names_of_people import name_like
from swinglab.whole_file import new_folder

#: Pattern of columns with personal data, by words in their names.
_PERSONAL = re.compile(
    r"(^|_)(name|names|surname|firstname|lastname|birth|born|birthday|birthdate|dob|email|mail|phone|address)(_|$)",
    re.IGNORECASE,
)
_CODE = re.compile(r"[A-Za-z]{0,3}[\W_]?\d+")
_TABLES = ("golfers.csv", "swings.csv", "events_by_hand.csv", "excluded_by_hand.csv")
_QUOTED = re.compile(r'"([^"\\\n]*)"|\'([^\'\n]*)\'')

Progress = Callable[[int, int, str], None]


@dataclass(frozen=True, slots=True)
class Shared:
    """Result of `share_study`: folder of the copy, and lines on what was copied, changed or left out."""

    folder: Path
    lines: tuple[str, ...]


def share_study(folder: str | Path, copy: str | Path, *, progress: Progress | None = None) -> Shared:
    """Write a copy of a study without people's names, paths of captures, dates of birth or the key to the codes.

    Golfers and swings whose names are not codes get codes. Captures are written again with only points, labels, frame
    rate and events. Columns of names, dates of birth and addresses, the column `who` and comments in study.toml are
    left out. Results, notebooks and cached swings are not copied.

    Parameters
    ----------
    folder : path
        The study folder.
    copy : path
        Folder for the copy; it must not exist yet, or be empty.
    progress : callable, optional
        Called with the number of captures done, the number of all captures, and the name of the copy.

    Returns
    -------
    Shared

    Raises
    ------
    StudyFaults
        A name would remain in the copy; the message lists each place, and nothing is written.
    BadRequest
        The folder for the copy is not empty, or is inside the study.
    """
    study = open_study(folder)
    copy = Path(copy).expanduser().resolve()
    if copy.exists() and (not copy.is_dir() or any(copy.iterdir())):
        raise BadRequest(
            "the folder for the copy is not empty", file=copy.name, do="give a new or an empty folder"
        )
    if copy.is_relative_to(study.folder):
        raise BadRequest(
            "the folder for the copy is inside the study folder",
            file=copy.name,
            do="give a folder outside the study folder",
        )
    with new_folder(copy) as beside:
        lines = _write(study, beside, progress)
        faults = _names_left(study, beside)
        if faults:
            raise StudyFaults(faults, file=study.folder.name)
    return Shared(copy, tuple(lines))


def _write(study: Study, copy: Path, progress: Progress | None) -> list[str]:
    golfers = _codes([str(name) for name in study.golfers["golfer"]], "G")
    swings = _codes([str(name) for name in study.swings["swing"]], "S")
    captures, unread = _write_captures(study, copy, golfers, progress)
    lines = [f"captures copied: {len(set(captures.values())) - len(unread)}"]
    if unread:
        lines.append(f"captures that cannot be read were not copied: {shortened(unread)}")
    renamed = sum(name != code for name, code in {**golfers, **swings}.items())
    if renamed:
        lines.append(f"golfers and swings that got codes: {renamed}")
    codes = {"golfer": golfers, "swing": swings, "capture": captures}
    words = {**captures, **swings, **golfers}
    tables = [*_TABLES]
    if study.device is not None:
        tables += [study.device.file, MATCH_FILE]
        codes |= {study.device.golfer or "golfer": golfers, study.device.swing or "swing": swings}
        words[study.device.file] = Path(study.device.file).with_suffix(".csv").as_posix()
    for file in tables:
        if any((study.folder / file).with_suffix(ending).exists() for ending in (".csv", ".xlsx")):
            lines += _write_table(study, file, copy, codes)
    text = (study.folder / "study.toml").read_text(encoding="utf-8-sig")
    kept = [line for line in text.splitlines() if not line.lstrip().startswith("#")]
    renewed = _QUOTED.sub(lambda m: _renamed(m, words), "\n".join(kept))
    (copy / "study.toml").write_text(renewed + "\n", encoding="utf-8")
    lines.append("title, question, reasons and notes were copied unchanged: check them for names of people")
    return lines


def _codes(names: list[str], letter: str) -> dict[str, str]:
    """Return name -> code; a name that is already a code, or is not like a person's name, is its own code."""
    codes, number = {}, 0
    taken = {name for name in names if _CODE.fullmatch(name) or not name_like(name, any_case=True)}
    for name in names:
        if name in taken:
            codes[name] = name
            continue
        number += 1
        while f"{letter}{number:03d}" in taken:
            number += 1
        codes[name] = f"{letter}{number:03d}"
    return codes


def _write_captures(
    study: Study, copy: Path, golfers: Mapping[str, str], progress: Progress | None
) -> tuple[dict[str, str], list[str]]:
    """Write the captures; return the study's capture name -> the copy's, and the captures that cannot be read."""
    given = {str(row.swing): (str(row.capture), str(row.golfer)) for row in study.swings.itertuples()}
    paths = {given[swing][0]: (path, given[swing][1]) for swing, path in study.captures.items()}
    for golfer, path in {**(study.neutral or {}), **study.static}.items():
        for name in (study.shown(path).removeprefix("captures/"), study.shown(path)):
            paths.setdefault(name, (path, golfer))
    names: dict[Path, str] = {}
    unread: list[str] = []
    for number, (path, golfer) in enumerate(dict.fromkeys(paths.values()), start=1):
        ending = ".c3d" if path.suffix.lower() == ".c3d" else ".csv"
        names[path] = f"{golfers.get(golfer, golfer)}_{number:04d}{ending}"
        try:
            setup = study.setup_for(golfer)
            capture = read_capture(path, unit=setup.unit, rate_hz=setup.rate_hz)
        except SwinglabError:
            unread.append(names[path])
        else:
            write_coded_copy(capture, copy / "captures" / names[path])
        if progress:
            progress(number, len(paths), names[path])
    return {name: names[path] for name, (path, _) in paths.items()}, unread


def _write_table(study: Study, file: str, copy: Path, codes_of: Mapping[str, Mapping[str, str]]) -> list[str]:
    """Write a table of the study as CSV with names replaced by codes; codes_of : column -> name -> code."""
    if file.endswith(".xlsx"):
        table = read_sheet(study.folder / file, shown=file)
    else:
        table = read_own_table(study.folder, file)
    gone = [name for name in table.columns if _PERSONAL.search(str(name))]
    table = table.drop(columns=gone)
    for name, codes in codes_of.items():
        if name in table.columns:
            table[name] = [codes.get(cell, cell) for cell in table[name]]
    for name in {"who", "examiner"} & {*table.columns}:
        table[name] = [cell if _CODE.fullmatch(cell) else "" for cell in table[name]]
    target = (copy / file).with_suffix(".csv")
    target.parent.mkdir(parents=True, exist_ok=True)
    write_table(pd.DataFrame(table), target)
    return [f"columns left out of {file}: {', '.join(map(str, gone))}"] if gone else []


def _renamed(quoted: re.Match[str], words: Mapping[str, str]) -> str:
    text = quoted.group(1) if quoted.group(1) is not None else quoted.group(2)
    return f'"{words[text]}"' if text in words else quoted.group(0)


def _plain(text: str) -> str:
    """Return text normalised (Unicode, case), so that a name is found however it is encoded."""
    return unicodedata.normalize("NFKC", text).casefold()


def _names_left(study: Study, copy: Path) -> list[SwinglabError]:
    """Return faults for names (of the key, recoded golfers, capture folders) that remain in the copy."""
    names = set(read_key(key_path(study.folder)).names())
    own = {str(name) for name in study.golfers["golfer"]}
    names |= {name for name in own if not _CODE.fullmatch(name) and name_like(name, any_case=True)}
    for path in study.captures.values():
        parts = path.relative_to(study.folder).parts if path.is_relative_to(study.folder) else path.parts[-1:]
        names |= {
            word for part in parts for word in re.findall(r"[^\W\d_]{3,}", Path(part).stem) if name_like(word)
        }
    faults = []
    for path in sorted(copy.rglob("*")):
        if not path.is_file():
            continue
        content = _plain(path.read_bytes().decode("utf-8", "replace"))
        shown = path.relative_to(copy).as_posix()
        for name in sorted(names):
            if re.search(rf"(?<![^\W_]){re.escape(_plain(name))}(?![^\W_])", _plain(shown) + "\n" + content):
                faults.append(
                    SwinglabError(
                        f"the name {name} would remain in the copy",
                        file=shown,
                        do="replace this name in the study by a code",
                    )
                )
    return faults
