"""Reading of golfers.csv, swings.csv and the paths of captures; all faults are collected."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from pathlib import Path

import numpy as np
import pandas as pd

from swinglab import columns, conventions
from swinglab.errors import MissingInput, SwinglabError, UnreadableFile, near_if_listed, near_names
from swinglab.study.csv_tables import read_numbers, read_own_table
from swinglab.study.settings import FILE

CAPTURE_ENDINGS = (".c3d", ".csv", ".parquet")
TEXT_COLUMNS = ("swing", "golfer", "capture", "session", "phase", "club", "exclude", "hand", "group",
                 "measured_contact", "shot", "surface", "lie", "soled", "examiner")  # fmt: skip
#: Columns that give the part of the capture with the swing, in seconds from the file's first frame.
PART_OF_FILE = ("from_s", "to_s")
_NUMERIC = frozenset({"order", *PART_OF_FILE, *(f"{event}_s" for event in conventions.EVENTS)})
#: Columns of swings.csv whose cells must be one of these words, or empty.
_WORDS = {
    "hand": ("right", "left"),
    "surface": ("turf", "mat", "sand", "tee"),
    "lie": ("level", "uphill", "downhill", "ball above feet", "ball below feet"),
    "soled": ("yes", "no"),
    "measured_contact": conventions.CONTACTS,
}


def rows(bad: Iterable[int]) -> str:
    """Return rows as text, such as "rows 3, 7", numbered as in a spreadsheet, where the header is row 1.

    bad : indices of the rows, from 0.
    """
    places = [str(i + 2) for i in bad]
    return f"row{'s' if len(places) > 1 else ''} {', '.join(places[:8])}{' ...' if len(places) > 8 else ''}"


def places_of(cells: pd.Series, chosen: pd.Series) -> Iterator[tuple[str, np.ndarray]]:
    """Yield each different text among the chosen cells, in order of appearance, with an array of its rows (from 0).

    chosen : True for each chosen cell.
    """
    rows_of = np.flatnonzero(chosen)
    for name, own in cells[chosen].groupby(cells[chosen], sort=False).indices.items():
        yield str(name), rows_of[own]


def _read(
    folder: Path, file: str, needed: tuple[str, ...], key: str, faults: list[SwinglabError], notes: list[str]
) -> pd.DataFrame:
    """Read golfers.csv or swings.csv; missing columns and empty or repeated cells are appended to `faults`.

    needed : columns that the table must have. key : column that names the rows, such as golfer.
    """
    empty = pd.DataFrame({name: pd.Series(dtype=str) for name in needed})
    try:
        table = read_own_table(folder, file, notes)
    except UnreadableFile as error:
        faults.append(error)
        return empty
    lacking = [name for name in needed if name not in table.columns]
    for name in lacking:
        near = near_names(name, table.columns)
        faults.append(
            MissingInput(f"the column {name} is missing", file=file, do=near or f"add a column {name}")
        )
    if lacking:
        return empty
    if table.empty:
        faults.append(MissingInput("the table has no rows", file=file, do=f"add a row for each {key}"))
    by_session = key == "golfer" and "session" in table.columns  # some rows have values for one session only
    own = table["session"] == "" if by_session else np.ones(len(table), bool)
    for name in needed:
        if name == "capture":  # a swing may have only outcomes of another device
            continue
        bare = np.flatnonzero((table[name] == "") & (own if name != key else True))
        if len(bare):
            faults.append(
                SwinglabError(f"{name} is empty", file=file, where=rows(bare), do="fill in these cells")
            )
    if by_session:
        return table
    faults += _repeated(file, table, key)
    return table


def _repeated(file: str, table: pd.DataFrame, key: str) -> list[SwinglabError]:
    twice = table[key].duplicated(keep=False) & (table[key] != "")
    return [
        SwinglabError(f"the {key} {name} appears more than once", file=file, where=rows(places),
                      do="give each row its own name")
        for name, places in places_of(table[key], twice)
    ]  # fmt: skip


def read_golfers(
    folder: Path, faults: list[SwinglabError], notes: list[str]
) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Read golfers.csv; return a table with one row for each golfer, and a table of values that differ by session.

    A row with a session gives the golfer's values (mass, handicap, ...) in that session; its empty cells take the value
    of the golfer's row without a session. Columns of numbers are converted to numbers. Faults, and notes for the user,
    are appended to `faults` and `notes`.
    """
    file = "golfers.csv"
    table = _read(folder, file, ("golfer", "hand", "group"), "golfer", faults, notes)
    faults += _word_faults(file, table, "hand")
    if "session" not in table.columns:
        return _with_numbers(file, table, faults, notes), table.iloc[:0]
    in_session = table["session"] != ""
    of_session, own = table[in_session], table[~in_session].drop(columns="session").reset_index(drop=True)
    faults += _repeated(file, own, "golfer")
    with_row = set(own["golfer"])
    for place in np.flatnonzero(in_session):
        row, where = table.iloc[int(place)], rows([int(place)])
        if row["golfer"] not in with_row:
            what = f"the golfer {row['golfer']} has no row without a session"
            faults.append(
                SwinglabError(
                    what,
                    file=file,
                    where=where,
                    do="add a row for this golfer without a session, with hand and group",
                )
            )
        if row["hand"] or row["group"]:
            faults.append(
                SwinglabError(
                    "hand or group is given in a row for one session, but they cannot differ between sessions",
                    file=file,
                    where=where,
                    do="leave hand and group empty in this row; a hand that differs by swing is given in swings.csv",
                )
            )
    if of_session.duplicated(["golfer", "session"]).any():
        faults.append(
            SwinglabError(
                "a golfer has more than one row for the same session",
                file=file,
                do="keep one row for each golfer and session",
            )
        )
    # Both parts are read together, so that a column has the same type in both.
    typed = _with_numbers(file, table, faults, notes)
    own = typed[~in_session].drop(columns="session").reset_index(drop=True)
    return own, typed[in_session].reset_index(drop=True)


