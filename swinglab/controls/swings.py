"""Notebook panel that shows one or two swings of a study in the swing viewer, with a posture quantity on the body."""

from __future__ import annotations

from typing import Any

import ipywidgets as widgets
import traitlets

from swinglab import columns
from swinglab import study as studies
from swinglab.controls.choosers import QuantityChooser, dropdown, event_options, name_options, refill
from swinglab.controls.chosen_study import ChosenStudy
from swinglab.controls.panel import Panel
from swinglab.controls.swing_viewer import SwingViewer
from swinglab.errors import MissingInput
from swinglab.figures.viewer import SwingFrames, swing_frames
from swinglab.report.typical import least_and_most
from swinglab.report.wording import at_event, label

DEFAULT_QUANTITY = "thorax_lateral_flexion_deg"


def show_swings(
    chosen: ChosenStudy, *, quantity: str = DEFAULT_QUANTITY, event: str = "impact", question: Any = None
) -> SwingsPanel:
    """Show swings of a study in the swing viewer: one swing, or two side by side.

    Parameters
    ----------
    chosen : ChosenStudy
        The study that was chosen at the top of the notebook.
    quantity : str
        Name of the posture quantity that is drawn on the body at first.
    event : str
        Name of the event that is shown first, and at which two swings are aligned in time.
    question : QuestionPanel, optional
        Panel returned by ``ask_hunch``, ``ask_comparison`` or ``ask_lesson``; the viewer then shows the quantity, event
        and typical swings of its question.

    Returns
    -------
    SwingsPanel
    """
    return SwingsPanel(chosen, quantity, event, question)


class SwingsPanel(Panel):
    """Notebook panel with lists of golfers, swings and quantities, and the swing viewer.

    Attributes
    ----------
    viewer : SwingViewer
        The widget that draws the swings.
    records : SwingRecords
        Trial, posture, events and strike of the first swing shown.
    """

    def __init__(
        self, chosen: ChosenStudy, quantity: str, event: str = "impact", question: Any = None
    ) -> None:
        self._question = question
        self.swing = SwingChooser("Swing")
        self.other = SwingChooser("Next to it", optional=True)
        self.quantity = QuantityChooser(quantity)
        self.at = dropdown("Opens at", event_options(), event)
        self.ends_button = widgets.Button(
            description="Least and most", layout={"width": "auto"},
            tooltip="This golfer's swings with the least and the most of the quantity at the event, side by side",
        )  # fmt: skip
        self.ends_button.on_click(self._show_ends)
        self.viewer: SwingViewer | None = None
        self.records: studies.SwingRecords | None = None
        super().__init__(chosen, [self.swing, self.other, self.quantity, self.at, self.ends_button])
        if question is not None:
            question.observe(self._follow_question, ["quantity", "pair", "event_asked"])

    def _follow_question(self, change: Any) -> None:
        """Show the quantity, the event and the swings of the question that is asked now."""
        asked = self._question
        self.choose(asked.pair, quantity=asked.quantity, event=asked.event_asked)

    def choose(self, swings: tuple[str, ...], *, quantity: str = "", event: str = "") -> None:
        """Show one or two swings by name; an empty argument keeps the present choice.

        Parameters
        ----------
        swings : tuple of str
            Names of one or two swings.
        quantity, event : str
            Names of a posture quantity and of an event.
        """
        self._is_filling = True
        try:
            self._set_choosers(swings, quantity, event)
        finally:
            self._is_filling = False
        self.refresh()

    def _set_choosers(self, swings: tuple[str, ...], quantity: str, event: str) -> None:
        if quantity:
            self.quantity.value = quantity
        if event:
            self.at.value = event
        if swings:
            self.swing.choose(swings[0])
            self.other.choose(swings[1] if len(swings) > 1 else "")

    def refill_choosers(self) -> None:
        """Fill the lists with the study's golfers and swings; typical swings of a linked question are chosen first."""
        study = self.chosen.need_study()
        for chooser in (self.swing, self.other):
            chooser.offer(study)
        asked = self._question
        if self.viewer is None and asked is not None:  # now, so that no other swing is measured first
            self._set_choosers(asked.pair, asked.quantity, asked.event_asked)

    def show(self) -> list[widgets.Widget | str]:
        """Return the panel's content: the viewer with the chosen swings and quantity."""
        self.records = self.chosen.records_of(self.swing.value)
        shown = [self._frames(self.records)]
        if self.other.value:
            shown.append(self._frames(self.chosen.records_of(self.other.value)))
        if self.viewer is None:
            self.viewer = SwingViewer(shown, align=self.at.value, start=self.at.value)
        else:
            self.viewer.show(shown, align=self.at.value, start=self.at.value)
        return [self.viewer]

    def _show_ends(self, button: Any) -> None:
        column = columns.event_column_name(self.quantity.value, self.at.value)
        table = self.chosen.results.swings
        golfer = table.loc[table["swing"] == self.swing.value, "golfer"]
        ends = least_and_most(table[table["golfer"].isin(golfer)], column)
        if len(ends) < 2:
            what = f"{label(self.quantity.value)}{at_event(self.at.value)}"
            self.report(
                MissingInput(
                    f"this golfer has fewer than two swings with a value of {what}",
                    do="choose another golfer or quantity",
                )
            )
            return
        self.choose(ends)

    def _frames(self, records: studies.SwingRecords) -> SwingFrames:
        title = f"{records.trial.swing}, golfer {records.trial.golfer}"
        rows = self.chosen.need_study().swings
        own = rows[rows["swing"] == records.trial.swing]
        if "phase" in own.columns and str(own["phase"].iloc[0]):
            title += f", {own['phase'].iloc[0]}"
        return swing_frames(
            records.trial, records.posture, records.events, quantity=self.quantity.value, title=title
        )


class SwingChooser(widgets.HBox):
    """Two lists, of golfers and of the golfer's swings; `value` is the name of the chosen swing, empty if none."""

    value = traitlets.Unicode()

    def __init__(self, label: str, *, optional: bool = False) -> None:
        self._is_optional = optional
        self._golfer = dropdown(f"{label}: golfer", [])
        self._swing = dropdown("swing", [])
        self._swings: dict[str, list[str]] = {}
        super().__init__([self._golfer, self._swing])
        self._golfer.observe(self._fill, "value")
        self._swing.observe(self._chosen, "value")

    def offer(self, study: studies.Study) -> None:
        """Fill the lists with the swings of a study that are not marked as excluded."""
        rows = study.swings
        if "exclude" in rows.columns:
            rows = rows[rows["exclude"].astype(str) == ""]
        self._swings = {str(g): list(own["swing"]) for g, own in rows.groupby("golfer", sort=True)}
        none = [("none", "")] if self._is_optional else []
        refill(self._golfer, [*none, *name_options(self._swings)])
        self._fill()

    def choose(self, swing: str) -> None:
        """Choose a swing by its name, or none ("").

        A name that is not in the lists is ignored.
        """
        if not swing and self._is_optional:
            self._golfer.value = ""
        for golfer, swings in self._swings.items():
            if swing in swings:
                self._golfer.value = golfer
                self._swing.value = swing

    def _fill(self, change: object = None) -> None:
        refill(self._swing, name_options(self._swings.get(self._golfer.value, [])))
        self._swing.layout.display = "" if self._golfer.value else "none"
        self._chosen()

    def _chosen(self, change: object = None) -> None:
        known = self._swings.get(self._golfer.value, [])
        if not self._golfer.value:
            self.value = ""
        elif self._swing.value in known:
            self.value = self._swing.value
