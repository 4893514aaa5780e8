"""Opening a study folder: everything it names is checked before anything is computed."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import pandas as pd

from swinglab import columns, conventions
from swinglab.errors import MissingInput, StudyFaults, SwinglabError, UnreadableFile, near_names
from swinglab.records import Comparison, Errors, Hunch, Lesson, Setup
from swinglab.study.csv_tables import numbers_where_all, read_table
from swinglab.study.events_by_hand import FILE as BY_HAND
from swinglab.study.events_by_hand import read_by_hand
from swinglab.study.settings import FILE, Settings, read_settings

CAPTURE_ENDINGS = (".c3d", ".csv", ".parquet")
_TEXT_COLUMNS = ("swing", "golfer", "capture", "session", "phase", "club", "exclude", "hand", "group",
                 "measured_contact")  # fmt: skip


@dataclass(frozen=True, slots=True, eq=False)
class Study:
    """A study that was opened and checked.

    golfers, swings : the tables as given (numbers where a column holds numbers). captures : swing -> path.
    by_hand : swing, event, time_s, who, note. setups : hand -> `Setup`.
    """

    folder: Path
    title: str
    question: str
    setup: Setup
    golfers: pd.DataFrame
    swings: pd.DataFrame
    captures: dict[str, Path]
    by_hand: pd.DataFrame
    hunches: tuple[Hunch, ...] = ()
    comparisons: tuple[Comparison, ...] = ()
    lessons: tuple[Lesson, ...] = ()
    errors: Errors = Errors()  # noqa: RUF009 - a frozen record without state
    reference_group: str | None = None
    neutral: dict[str, Path] | None = None

    @property
    def questions(self) -> tuple[Hunch | Comparison | Lesson, ...]:
        """Hunches, comparisons and lessons, in that order."""
        return (*self.hunches, *self.comparisons, *self.lessons)

    def shown(self, path: Path) -> str:
        """A path as this study's user would name it: from the study folder."""
        return path.relative_to(self.folder).as_posix() if path.is_relative_to(self.folder) else str(path)

    def setup_for(self, golfer: str) -> Setup:
        """The set-up with this golfer's hand."""
        hand = self.golfers.set_index("golfer").at[golfer, "hand"]
        return replace(self.setup, hand=str(hand))

    def hand_set_times(self, swing: str) -> dict[str, float]:
        """Event -> seconds from the file's first frame: events_by_hand.csv wins over swings.csv."""
        row = self.swings.loc[self.swings["swing"] == swing].iloc[0]
        times = {
            event: float(row[f"{event}_s"])
            for event in conventions.EVENTS
            if f"{event}_s" in row.index and np.isfinite(pd.to_numeric(row[f"{event}_s"], errors="coerce"))
        }
        marked = self.by_hand.loc[self.by_hand["swing"] == swing]
        return times | dict(zip(marked["event"], marked["time_s"], strict=True))


def open_study(folder: str | Path, *, allow_outside: bool = False) -> Study:
    """Open a study folder and check every name it gives.

    Parameters
    ----------
    folder : path
        Holds study.toml, golfers.csv, swings.csv and captures/.
    allow_outside : bool
        Whether captures may lie outside the folder (symlinks are resolved first).

    Raises
    ------
    StudyFaults
        Everything wrong with the study at once, each fault with its file and place.

    Examples
    --------
    >>> from swinglab.study import open_study
    >>> open_study("data_demo").title  # doctest: +SKIP
    """
    folder = Path(folder).expanduser().resolve()
    faults: list[SwinglabError] = []
    settings = Settings()
    try:
        settings, faults = read_settings(folder / FILE)
    except UnreadableFile as error:
        faults.append(error)
        if not (folder / FILE).exists():
            raise StudyFaults(faults, file=folder.name) from error
    golfers = _read_golfers(folder, faults)
    swings = _read_swings(folder, golfers, faults)
    captures = _captures(folder, swings, allow_outside, faults)
    neutral = _neutral(folder, settings, golfers, allow_outside, faults)
    by_hand = _by_hand(folder, swings, faults)
    faults += _question_faults(settings, golfers, swings)
    if faults:
        raise StudyFaults(faults, file=folder.name)
    return Study(
        folder=folder, title=settings.title, question=settings.question, setup=settings.setup, golfers=golfers,
        swings=swings, captures=captures, by_hand=by_hand, hunches=settings.hunches,
        comparisons=settings.comparisons, lessons=settings.lessons, errors=settings.errors,
        reference_group=settings.reference_group, neutral=neutral,
    )  # fmt: skip


def _rows(bad: Iterable[int]) -> str:
    """Row numbers as a spreadsheet shows them (the header is row 1)."""
    rows = [str(i + 2) for i in bad]
    return f"row{'s' if len(rows) > 1 else ''} {', '.join(rows[:8])}{' ...' if len(rows) > 8 else ''}"


