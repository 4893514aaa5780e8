"""Notebook panel of one golfer over time: posture and strike by session, changes, and effects of lessons."""

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

#: Largest number of changes that are listed.
_MOST = 12


def follow_golfer(chosen: ChosenStudy) -> GolferPanel:
    """Show one golfer's posture and strike by session, with marker placement error and swing-to-swing SD.

    Parameters
    ----------
    chosen : ChosenStudy
        The study that was chosen at the top of the notebook.

    Returns
    -------
    GolferPanel
    """
    return GolferPanel(chosen)


class GolferPanel(Panel):
    """Notebook panel of one golfer's sessions.

    Attributes
    ----------
    means : dict of str to DataFrame
        Column of the swing table -> its means by session (see `answers.session_means`).
    changes : DataFrame
        Quantities whose change between the two chosen sessions is larger than the smallest detectable change.
    seasons : list of SeasonOfLesson
        The golfer's lessons and the sessions after them.
    quantity, event_asked : str
        Names of the posture quantity and of the event that are shown.
    pair : tuple of str
        Names of the golfer's swings with the largest and the smallest value of this quantity; empty if there is none.
    """

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
        """Fill the lists with quantities, outcomes and golfers; the golfer with most swings is chosen at first."""
        table = self.chosen.results.swings
        counts = table["golfer"].value_counts()
        refill(self.golfer, name_options(sorted(counts.index)), self.golfer.value or counts.index[0])
        self.posture.offer(measured_quantities(table))
        refill(self.outcome, outcome_options(table), self.outcome.value or "attack_angle_deg")

    def show(self) -> list[widgets.Widget | str]:
        """Return the panel's content: posture and strike by session, changes between sessions, and lessons."""
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
        for name in (column, *([self.outcome.value] if self.outcome.value else [])):
            means = answers.session_means(table, name, golfer=golfer, errors=study.errors_of)
            self.means[name] = means
            label = columns.column(name).axis_label if columns.is_column(name) else name
            axes = figures.draw_sessions(means, own, column=name, label=label)
            shown.append(
                words.picture(axes, f"{wording.label(name)} of golfer {golfer}, session by session.")
            )
        if study.errors_of(own).placement_deg is None:
            shown.append(words.lines("The error of placing the markers again is not known in this study, so the "
                "error bars are too short for comparing sessions. Do: give placement_deg under [errors] in "
                "study.toml."))  # fmt: skip
        return ["".join(shown) + self._changed(table, golfer) + self._lessons(golfer) + words.CAUTION]

    def _changed(self, table: pd.DataFrame, golfer: str) -> str:
        """Return as HTML the quantities that changed by more than the smallest detectable change."""
        first, last = self.first.value, self.last.value
        if first == last:
            return words.lines(
                "With only one session, no change between sessions can be shown yet. If the golfer has "
                "several sessions, choose two different ones."
            )
        names = [
            name for name in table.columns
            if columns.is_column(name) and not columns.column(name).error_of
            and columns.column(name).kind in ("posture", "strike")
            and not columns.column(name).motion.endswith(("_isb", "_from_neutral"))
            and pd.api.types.is_numeric_dtype(table[name])
        ]  # fmt: skip
        errors_of = self.chosen.need_study().errors_of
        self.changes = answers.changes_between(
            table, names, golfer=golfer, first=first, last=last, errors=errors_of
        )
        head = words.heading(
            f"What changed from {first} to {last} by more than the smallest detectable change"
        )
        if self.changes.empty:
            return head + words.lines("No quantity changed by more than this.")
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
                f"{len(self.changes)} of {len(names)} quantities changed by more than this; by chance alone about one "
                "in twenty would. The limits for positions in cm do not include marker placement error, which is a few "
                "millimetres. Use this list to find questions, not as a finding."
            )
        )

    def _lessons(self, golfer: str) -> str:
        """Return as HTML each lesson of this golfer, the sessions after it, and what to record next."""
        study, table = self.chosen.need_study(), self.chosen.results.swings
        self.seasons = seasons_of(
            table,
            study.lessons,
            self.chosen.findings,
            golfer=golfer,
            errors=study.errors_of(table[table["golfer"] == golfer]),
        )
        if not self.seasons:
            return words.lines(
                f"The study has no lesson of golfer {golfer}. Notebook 07_before_and_after shows how to add one."
            )
        parts = []
        for season in self.seasons:
            parts.append(words.heading(f"{season.name}: {season.reading}" if season.reading else season.name))
            parts.append(words.lines(season.planned, season.made))
            parts.append(words.table(season.table) if len(season.table) else "")
            parts.append(words.heading("Next session") + words.lines(*season.next_session))
        return "".join(parts) + words.lines(
            "A change is the mean of a later session minus the mean before the lesson, with the same club. Its "
            "95 % limits include the spread from swing to swing and, between days, marker placement error. The "
            "verdict is the reading above; notebook 07_before_and_after shows the full answer. Notebook "
            "10_write_up writes a sheet for the player with the report: players_sheet_1.html and so on, one for "
            "each lesson."
        )


def _at_least(limit: float, unit: str) -> str:
    """Return a limit with its unit; if it would be rounded to 0, as "below" the smallest number shown."""
    least = 10.0 ** -columns.UNIT_DECIMALS.get(unit, 2)
    return f"below {wording.with_unit(least, unit)}" if limit < least / 2 else wording.with_unit(limit, unit)
