"""Adding rows to golfers.csv and swings.csv; existing rows are not changed."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from pathlib import Path

from swinglab.begin.survey import Looked, Survey
from swinglab.errors import SwinglabError
from swinglab.study.csv_tables import guard, read_own_table
from swinglab.study.folder_tables import find_capture
from swinglab.whole_file import replace_text

GOLFERS, SWINGS = "golfers.csv", "swings.csv"
NO_BALL = "no ball struck"


def existing(folder: Path, file: str) -> list[dict[str, str]]:
    """Return the rows of a table of the study folder, as dicts of text; an empty list if the file is missing."""
    if not any((folder / name).is_file() for name in (file, _sheet(file))):
        return []
    return [
        {str(k): str(v) for k, v in row.items()} for row in read_own_table(folder, file).to_dict("records")
    ]


def existing_swings(folder: Path) -> list[dict[str, str]]:
    """Return the rows of swings.csv; a capture below captures/ is named by its path relative to captures/.

    swings.csv may name the same file in other ways, such as captures/x.c3d.
    """
    root = folder / "captures"
    names = {path.relative_to(root).as_posix() for path in root.rglob("*") if path.is_file()}
    by_path = {(root / name).resolve(): name for name in names}
    found = existing(folder, SWINGS)
    for row in found:
        cell = row.get("capture", "")
        if cell and cell not in names:
            row["capture"] = by_path.get(find_capture(folder, cell, allow_outside=True)[0], cell)
    return found


def _sheet(file: str) -> str:
    return file.replace(".csv", ".xlsx")


def golfer_rows(found: Survey, known: set[str]) -> list[dict[str, str]]:
    """Return a row of golfers.csv for each golfer who has none yet; hand is empty if it is not decided.

    known : golfers who have a row already.
    """
    return [
        {"golfer": golfer, "hand": "" if hand.sure == "open" else str(hand.value), "group": "all"}
        for golfer, hand in found.hands.items()
        if golfer not in known
    ]


def swing_rows(
    captures: Sequence[Looked], rows_there: Sequence[dict[str, str]], leave: set[str]
) -> list[dict[str, str]]:
    """Return a row of swings.csv for each swing that has none yet.

    Parameters
    ----------
    captures : sequence of Looked
    rows_there : sequence of dict
        The existing rows.
    leave : set of str
        Captures that get no row: static captures, and captures with other labels than most.
    """
    known = {row.get("capture", "") for row in rows_there}
    names = {row.get("swing", "") for row in rows_there}
    counts: dict[str, int] = {}
    orders: dict[tuple[str, str], int] = {}
    rows = []
    for one in captures:
        if one.name in known or one.name in leave or one.fault:
            continue
        for swing in one.swings:
            golfer, session = one.whose.golfer, one.whose.session
            stem = f"{golfer}_{session}" if session else golfer
            number = counts.get(stem, 0) + 1
            while f"{stem}_{number:03d}" in names:
                number += 1
            counts[stem] = number
            orders[(golfer, session)] = (
                orders.get((golfer, session), _last_order(rows_there, golfer, session)) + 1
            )
            rows.append(
                {"swing": f"{stem}_{number:03d}", "golfer": golfer, "capture": one.name, "session": session,
                 "order": str(orders[(golfer, session)]),
                 "from_s": "" if swing.from_s is None else f"{swing.from_s:g}",
                 "to_s": "" if swing.to_s is None else f"{swing.to_s:g}",
                 "exclude": NO_BALL if swing.struck is False else ""}
            )  # fmt: skip
    return rows


def _last_order(rows: Sequence[dict[str, str]], golfer: str, session: str) -> int:
    own = [
        row.get("order", "")
        for row in rows
        if row.get("golfer") == golfer and row.get("session", "") == session
    ]
    return max((int(float(text)) for text in own if text.replace(".", "", 1).isdecimal()), default=0)


def add_rows(folder: Path, file: str, rows: Sequence[dict[str, str]], needed: Sequence[str]) -> None:
    """Write a table of the study folder, or append rows to it without changing its existing lines.

    A column of the new rows that the file lacks is added at the end; existing rows get an empty cell. needed : columns
    that are written even if every new cell is empty. Raises SwinglabError if the table exists only as .xlsx, or if a
    column is to be added and rows of the file have more or fewer cells than its header.
    """
    path = folder / file
    if rows and not path.is_file() and (folder / _sheet(file)).is_file():
        raise SwinglabError(
            f"{len(rows)} new row{'' if len(rows) == 1 else 's'} cannot be added to an .xlsx file",
            file=_sheet(file),
            do=f"save the table as {file} (CSV, UTF-8), then run begin again",
        )
    used = [name for name in (rows[0] if rows else {}) if name in needed or any(row[name] for row in rows)]
    if not path.is_file():
        replace_text(path, _csv([used, *([row[n] for n in used] for row in rows)], ","))
        return
    if not rows:
        return
    text = path.read_text(encoding="utf-8-sig")
    header = text.splitlines()[0]
    separator = ";" if header.count(";") > header.count(",") else ","
    columns = [name.strip() for name in next(csv.reader([header], delimiter=separator))]
    lacking = [name for name in used if name not in columns]
    if (
        lacking
        and '"' in text
        and any(len(row) != len(columns) for row in csv.reader(io.StringIO(text), delimiter=separator))
    ):
        raise SwinglabError(
            f"columns cannot be added ({', '.join(lacking)}): some rows have more or fewer cells than the header",
            file=file,
            do="correct these rows, then run begin again",
        )
    if lacking:
        lines = list(csv.reader(io.StringIO(text), delimiter=separator))
        text = _csv(
            [lines[0] + lacking, *(line + [""] * len(lacking) for line in lines[1:] if line)], separator
        )
        columns += lacking
    text += "" if text.endswith("\n") else "\n"
    replace_text(path, text + _csv([[row.get(n, "") for n in columns] for row in rows], separator))


def _csv(rows: Sequence[Sequence[str]], separator: str) -> str:
    stream = io.StringIO()
    writer = csv.writer(stream, delimiter=separator, lineterminator="\n")
    writer.writerows([[guard(cell) for cell in row] for row in rows])
    return stream.getvalue()
