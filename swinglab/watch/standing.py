"""State of one golfer's session: phase, club and cue, measured swings, and changes that can be undone."""

from __future__ import annotations

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
    """A change that can be undone, with its text for the page."""

    what: str
    take_back: Callable[[], object]


@dataclass(slots=True)
class Standing:
    """State of one golfer's session.

    golfer : code. number : what is shown for each swing. session : its name in swings.csv. phase, club, with_cue : of
    the swings to come. results : the session's measured swings, None before the first. findings : answers to the
    golfer's questions.
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

    def say(self, text: str) -> None:
        """Show a message on the golfer's page."""
        if not self.messages or self.messages[-1] != text:
            self.messages = [*self.messages[1 - _MOST_MESSAGES :], text]

    def set(self, **values: object) -> None:
        """Set fields by name."""
        for name, value in values.items():
            setattr(self, name, value)

    def rows(self, study: Study) -> pd.DataFrame:
        """Return the session's rows of swings.csv, in order."""
        swings = study.swings
        if "session" not in swings.columns:
            return swings.iloc[:0]
        return swings[(swings["golfer"] == self.golfer) & (swings["session"] == self.session)]

    def measure(self, study: Study) -> None:
        """Measure the session's swings; unchanged ones are read from the cache.

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
        """Return the results of the golfer's earlier swings and of this session; None before the first swing."""
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
        """Answer the golfer's questions from the session's swings and the earlier ones.

        All of this golfer's questions are answered, because p is adjusted over them; readings thus equal the report's.
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
