"""Swings of a study in the viewer, one or two, with the quantity in question drawn on the body."""

from __future__ import annotations

from typing import Any

import ipywidgets as widgets
import traitlets

from swinglab import study as studies
from swinglab.controls.choosers import QuantityChooser, dropdown, event_options, name_options, refill
from swinglab.controls.chosen_study import ChosenStudy
from swinglab.controls.panel import Panel
from swinglab.controls.swing_viewer import SwingViewer
from swinglab.figures.viewer import SwingFrames, swing_frames

DEFAULT_QUANTITY = "thorax_lateral_flexion_deg"


def show_swings(
    chosen: ChosenStudy, *, quantity: str = DEFAULT_QUANTITY, question: Any = None
) -> SwingsPanel:
    """The swings of a study in the viewer, chosen by golfer and name, a second one beside if wished.

    Parameters
    ----------
    chosen : ChosenStudy
    quantity : str
        The posture quantity drawn on the body at first.
    question : QuestionPanel, optional
        What ``ask_hunch`` and its like return: the quantity drawn follows the question asked there.
    """
    panel = SwingsPanel(chosen, quantity)
    if question is not None:
        panel.follow(question)
    return panel


class SwingsPanel(Panel):
    """A viewer with its choosers; `viewer` is the widget, `records` the first swing's records."""

    def __init__(self, chosen: ChosenStudy, quantity: str) -> None:
        self.swing = SwingChooser("Swing")
        self.other = SwingChooser("Beside it", optional=True)
        self.quantity = QuantityChooser(quantity)
        self.align = dropdown("Together at", event_options(), "impact")
        self.viewer: SwingViewer | None = None
        self.records: studies.SwingRecords | None = None
        super().__init__(chosen, [self.swing, self.other, self.align, self.quantity])

    def follow(self, question: Any) -> None:
        """Draw the quantity of a question, and the swings it means, now and whenever another is asked."""

        def renew(change: Any = None) -> None:
            if question.quantity:
                self.quantity.value = question.quantity
            if question.pair:
                self.swing.choose(question.pair[0])
                self.other.choose(question.pair[1])

        question.observe(renew, ["quantity", "pair"])
        renew()

    def refill_choosers(self) -> None:
        """Offer the study's golfers and swings."""
        study = self.chosen.need_study()
        for chooser in (self.swing, self.other):
            chooser.offer(study)

    def show(self) -> list[widgets.Widget | str]:
        """The viewer with what is chosen."""
        self.records = self.chosen.records_of(self.swing.value)
        shown = [self._frames(self.records)]
        if self.other.value:
            shown.append(self._frames(self.chosen.records_of(self.other.value)))
        if self.viewer is None:
            self.viewer = SwingViewer(shown, align=self.align.value)
        else:
            self.viewer.show(shown, align=self.align.value)
        return [self.viewer]

    def _frames(self, records: studies.SwingRecords) -> SwingFrames:
        title = f"{records.trial.swing}, golfer {records.trial.golfer}"
        return swing_frames(
            records.trial, records.posture, records.events, quantity=self.quantity.value, title=title
        )


class SwingChooser(widgets.HBox):
    """Chooses a swing by golfer, then by name; `value` is the swing's name, empty for none."""

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
        """Offer the swings of a study that it does not leave out."""
        rows = study.swings
        if "exclude" in rows.columns:
            rows = rows[rows["exclude"].astype(str) == ""]
        self._swings = {str(g): list(own["swing"]) for g, own in rows.groupby("golfer", sort=True)}
        none = [("none", "")] if self._is_optional else []
        refill(self._golfer, [*none, *name_options(self._swings)])
        self._fill()

    def choose(self, swing: str) -> None:
        """Choose a swing by its name; one that is not offered changes nothing."""
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
