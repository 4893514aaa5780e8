"""A running session: new captures are added to the study and measured, and keys change its state."""

from __future__ import annotations

import threading
import time
from datetime import date
from pathlib import Path

import pandas as pd

from swinglab.errors import BadRequest, SwinglabError
from swinglab.records import Finding
from swinglab.study import Results, Study, load_or_measure, open_study
from swinglab.watch.arrivals import Arrivals
from swinglab.watch.number import Number, number_of
from swinglab.watch.pressing import act
from swinglab.watch.standing import Standing
from swinglab.watch.study_files import StudyFiles
from swinglab.watch.swings_file import append_row
from swinglab.watch.writing import ResultsWriter

#: The results folder is written when no capture has arrived for this time (s).
QUIET_S = 20.0
#: A golfer's capture on another date, after a pause of this golfer of more than this many hours, begins a new session,
#: because the markers were probably placed again.
NEW_SESSION_H = 4.0


class RangeSession:
    """Session on the range: a study to which new captures are added while golfers swing.

    `poll` adds and measures new captures; `press` carries out the action of a key. Both may be called from different
    threads. After each call the study's own files contain the complete state, so a session that was killed can be
    continued.

    Parameters
    ----------
    folder : path
        The study folder.
    golfer : str, optional
        Code of the golfer who is shown first; by default the golfer of the last row of swings.csv.
    lesson : str, optional
        Name of the lesson whose posture and outcome are shown; by default the golfer's first lesson.
    every : int
        Number of swings in a summary.

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
        self._files = StudyFiles(self.study)
        self.earlier: Results = load_or_measure(self.study)
        self.every = every
        captures = self.folder / "captures"
        self.arrivals = Arrivals(captures, set(self.study.captures.values()))
        self.singles, self.season = False, False
        self.version = 0
        self._standings: dict[str, Standing] = {}
        first = str(golfer or self.study.swings["golfer"].iloc[-1])
        self._now = self._standing(first, number_of(self.study, first, lesson=lesson))
        self._changed_s: float | None = None
        self._writer = ResultsWriter(self.folder / "results")

    def locked(self) -> threading.RLock:
        """Return the lock of the session; acquire it to read several attributes at one moment."""
        return self._lock

    def report(self, text: str) -> None:
        """Add a message to those shown on the session's page."""
        with self._lock:
            self._now.say(text)
            self.version += 1

    # --- the golfer who is shown -----------------------------------------------------------------------------

    @property
    def golfers(self) -> list[str]:
        """Codes of the study's golfers, in the order of golfers.csv; the keys 1 to 9 choose among the first nine."""
        return [str(code) for code in self.study.golfers["golfer"]]

    @property
    def standing(self) -> Standing:
        """State of the session of the golfer who is shown."""
        return self._now

    @property
    def golfer(self) -> str:
        """Code of the golfer who is shown.

        New captures are added as this golfer's, unless they are in a subfolder that is named by another golfer's code.
        """
        return self._now.golfer

    @property
    def number(self) -> Number:
        """Posture, event and outcome that are shown for each swing of this golfer."""
        return self._now.number

    @property
    def session(self) -> str:
        """Name of the present session of this golfer in swings.csv."""
        return self._now.session

    @property
    def messages(self) -> list[str]:
        """The texts of the messages that are shown on the page of the present golfer."""
        return self._now.messages

    @property
    def findings(self) -> tuple[Finding, ...]:
        """Answers to this golfer's questions from the swings measured so far."""
        return self._now.findings

    def choose_golfer(self, golfer: str) -> None:
        """Show another golfer from now on, and add new captures as this golfer's swings."""
        self._now = self._standing(golfer)

    def _standing(self, golfer: str, number: Number | None = None) -> Standing:
        """Return the state of a golfer's session today, which is created at the first call.

        A session that was interrupted today continues with the phase, club and cue of its last swing.
        """
        if golfer not in self._standings:
            made = Standing(golfer, number or self._number_of(golfer), _session_today(golfer))
            rows = made.rows(self.study)
            own = self.study.swings[self.study.swings["golfer"] == golfer]
            made.phase, made.club = _last_text(rows, "phase"), _last_text(own, "club")
            made.with_cue = bool(_last_text(rows, "cue"))
            made.measure(self.study)
            made.findings = made.answer(self.study, self.earlier)
            self._standings[golfer] = made
        return self._standings[golfer]

    def _number_of(self, golfer: str) -> Number:
        """Return a golfer's own `Number`.

        If no lesson or hunch gives one, it is that of the golfer who is shown, without target range and planned swings.
        """
        try:
            return number_of(self.study, golfer)
        except BadRequest:
            shown = self._now.number
            return Number(shown.quantity, shown.event, shown.outcome)

    # --- arrivals --------------------------------------------------------------------------------------------

    def poll(self) -> list[str]:
        """Add and measure the new captures whose files are complete; return the names of the new swings.

        Changes of the study's other files are read too, for example new rows in another device's table. The answers
        about the golfers who made the new swings are updated at once. The results folder, with all answers of the
        study, is updated when no capture has arrived for 20 s (`QUIET_S`).
        """
        waiting, refused = dict(self.arrivals.waiting), dict(self.arrivals.refused)
        ready = self.arrivals.poll()
        if ready:
            self._writer.give_way()
        with self._lock:
            if self._files.have_changed():
                self.reopen()
        entered = {path: name for path in ready if (name := self._enter_and_measure(path))}
        if entered:
            self._changed_s = time.monotonic()
            self._answer({self._golfer_of(path) for path in entered})
        elif not self._writer.is_at_work():
            self._take_results()
            if self._changed_s is not None and time.monotonic() - self._changed_s > QUIET_S:
                self._write()
        if waiting != self.arrivals.waiting or refused != self.arrivals.refused:
            self.version += 1
        return list(entered.values())

    def close(self) -> None:
        """Bring the results folder up to date, and return when it has been written."""
        self._writer.wait()
        self._take_results()
        if self._changed_s is not None:
            self._write()
            self._writer.wait()
            self._take_results()

    def _enter_and_measure(self, path: Path) -> str | None:
        with self._lock:
            try:
                standing = self._standing(self._golfer_of(path))
                name = self._enter(path, standing)
            except (SwinglabError, OSError) as fault:
                self._now.say(f"the capture {path.name} was not added to the study: {fault}")
                self.version += 1
                return None
            standing.measure(self.study)
            self.version += 1
            return name

    def _enter(self, path: Path, standing: Standing) -> str:
        """Add the row of a new capture to swings.csv, and return the name of the new swing."""
        self._begin_another_day(standing)
        name = _free_name(path.stem, set(self.study.swings["swing"]))
        append_row(
            self.folder,
            {
                "swing": name,
                "golfer": standing.golfer,
                "capture": path.relative_to(self.folder / "captures").as_posix(),
                "session": standing.session,
                "phase": standing.phase,
                "order": str(len(standing.rows(self.study)) + 1),
                "club": standing.club,
                "cue": standing.number.cue if standing.with_cue else "",
            },
        )
        standing.entered_s = time.time()
        self.arrivals.enter(path)
        self._read_study()
        return name

    def _begin_another_day(self, standing: Standing) -> None:
        today = _session_today(standing.golfer)
        if standing.session != today and time.time() - standing.entered_s > NEW_SESSION_H * 3600:
            standing.session, standing.phase, standing.undo = today, "", []
            standing.say(
                "a new session was started, because the date has changed: press the key of its phase"
            )

    def _golfer_of(self, path: Path) -> str:
        """Return the golfer whose code is the capture's first folder below captures/, or else the golfer shown."""
        parts = path.relative_to(self.folder / "captures").parts
        return parts[0] if len(parts) > 1 and parts[0] in self.golfers else self.golfer

    def belongs(self, path: Path) -> bool:
        """Return whether a new capture file is for the golfer who is shown, as described under `golfer`."""
        return self._golfer_of(path) == self.golfer

    def _answer(self, golfers: set[str]) -> None:
        """Answer the questions about these golfers, and store the findings for the page."""
        for golfer in sorted(golfers):
            standing = self._standings[golfer]
            findings = standing.answer(self.study, self.earlier)
            with self._lock:
                standing.findings = findings
                self.version += 1

    # --- results ---------------------------------------------------------------------------------------------

    def _write(self) -> None:
        """Start to measure the whole study and to write its results, in the background."""
        with self._lock:
            self._changed_s = None
            study = self.study
        self._writer.start(study)

    def _take_results(self) -> None:
        """Take the results from the writer in the background, and report its error on the page if there is one."""
        results, fault = self._writer.take()
        with self._lock:
            if results is not None:
                self.earlier = results
            if fault is not None:
                self._changed_s = self._changed_s or time.monotonic()
            if fault:
                self.report(f"the results folder could not be written: {fault}")

    # --- keys ------------------------------------------------------------------------------------------------

    def press(self, key: str) -> bool:
        """Carry out the action of a key; return False for a key that is not in `keys.KEYS`.

        An error is shown as a message on the page.
        """
        with self._lock:
            try:
                known = act(self, key)
            except (SwinglabError, OSError) as fault:
                self._now.say(str(fault))
                known = True
            self.version += known
            return known

    def reopen(self) -> None:
        """Open the study again after a change of its files, and update the numbers shown.

        If the changed files have a fault, the study as last opened is still used, and a message is shown. The results
        folder is updated later.
        """
        with self._lock:
            try:
                self._read_study()
            except (
                SwinglabError
            ) as fault:  # a file that is being written or is damaged: the study as last read is still used
                self._now.say(
                    f"a file of the study was changed and has a fault, so the earlier version is still used: {fault}"
                )
                self.version += 1
                return
            for standing in self._standings.values():
                standing.measure(self.study)
            self._changed_s = time.monotonic()
            self.version += 1

    def _read_study(self) -> None:
        files = StudyFiles(self.study)
        study = open_study(self.folder)
        self._files = files if study.device == self.study.device else StudyFiles(study)
        self.study = study
        self.arrivals.known |= set(self.study.captures.values())

    # --- what a page shows -----------------------------------------------------------------------------------

    def last_swing(self) -> str | None:
        """Name of the golfer's last swing in this session; None before the first."""
        own = self._now.rows(self.study)
        return None if own.empty else str(own["swing"].iloc[-1])


def _session_today(golfer: str) -> str:
    return f"{golfer} {date.today().isoformat()}"


def _last_text(rows: pd.DataFrame, column: str) -> str:
    """Return the last value of a column as text; empty if there is none."""
    if column not in rows.columns or rows.empty:
        return ""
    value = rows[column].iloc[-1]
    return "" if pd.isna(value) else str(value)


def _free_name(stem: str, taken: set[str]) -> str:
    """Return a name for a new swing: the file name without ending, with a number if this name is taken."""
    name, number = stem, 2
    while name in taken:
        name, number = f"{stem}_{number}", number + 1
    return name