def _read(
    folder: Path, file: str, needed: tuple[str, ...], key: str, faults: list[SwinglabError]
) -> pd.DataFrame:
    """A table with its needed columns, no empty and no repeated key; faults are added to the list."""
    empty = pd.DataFrame({name: pd.Series(dtype=str) for name in needed})
    try:
        table = read_table(folder / file, shown=file)
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
        faults.append(MissingInput("there are no rows", file=file, do=f"add a row for each {key}"))
    for name in needed:
        bare = np.flatnonzero(table[name] == "")
        if len(bare):
            faults.append(SwinglabError(f"{name} is empty", file=file, where=_rows(bare), do="fill it in"))
    twice = table[key][table[key].duplicated() & (table[key] != "")].unique()
    for name in twice:
        where = _rows(np.flatnonzero(table[key] == name))
        faults.append(SwinglabError(f"the {key} {name} stands more than once", file=file, where=where,
                                    do="give each row its own name"))  # fmt: skip
    return table


def _read_golfers(folder: Path, faults: list[SwinglabError]) -> pd.DataFrame:
    file = "golfers.csv"
    table = _read(folder, file, ("golfer", "hand", "group"), "golfer", faults)
    bad = np.flatnonzero(~table["hand"].isin(["right", "left", ""]))
    if len(bad):
        found = ", ".join(repr(v) for v in table["hand"].iloc[bad].unique())
        faults.append(SwinglabError(f"hand must be right or left, not {found}", file=file, where=_rows(bad)))
    return numbers_where_all(table, [n for n in table.columns if n not in _TEXT_COLUMNS])


def _read_swings(folder: Path, golfers: pd.DataFrame, faults: list[SwinglabError]) -> pd.DataFrame:
    file = "swings.csv"
    table = _read(folder, file, ("swing", "golfer", "capture"), "swing", faults)
    known = set(golfers["golfer"])
    if known:
        for name in table["golfer"][~table["golfer"].isin(known) & (table["golfer"] != "")].unique():
            where = _rows(np.flatnonzero(table["golfer"] == name))
            faults.append(SwinglabError(f"there is no golfer {name} in golfers.csv", file=file, where=where,
                                        do=near_names(name, known) or "add the golfer there"))  # fmt: skip
    clash = [n for n in table.columns if n in golfers.columns and n != "golfer"]
    for name in clash:
        faults.append(
            SwinglabError(f"the column {name} stands in golfers.csv too", file=file, do="rename one")
        )
    for name in table.columns:
        faults += _column_faults(file, table, name)
    numeric = [n for n in table.columns if n not in _TEXT_COLUMNS]
    return numbers_where_all(table, numeric)


def _column_faults(file: str, table: pd.DataFrame, name: str) -> list[SwinglabError]:
    """What is wrong with the values of a column that has a meaning of its own."""
    cells = table[name]
    if name == "measured_contact":
        bad = np.flatnonzero(~cells.isin([*conventions.CONTACTS, ""]))
        words = f"must be {', '.join(conventions.CONTACTS)} or empty"
    elif name.startswith("measured_") and name not in columns.MEASURED:
        near = near_names(name, [*columns.MEASURED, "measured_contact"])
        return [SwinglabError(f"there is no measured column {name}", file=file, do=near or "rename it")]
    elif name in columns.MEASURED or name == "order" or name in {f"{e}_s" for e in conventions.EVENTS}:
        bad = np.flatnonzero((cells != "") & pd.to_numeric(cells, errors="coerce").isna())
        words = "must be a number or empty"
    elif columns.is_column(name) and columns.column(name).kind != "design":
        return [SwinglabError(f"the column {name} is one that swinglab measures", file=file,
                              do=f"rename it, for instance measured_{name} for another device's value")]  # fmt: skip
    else:
        return []
    return [SwinglabError(f"{name} {words}", file=file, where=_rows(bad))] if len(bad) else []


def _inside(folder: Path, name: str, allow_outside: bool) -> tuple[Path, str | None]:
    """Where a capture lies (captures/ first, then the folder itself), and why it may not be used."""
    given = Path(name)
    path = (folder / "captures" / given).resolve()
    if not path.exists() and (folder / given).exists():
        path = (folder / given).resolve()
    if not allow_outside and not path.is_relative_to(folder):
        return path, "lies outside the study folder"
    if path.suffix.lower() not in CAPTURE_ENDINGS:
        return path, f"ends in {path.suffix or 'nothing'}, not in {', '.join(CAPTURE_ENDINGS)}"
    return path, None