def with_session_values(
    swings: pd.DataFrame, golfers: pd.DataFrame, of_session: pd.DataFrame, faults: list[SwinglabError]
) -> pd.DataFrame:
    """Return the table of swings with a column for each golfer value that differs by session.

    Each swing gets its golfer's value in its own session.

    Parameters
    ----------
    swings, golfers : DataFrame
        The tables swings.csv and golfers.csv.
    of_session : DataFrame
        Values by session, from `read_golfers`.
    faults : list
        Faults are appended to this list.
    """
    if of_session.empty:
        return swings
    known = set(swings["session"]) if "session" in swings.columns else set()
    for name in of_session["session"][~of_session["session"].isin(known)].unique():
        faults.append(SwinglabError(f"no swing has the session {name}", file="golfers.csv",
                                    do=near_if_listed(faults, name, known) or "correct this cell"))  # fmt: skip
    if not known:
        return swings
    by_session, own = of_session.set_index(["golfer", "session"]), golfers.set_index("golfer")
    keys = list(zip(swings["golfer"], swings["session"], strict=True))
    for name in [n for n in of_session.columns if n not in ("golfer", "session", "hand", "group")]:
        filled = by_session[name].replace("", np.nan).dropna()
        if filled.empty or name in swings.columns:  # a column of both tables is reported elsewhere
            continue
        values = [filled.get(key, own[name].get(key[0])) for key in keys]
        swings = swings.assign(**{name: pd.Series(values, index=swings.index)})
    return swings


