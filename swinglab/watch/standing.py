"""State of one golfer's session: phase, club, cue, measured swings, and changes that can be undone."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass, field, replace

import pandas as pd

from swinglab.errors import StudyFaults
from swinglab.records import Finding
from swinglab.study import NothingMeasured, Results, Study, answer_study, measure_study, swings_folder
from swinglab.watch.number import Number

_MOST_MESSAGES = 5


@dataclass(frozen=True, slots=True)
class Undo:
    """A change in a session that can be undone.

    what : text for the page after "undone:". take_back : function that undoes the change.
    """

    what: str
    take_back: Callable[[], object]


@dataclass(slots=True)
class Standing:
    """State of one golfer's session on the range.

    golfer : code. number : the `Number` shown for each swing. session : name of the session in swings.csv. phase,
    club, with_cue : phase and club of the next swings, and whether they are made with the lesson's cue. results :
    `Results` of the session's swings, None before the first swing. findings : answers to the golfer's questions.
    messages : the last five messages for the page. undo : changes that can be undone, the latest last. entered_s : time
    of the golfer's last capture, or of the beginning of the session before the first (s, as in `time.time`).
    """

    golfer: str
    number: Number
    session: str
    phase: str = ""
    club: str = ""
    with_cue: bool = False
    results: Results | None = None
    findings: tuple[Finding, ...] = ()
    messages: list[str] = field(default_factory=list)
    undo: list[Undo] = field(default_factory=list)
    entered_s: float = field(default_factory=time.time)

    def say(self, text: str) -> None:
        """Add a message to those shown on the golfer's page."""
        if not self.messages or self.messages[-1] != text:
            self.messages = [*self.messages[1 - _MOST_MESSAGES :], text]

    def set(self, **values: object) -> None:
        """Set fields of this state, given as field=value."""
        for name, value in values.items():
            setattr(self, name, value)

    def rows(self, study: Study) -> pd.DataFrame:
        """Return the rows of swings.csv that belong to this golfer's session, in order."""
        swings = study.swings
        if "session" not in swings.columns:
            return swings.iloc[:0]
        return swings[(swings["golfer"] == self.golfer) & (swings["session"] == self.session)]

    def measure(self, study: Study) -> None:
        """Measure the swings of this session; unchanged swings are read from the cache on disk.

        Other swings of the study are not measured, so the time does not depend on the size of the study.
        """
        rows = self.rows(study)
        if rows.empty:
            self.results = None
            return
        own = study.excluded["swing"].isin(rows["swing"])
        alone = replace(study, swings=rows.reset_index(drop=True), excluded=study.excluded[own])
        try:
            self.results = measure_study(alone, workers=1, cache=swings_folder(study))
        except NothingMeasured as fault:
            self.results = _nothing(fault)
        except StudyFaults as fault:
            self.say(str(fault))

    def whole(self, study: Study, earlier: Results) -> Results | None:
        """Return the results of all the golfer's swings, of earlier sessions and of this one.

        None before the first swing of this session.

        earlier : `Results` with the golfer's swings of earlier sessions.
        """
        if self.results is None:
            return None
        today, tables = set(self.rows(study)["swing"]), {}
        for name in ("swings", "excluded"):
            before = getattr(earlier, name)
            if "golfer" in before.columns:
                before = before[(before["golfer"] == self.golfer) & ~before["swing"].isin(today)]
            parts = [part for part in (before, getattr(self.results, name)) if len(part)]
            tables[name] = pd.concat(parts, ignore_index=True) if parts else before
        return replace(self.results, **tables)

    def answer(self, study: Study, earlier: Results) -> tuple[Finding, ...]:
        """Answer the golfer's questions from the swings of this session and of earlier ones.

        The questions are the lessons of this golfer and the hunches about this golfer. All are answered, because p
        values are adjusted for their number. The result is empty if the golfer has no lesson, and before the first
        swing of this session. earlier : as for `whole`.
        """
        lessons = tuple(one for one in study.lessons if one.golfer == self.golfer)
        whole = self.whole(study, earlier)
        if not lessons or whole is None:
            return ()
        hunches = tuple(one for one in study.hunches if one.level == "golfer" and one.golfer == self.golfer)
        return answer_study(replace(study, hunches=hunches, comparisons=(), lessons=lessons), whole)


def _nothing(fault: NothingMeasured) -> Results:
    """Return results without swings, with the reason why each was refused."""
    empty = pd.DataFrame({"swing": pd.Series(dtype=str)})
    return Results(empty, empty, empty, empty, fault.left_out, empty, gate=fault.gate)