def _captures(
    folder: Path, swings: pd.DataFrame, allow_outside: bool, faults: list[SwinglabError]
) -> dict[str, Path]:
    """Paths by swing. A capture that does not exist is left out when it is measured, and named there."""
    found: dict[str, Path] = {}
    for i, (swing, name) in enumerate(zip(swings["swing"], swings["capture"], strict=True)):
        if not name:
            continue
        path, wrong = _inside(folder, name, allow_outside)
        if wrong:
            do = "move it into captures/, or allow captures from outside with --allow-outside"
            faults.append(SwinglabError(f"the capture {name} {wrong}", file="swings.csv", where=_rows([i]),
                                        do=do if "outside" in wrong else None))  # fmt: skip
        found[swing] = path
    if found and not any(path.exists() for path in found.values()):
        faults.append(MissingInput("none of the captures is there", file="captures",
                                   do="put the files that swings.csv names into captures/"))  # fmt: skip
    return found


def _neutral(
    folder: Path, settings: Settings, golfers: pd.DataFrame, allow_outside: bool, faults: list[SwinglabError]
) -> dict[str, Path]:
    found = {}
    for golfer, name in settings.neutral.items():
        path, wrong = _inside(folder, name, allow_outside)
        if golfer not in set(golfers["golfer"]):
            wrong = f"is for golfer {golfer}, who does not stand in golfers.csv"
        elif not wrong and not path.exists():
            wrong = "is missing"
        if wrong:
            faults.append(
                SwinglabError(f"the neutral capture {name} {wrong}", file=FILE, where=f"[neutral] {golfer}")
            )
        found[golfer] = path
    return found


def _by_hand(folder: Path, swings: pd.DataFrame, faults: list[SwinglabError]) -> pd.DataFrame:
    try:
        marked = read_by_hand(folder)
    except StudyFaults as error:
        faults.extend(error.faults)
        return read_by_hand(None)
    known = set(swings["swing"])
    for name in marked["swing"][~marked["swing"].isin(known)].unique():
        faults.append(SwinglabError(f"there is no swing {name} in swings.csv", file=BY_HAND,
                                    do=near_names(name, known) or "remove the row"))  # fmt: skip
    return marked


# --- the names that questions give ---------------------------------------------------------------------------


def _question_faults(settings: Settings, golfers: pd.DataFrame, swings: pd.DataFrame) -> list[SwinglabError]:
    faults: list[SwinglabError] = []
    own = set(golfers.columns) | set(swings.columns)

    def need(where: str, name: str, known: Iterable[str], what: str) -> None:
        known = list(known)
        if name not in known:
            near = near_names(name, known)
            faults.append(
                SwinglabError(f"there is no {what} {name}", file=FILE, where=where, do=near or None)
            )

    for number, hunch in enumerate(settings.hunches, start=1):
        where = f"[[hunch]] {number}"
        need(f"{where} outcome", hunch.outcome, [*columns.outcomes(), *own], "outcome")
        _need_posture(where, "posture", hunch.posture, hunch.event, need)
        _need_covariates(where, hunch.adjust, own, need)
    for number, question in enumerate(settings.comparisons, start=1):
        where = f"[[comparison]] {number}"
        if question.of in columns.QUANTITIES or question.event is not None:
            _need_posture(where, "of", question.of, question.event, need)
        else:
            need(f"{where} of", question.of, [*columns.QUANTITIES, *columns.outcomes(), *own], "quantity")
        need(f"{where} between", question.between, own, "column")
        _need_covariates(where, question.adjust, own, need)
    for number, lesson in enumerate(settings.lessons, start=1):
        where = f"[[lesson]] {number}"
        need(f"{where} golfer", lesson.golfer, golfers["golfer"], "golfer")
        need(f"{where} phase", lesson.phase, swings.columns, "column of swings.csv")
        need(f"{where} outcome", lesson.outcome, [*columns.outcomes(), *own], "outcome")
        _need_posture(where, "of", lesson.of, lesson.event, need)
    asked: tuple[Hunch | Comparison | Lesson, ...] = (
        *settings.hunches,
        *settings.comparisons,
        *settings.lessons,
    )
    names = [one.name for one in asked]
    for name in sorted({n for n in names if names.count(n) > 1}):
        faults.append(
            SwinglabError(f"two questions are called {name}", file=FILE, do="give each its own name")
        )
    if settings.reference_group is not None:
        need("[reference] group", settings.reference_group, golfers["group"], "group")
    return faults


Need = Callable[[str, str, Iterable[str], str], None]


def _need_posture(where: str, key: str, quantity: str, event: str | None, need: Need) -> None:
    need(f"{where} {key}", quantity, columns.QUANTITIES, "posture quantity")
    if event is None:
        need(f"{where} event", "(none given)", conventions.EVENTS, "event")
        return
    need(f"{where} event", event, conventions.EVENTS, "event")
    declared = columns.QUANTITIES[quantity].events if quantity in columns.QUANTITIES else conventions.EVENTS
    if event in conventions.EVENTS and event not in declared:
        need(f"{where} event", event, declared, f"{quantity} at the event")


def _need_covariates(where: str, names: tuple[str, ...], own: set[str], need: Need) -> None:
    for name in names:
        if not columns.is_column(name):
            need(
                f"{where} adjust", name, [*own, *columns.outcomes(), *columns.SWINGS], "column to adjust for"
            )