def read_swings(
    folder: Path, golfers: pd.DataFrame, faults: list[SwinglabError], notes: list[str]
) -> pd.DataFrame:
    """Read swings.csv with columns of numbers as numbers; empty cells of a column hand are filled from golfers.csv.

    Faults, and notes for the user, are appended to `faults` and `notes`.
    """
    file = "swings.csv"
    table = _read(folder, file, ("swing", "golfer", "capture"), "swing", faults, notes)
    known = set(golfers["golfer"])
    if known:
        for name, places in places_of(
            table["golfer"], ~table["golfer"].isin(known) & (table["golfer"] != "")
        ):
            near = near_if_listed(faults, name, known) or "add the golfer to golfers.csv"
            faults.append(SwinglabError(f"there is no golfer {name} in golfers.csv", file=file, where=rows(places),
                                        do=near))  # fmt: skip
    for name in table.columns:
        if name in golfers.columns and name not in ("golfer", "hand"):
            faults.append(
                SwinglabError(
                    f"the column {name} is in golfers.csv as well",
                    file=file,
                    do="rename one of the two columns",
                )
            )
        faults += _column_faults(file, table, name)
    if "hand" in table.columns:
        own = (
            table["golfer"]
            .map(golfers.drop_duplicates("golfer").set_index("golfer")["hand"])
            .astype(object)
            .fillna("")
        )
        table["hand"] = table["hand"].where(table["hand"] != "", own)
    return _with_numbers(file, table, faults, notes)


def uncaptured_faults(swings: pd.DataFrame) -> list[SwinglabError]:
    """Return a fault for each swing that has neither a capture nor an outcome of another device."""
    measured = [name for name in swings.columns if name.startswith("measured_")]
    has_outcome = swings[measured].replace("", np.nan).notna().any(axis=1)
    bare = np.flatnonzero((swings["capture"] == "") & ~has_outcome & (swings["swing"] != ""))
    if not len(bare):
        return []
    return [SwinglabError("capture is empty, and no outcome of another device is given", file="swings.csv",
                          where=rows(bare), do="fill in these cells")]  # fmt: skip


def _with_numbers(
    file: str, table: pd.DataFrame, faults: list[SwinglabError], notes: list[str]
) -> pd.DataFrame:
    """Convert columns of numbers; a column that could be read in two ways is reported as a fault."""
    for name in table.columns:
        if name in TEXT_COLUMNS:
            continue
        found = read_numbers(table[name])
        if found.ambiguous:
            where = rows(found.ambiguous)
            example = table[name].iloc[found.ambiguous[0]]
            what = (
                f"the number {example} in the column {name} may have a decimal comma or a thousands separator"
            )
            do = "write decimals with a point, thousands without a comma"
            faults.append(SwinglabError(what, file=file, where=where, do=do))
        elif found.numbers is not None:
            if found.commas:
                notes.append(f"{file}: the column {name} has decimal commas, and was read as numbers")
            table = table.assign(**{name: found.numbers})
        elif _is_number(str(name)) and (table[name] == "").all():
            table = table.assign(**{name: np.nan})
        elif found.words:
            bad = table[name].iloc[found.words[0]]
            notes.append(
                f"{file}: the column {name} was read as text, because some of its cells are not numbers "
                f"({rows(found.words)}: {bad!r})"
            )
    return table


def _is_number(name: str) -> bool:
    """Return whether a column of swings.csv is defined as numeric."""
    return name in columns.MEASURED or name in _NUMERIC


def _word_faults(file: str, table: pd.DataFrame, name: str) -> list[SwinglabError]:
    """Return faults of a column whose cells must be one of a few words."""
    bad = np.flatnonzero(~table[name].isin([*_WORDS[name], ""]))
    if not len(bad):
        return []
    found = ", ".join(repr(v) for v in table[name].iloc[bad].unique())
    words = f"{name} must be {', '.join(_WORDS[name][:-1])} or {_WORDS[name][-1]}, not {found}"
    return [SwinglabError(words, file=file, where=rows(bad))]


