"""One golfer over time: posture and strike session by session, what changed, and what the lessons did."""

from __future__ import annotations

import ipywidgets as widgets
import pandas as pd
import traitlets

from swinglab import answers, columns, figures
from swinglab.controls import html as words
from swinglab.controls.choosers import (
    QuantityChooser,
    dropdown,
    event_options,
    name_options,
    outcome_options,
    refill,
)
from swinglab.controls.chosen_study import ChosenStudy
from swinglab.controls.panel import Panel
from swinglab.controls.questions import measured_quantities, need_event
from swinglab.controls.screening import most_and_least, need_sessions
from swinglab.report import screen_words, wording
from swinglab.report.season import SeasonOfLesson, seasons_of

_MOST = 12


def follow_golfer(chosen: ChosenStudy) -> GolferPanel:
    """Panel of one golfer's posture and strike by session, with the error of the markers and the own spread."""
    return GolferPanel(chosen)


class GolferPanel(Panel):
    """`means` holds the sessions of posture and strike, `changes` what changed by more than its error, `seasons`
    the golfer's lessons over the season."""

    quantity = traitlets.Unicode()
    event_asked = traitlets.Unicode()
    pair = traitlets.Tuple()

    def __init__(self, chosen: ChosenStudy) -> None:
        self.means: dict[str, pd.DataFrame] = {}
        self.changes = pd.DataFrame()
        self.seasons: list[SeasonOfLesson] = []
        self.golfer = dropdown("Golfer", [])
        self.posture = QuantityChooser("thorax_lateral_flexion_deg")
        self.event = dropdown("at", event_options(), "shaft_horizontal_down")
        self.outcome = dropdown("and the strike", [])
        self.first = dropdown("Compare session", [])
        self.last = dropdown("with", [])
        super().__init__(chosen, [self.golfer, self.posture, self.event, self.outcome, self.first, self.last])

    def refill_choosers(self) -> None:
        """Offer golfers, the one with most swings first chosen, and what was measured."""
        table = self.chosen.results.swings
        counts = table["golfer"].value_counts()
        refill(self.golfer, name_options(sorted(counts.index)), self.golfer.value or counts.index[0])
        self.posture.offer(measured_quantities(table))
        refill(self.outcome, outcome_options(table), self.outcome.value or "attack_angle_deg")

    def show(self) -> list[widgets.Widget | str]:
        """Sessions of posture and strike, what changed, the lessons."""
        study, table = self.chosen.need_study(), self.chosen.results.swings
        golfer = self.golfer.value
        need_event(self.posture.value, self.event.value)
        need_sessions(table)
        column = columns.event_column_name(self.posture.value, self.event.value)
        own = table[table["golfer"] == golfer]
        sessions = list(dict.fromkeys(own["session"]))
        self._is_filling = True
        refill(self.first, name_options(sessions))
        refill(
            self.last,
            name_options(sessions),
            self.last.value if self.last.value in sessions else sessions[-1],
        )
        self._is_filling = False
        with self.hold_trait_notifications():
            self.quantity, self.event_asked = self.posture.value, self.event.value
            self.pair = most_and_least(own, column) if own[column].notna().any() else ()
        shown = []
        for name in (column, self.outcome.value):
            means = answers.session_means(table, name, golfer=golfer, errors=study.errors)
            self.means[name] = means
            label = columns.column(name).axis_label if columns.is_column(name) else name
            axes = figures.draw_sessions(means, own, column=name, label=label)
            shown.append(
                words.picture(axes, f"{wording.label(name)} of golfer {golfer}, session by session.")
            )
        if study.errors.placement_deg is None:
            shown.append(words.lines("How much putting the markers on again moves an angle is not known here, so the "
                                     "bars are too short between sessions ([errors] placement_deg)."))  # fmt: skip
        return ["".join(shown) + self._changed(table, golfer) + self._lessons(golfer) + words.CAUTION]

    def _changed(self, table: pd.DataFrame, golfer: str) -> str:
        """What changed between the two sessions by more than the smallest detectable change."""
        first, last = self.first.value, self.last.value
        if first == last:
            return words.lines("One session: there is nothing to compare it with yet.")
        names = [
            name for name in table.columns
            if columns.is_column(name) and not columns.column(name).error_of
            and columns.column(name).kind in ("posture", "strike")
            and not columns.column(name).motion.endswith(("_isb", "_from_neutral"))
            and pd.api.types.is_numeric_dtype(table[name])
        ]  # fmt: skip
        errors = self.chosen.need_study().errors
        self.changes = answers.changes_between(
            table, names, golfer=golfer, first=first, last=last, errors=errors
        )
        head = words.heading(
            f"What changed from {first} to {last} by more than the smallest detectable change"
        )
        if self.changes.empty:
            return head + words.lines("Nothing did.")
        rows = [
            {
                "what": screen_words.posture_words(row["column"])
                if columns.column(row["column"]).event
                else wording.label(row["column"]),
                "change": ("+" if row["change"] > 0 else "") + wording.with_unit(row["change"], unit),
                "smallest detectable change": _at_least(row["detectable"], unit),
            }
            for row in self.changes.head(_MOST).to_dict("records")
            for unit in [columns.column(row["column"]).unit]
        ]
        return (
            head
            + words.table(pd.DataFrame(rows))
            + words.lines(
                f"{len(self.changes)} of {len(names)} numbers are beyond it; by chance alone about one in twenty would "
                "be. Positions in cm hold no error of marker placement: markers put on again move them by some "
                "millimetres. This is a list to look at, not a finding."
            )
        )

    def _lessons(self, golfer: str) -> str:
        """Each lesson of this golfer over the season, and what to record next."""
        study = self.chosen.need_study()
        self.seasons = seasons_of(
            self.chosen.results.swings,
            study.lessons,
            self.chosen.findings,
            golfer=golfer,
            errors=study.errors,
        )
        if not self.seasons:
            return words.lines(f"The study has no lesson of golfer {golfer}: see 07_before_and_after.")
        parts = []
        for season in self.seasons:
            parts.append(words.heading(f"{season.name}: {season.reading}" if season.reading else season.name))
            parts.append(words.lines(season.planned, season.made))
            parts.append(words.table(season.table) if len(season.table) else "")
            parts.append(words.heading("Next session") + words.lines(*season.next_session))
        return "".join(parts) + words.lines(
            "A change is the mean of a look minus the mean before, with the same club; its 95 % limits hold the spread "
            "from swing to swing and, between days, the error of putting the markers on. The verdict is the reading "
            "above, in full in 07_before_and_after. The sheet for the player is written with the report (10_write_up): "
            "players_sheet_1.html and so on, one for each lesson."
        )


def _at_least(limit: float, unit: str) -> str:
    """A limit with its unit; one that rounds to 0 as what it lies below."""
    least = 10.0 ** -columns.UNIT_DECIMALS.get(unit, 2)
    return f"below {wording.with_unit(least, unit)}" if limit < least / 2 else wording.with_unit(limit, unit)
