"""A running session: its golfer, phase and club, the swings it entered and measured, and what a page shows of them."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path

import pandas as pd

from swinglab.errors import StudyFaults, SwinglabError
from swinglab.records import Finding
from swinglab.study import (
    Results,
    Study,
    answer_study,
    load_or_measure,
    measure_study,
    open_study,
    swings_folder,
    write_results,
)
from swinglab.watch.arrivals import Arrivals
from swinglab.watch.number import Number, number_of
from swinglab.watch.swings_file import append_row, remove_row, set_cell

#: Keys that set what the coming swings are, and keys that mark the last one.
PHASES = {"b": "before", "d": "drill", "a": "after", "l": "later", "c": "other club"}
MARKS = {"m": "mishit", "t": "topped"}
PRACTICE, UNDO, SINGLES, CUE = "p", "u", "s", "k"
#: Results are written when nothing has arrived for so long.
QUIET_S = 20.0
NO_BALL = "practice swing: no ball struck"
#: key -> what it does, in the words of the page.
KEYS = {
    **{key: f"phase: {name}" for key, name in PHASES.items()},
    CUE: "cue given, or not",
    **{key: f"last swing: {word}" for key, word in MARKS.items()},
    PRACTICE: "last swing: practice swing",
    UNDO: "undo",
    SINGLES: "single swings shown, or not",
    "1 to 9": "golfer",
}


@dataclass(frozen=True, slots=True)
class Undo:
    """A change that can be taken back, with words for the page."""

    what: str
    take_back: Callable[[], object]


class RangeSession:
    """A study while captures arrive in it.

    `poll` enters and measures what has arrived; `press` acts on a key. Both may be called from different threads. All
    that matters is in the study's own files after each call, so a session that was killed goes on where it stood.

    Parameters
    ----------
    folder : path
        The study folder.
    golfer : str, optional
        The first golfer; else the golfer of the last row of swings.csv.
    lesson : str, optional
        Name of the lesson whose number is shown.
    every : int
        Swings in a summary.

    Raises
    ------
    SwinglabError
        The study cannot be opened, or the golfer or lesson is not in it.
    """

    def __init__(
        self, folder: str | Path, *, golfer: str | None = None, lesson: str | None = None, every: int = 5
    ) -> None:
        self._lock = threading.RLock()
        self.folder = Path(folder).expanduser().resolve()
        self.study: Study = open_study(self.folder)
        self.results: Results = load_or_measure(self.study)
        self.every = every
        self._lesson = lesson
        captures = self.folder / "captures"
        self.arrivals = Arrivals(captures, {path.resolve() for path in self.study.captures.values()})
        last = self.study.swings.iloc[-1]
        self.golfer = str(golfer or last["golfer"])
        self.number: Number = number_of(self.study, self.golfer, lesson=lesson)
        own = self.study.swings[self.study.swings["golfer"] == self.golfer]
        self.phase = _last_text(own, "phase")
        self.club = _last_text(own, "club")
        self.session = f"{self.golfer} {date.today().isoformat()}"
        self.with_cue, self.singles = False, False
        self.messages: list[str] = []
        self.findings: tuple[Finding, ...] = ()
        self.version = 0
        self._undo: list[Undo] = []
        self._changed_s: float | None = None

    def locked(self) -> threading.RLock:
        """The session's lock, held while several of its fields are read together."""
        return self._lock

    def report(self, text: str) -> None:
        """Show a message on the page."""
        with self._lock:
            self._say(text)
            self.version += 1

    @property
    def golfers(self) -> list[str]:
        """Golfers of the study, in its order; the keys 1 to 9 choose among the first nine."""
        return [str(code) for code in self.study.golfers["golfer"]]

    # --- arrivals --------------------------------------------------------------------------------------------

    def poll(self) -> list[str]:
        """Enter and measure the captures that are whole; the names of the new swings.

        Answers and the results folder follow when no capture has arrived for a while: a new swing is shown first.
        """
        waiting, refused = dict(self.arrivals.waiting), dict(self.arrivals.refused)
        ready = self.arrivals.poll()
        entered: list[str] = []
        for path in ready:
            with self._lock:
                name = self._enter(path)
                if name:
                    self._measure()
                    entered.append(name)
                    self.version += 1
        if entered:
            self._answer()
            self._changed_s = time.monotonic()
        elif self._changed_s is not None and time.monotonic() - self._changed_s > QUIET_S:
            self.write()
        if waiting != self.arrivals.waiting or refused != self.arrivals.refused:
            self.version += 1
        return entered

    def close(self) -> None:
        """Write what is not written yet."""
        if self._changed_s is not None:
            self.write()

    def _enter(self, path: Path) -> str | None:
        """Write the row of a new capture; None, with a message, where that cannot be done now."""
        golfer = self._golfer_of(path)
        swings = self.study.swings
        session = self.session if golfer == self.golfer else f"{golfer} {date.today().isoformat()}"
        own = swings[swings["session"] == session] if "session" in swings.columns else swings.iloc[:0]
        cells = {
            "swing": _free_name(path.stem, set(swings["swing"])),
            "golfer": golfer,
            "capture": path.relative_to(self.folder / "captures").as_posix(),
            "session": session,
            "phase": self.phase,
            "order": str(len(own) + 1),
            "club": self.club,
            "cue": self.number.cue if self.with_cue else "",
        }
        try:
            append_row(self.folder, cells)
        except SwinglabError as fault:
            self._say(f"{path.name} is not entered: {fault}")
            return None
        self.arrivals.enter(path)
        self.study = open_study(self.folder)
        return cells["swing"]

    def _golfer_of(self, path: Path) -> str:
        """The golfer whose code is the first folder below captures/, else the chosen one."""
        parts = path.relative_to(self.folder / "captures").parts
        return parts[0] if len(parts) > 1 and parts[0] in self.golfers else self.golfer

    def _measure(self) -> None:
        """Measure what is new or changed; swings whose capture and settings are the same are not measured again."""
        try:
            self.results = measure_study(self.study, workers=1, cache=swings_folder(self.study))
        except StudyFaults as fault:
            self._say(str(fault))

    def _answer(self) -> None:
        """Judge the lesson that is shown; its reading says itself how far it is."""
        with self._lock:
            study, results, name = self.study, self.results, self.number.lesson
        lesson = tuple(one for one in study.lessons if one.name == name)
        if not lesson:
            return
        alone = replace(study, hunches=(), comparisons=(), lessons=lesson)
        findings = answer_study(alone, results)
        with self._lock:
            self.findings = findings
            self.version += 1

    def write(self) -> None:
        """Answer all questions and write the results folder; a fault is a message, because the session goes on."""
        with self._lock:
            study, results = self.study, self.results
            self._changed_s = None
        try:
            write_results(study, results, answer_study(study, results), self.folder / "results")
        except (SwinglabError, OSError) as fault:
            self.report(f"results are not written: {fault}")

    # --- keys ------------------------------------------------------------------------------------------------

    def press(self, key: str) -> bool:
        """Act on a key of `KEYS`; False for a key without a meaning. A fault becomes a message and changes nothing."""
        with self._lock:
            try:
                known = self._act(key)
            except SwinglabError as fault:
                self._say(str(fault))
                known = True
            self.version += known
            return known

    def _act(self, key: str) -> bool:
        if key in PHASES:
            self._set("phase", PHASES[key])
        elif key == CUE:
            self._set("with_cue", not self.with_cue)
        elif key == SINGLES:
            self.singles = not self.singles
        elif key in MARKS:
            self._mark("seen", MARKS[key])
        elif key == PRACTICE:
            self._mark("exclude", NO_BALL)
        elif key == UNDO:
            self._take_back()
        elif key.isdigit() and 1 <= int(key) <= min(9, len(self.golfers)):
            self.choose_golfer(self.golfers[int(key) - 1])
        else:
            return False
        return True

    def choose_golfer(self, golfer: str) -> None:
        """Show and enter another golfer's swings from now on; BadRequest where no question gives a number."""
        number = number_of(self.study, golfer)
        self.golfer, self.number = golfer, number
        own = self.study.swings[self.study.swings["golfer"] == golfer]
        self.phase, self.club = _last_text(own, "phase"), _last_text(own, "club")
        self.session = f"{golfer} {date.today().isoformat()}"

    def _set(self, name: str, value: object) -> None:
        before = getattr(self, name)
        setattr(self, name, value)
        self._undo.append(Undo(f"{name.replace('_', ' ')} was {before}", lambda: setattr(self, name, before)))

    def _mark(self, column: str, value: str) -> None:
        swing = self.last_swing()
        if swing is None:
            self._say("there is no swing of this session to mark yet")
            return
        before = set_cell(self.folder, swing, column, value)
        self._undo.append(Undo(f"{swing} is {value}", lambda: set_cell(self.folder, swing, column, before)))
        self._reopen()
        self._say(f"{swing}: {value}")

    def _take_back(self) -> None:
        if not self._undo:
            self._say("there is nothing to undo")
            return
        last = self._undo[-1]
        last.take_back()
        self._undo.pop()
        self._reopen()
        self._say(f"undone: {last.what}")

    def _reopen(self) -> None:
        """Read the study again after a change of swings.csv; the tables follow."""
        self.study = open_study(self.folder)
        self._measure()
        self._changed_s = time.monotonic()

    def remove(self, swing: str) -> None:
        """Take a swing out of swings.csv; its capture stays where it is and is not entered again by itself."""
        with self._lock:
            remove_row(self.folder, swing)
            self._reopen()
            self.version += 1

    # --- what a page shows -----------------------------------------------------------------------------------

    def last_swing(self) -> str | None:
        """The golfer's last swing of this session, None before the first."""
        swings = self.study.swings
        if "session" not in swings.columns:
            return None
        own = swings[(swings["golfer"] == self.golfer) & (swings["session"] == self.session)]
        return None if own.empty else str(own["swing"].iloc[-1])

    def _say(self, text: str) -> None:
        if not self.messages or self.messages[-1] != text:
            self.messages = [*self.messages[-4:], text]


def _last_text(rows: pd.DataFrame, column: str) -> str:
    """The last value of a column, empty where there is none."""
    if column not in rows.columns or rows.empty:
        return ""
    value = rows[column].iloc[-1]
    return "" if pd.isna(value) else str(value)


def _free_name(stem: str, taken: set[str]) -> str:
    """The file's stem, numbered where a swing is called so already."""
    name, number = stem, 2
    while name in taken:
        name, number = f"{stem}_{number}", number + 1
    return name