def _column_faults(file: str, table: pd.DataFrame, name: str) -> list[SwinglabError]:
    """Return faults in the values of a column that swinglab interprets."""
    if name in _WORDS:
        return _word_faults(file, table, name)
    if name.startswith("measured_") and name not in columns.MEASURED:
        near = near_names(name, [*columns.MEASURED, "measured_contact"])
        return [
            SwinglabError(
                f"swinglab does not know the measured column {name}",
                file=file,
                do=near or "give it a name that does not begin with measured_",
            )
        ]
    if _is_number(name):
        found = read_numbers(table[name])
        if found.numbers is None and not found.ambiguous and (table[name] != "").any():
            bad = found.words or tuple(np.flatnonzero(table[name] != ""))
            return [SwinglabError(f"cells of {name} must be numbers or empty", file=file, where=rows(bad))]
    elif columns.is_column(name) and columns.column(name).kind != "design":
        return [SwinglabError(f"swinglab itself measures the column {name}, so this table cannot give it", file=file,
                              do=f"rename the column; values of another device belong in measured_{name}")]  # fmt: skip
    return []


def find_capture(folder: Path, name: str, allow_outside: bool) -> tuple[Path, str | None]:
    """Return a capture's path, and the reason why it may not be used (None if there is none).

    The file is looked for in captures/, then in the study folder itself. name : as in the table. allow_outside :
    whether captures outside the folder are allowed.
    """
    given = Path(name)
    try:
        path = (folder / "captures" / given).resolve()
        if not path.exists():
            if path.is_symlink():  # links in a circle, which Python 3.13 resolves to themselves
                raise RuntimeError
            if (folder / given).exists():
                path = (folder / given).resolve()
    except (
        OSError,
        ValueError,
        RuntimeError,
    ):  # a name that is too long or has a forbidden character, or links in a circle
        return (
            folder / "captures" / "no such file",
            "is not a valid file name, or is a broken link",
        )
    if not allow_outside and not path.is_relative_to(folder):
        return path, "is outside the study folder"
    if path.suffix.lower() not in CAPTURE_ENDINGS:
        ending = f"ends in {path.suffix}" if path.suffix else "has no ending"
        return path, f"{ending}, but a capture ends in {' or '.join(CAPTURE_ENDINGS)}"
    return path, None


def find_captures(
    folder: Path, swings: pd.DataFrame, allow_outside: bool, faults: list[SwinglabError]
) -> dict[str, Path]:
    """Return swing -> path of its capture.

    Captures outside the folder, or with an unknown ending, are faults. Whether each file exists is checked when the
    swing is measured.
    """
    found: dict[str, Path] = {}
    places: dict[str, tuple[Path, str | None]] = {}
    for i, (swing, name) in enumerate(zip(swings["swing"], swings["capture"], strict=True)):
        if not name:
            continue
        if name not in places:
            places[name] = find_capture(folder, name, allow_outside)
        path, wrong = places[name]
        if wrong:
            do = "move the file into captures/, or allow captures outside the folder with --allow-outside"
            faults.append(SwinglabError(f"the capture {name} {wrong}", file="swings.csv", where=rows([i]),
                                        do=do if "outside" in wrong else None))  # fmt: skip
        found[swing] = path
    # Stored results can be read without their captures; they are then marked as not verified.
    stored = any((folder / place / "run.json").is_file() for place in ("results", "notebooks/measured"))
    if found and not stored and not any(path.exists() for path in found.values()):
        faults.append(MissingInput("none of the captures in swings.csv was found", file="captures",
                                   do="put the files that swings.csv names into captures/"))  # fmt: skip
    return found


def find_still_captures(
    folder: Path,
    section: str,
    named: dict[str, str],
    golfers: pd.DataFrame,
    allow_outside: bool,
    faults: list[SwinglabError],
) -> dict[str, Path]:
    """Return golfer -> path of the capture that the section [neutral] or [static] of study.toml names.

    section : "neutral" or "static". named : golfer -> file name, as in study.toml. Faults are appended to `faults`.
    """
    found = {}
    for golfer, name in named.items():
        path, wrong = find_capture(folder, name, allow_outside)
        if golfer not in set(golfers["golfer"]):
            wrong = f"is given for golfer {golfer}, who is not in golfers.csv"
        elif not wrong and not path.exists():
            wrong = "is missing"
        if wrong:
            faults.append(
                SwinglabError(
                    f"the {section} capture {name} {wrong}", file=FILE, where=f"[{section}] {golfer}"
                )
            )
        found[golfer] = path
    return found
