"""Widget that shows the swing whose mark was clicked in a figure; the swing can be excluded with a reason."""

from __future__ import annotations

from typing import Any

import ipywidgets as widgets

from swinglab.controls import html as words
from swinglab.controls.chosen_study import ChosenStudy
from swinglab.controls.swing_viewer import SwingViewer
from swinglab.errors import SwinglabError
from swinglab.figures.viewer import swing_frames


class PickedSwing(widgets.VBox):
    """Swing viewer for the swing that was clicked last in a figure; empty before the first click.

    Attributes
    ----------
    swing : str
        Name of the swing; empty before the first click.
    """

    def __init__(self, chosen: ChosenStudy) -> None:
        self.chosen = chosen
        self.swing = ""
        self.viewer: SwingViewer | None = None
        self.reason = widgets.Text(
            placeholder="for example: a marker fell off", description="Reason",
            style={"description_width": "initial"},
            layout=widgets.Layout(width="24em"), continuous_update=False,
        )  # fmt: skip
        self.exclude_button = widgets.Button(
            description="Exclude this swing", layout={"width": "auto"},
            tooltip="Exclude it from every answer of this study; the report shows the exclusion and its reason",
        )  # fmt: skip
        self.include_button = widgets.Button(description="Include it again", layout={"width": "auto"})
        self.close_button = widgets.Button(description="Close", layout={"width": "auto"})
        self.exclude_button.on_click(self._exclude)
        self.include_button.on_click(self._include)
        self.close_button.on_click(self._close)
        self._title = widgets.HTML()
        self._answer = widgets.HTML()
        self._row = widgets.HBox(
            [self.reason, self.exclude_button, self.include_button, self.close_button],
            layout=widgets.Layout(flex_flow="row wrap"),
        )
        super().__init__([])

    def show(self, swing: str, *, quantity: str, event: str) -> None:
        """Show a swing at an event, with a quantity drawn on the body."""
        self.swing = swing
        self._answer.value = ""
        try:
            records = self.chosen.records_of(swing)
            frames = [swing_frames(records.trial, records.posture, records.events, quantity=quantity or None)]
        except SwinglabError as fault:
            self._title.value = words.message(str(fault))
            self.children = [self._title]
            return
        self._title.value = words.heading(f"Swing {swing}, golfer {records.trial.golfer}")
        if self.viewer is None:
            self.viewer = SwingViewer(frames, align=event, start=event)
        else:
            self.viewer.show(frames, align=event, start=event)
        self.children = [self._title, self.viewer, self._row, self._answer]

    def _exclude(self, button: Any) -> None:
        self._try(
            lambda: self.chosen.exclude_swing(self.swing, self.reason.value), "is excluded from every answer"
        )

    def _include(self, button: Any) -> None:
        self._try(lambda: self.chosen.include_swing(self.swing), "is included again")

    def _close(self, button: Any) -> None:
        self.swing = ""
        self.children = []

    def _try(self, change: Any, done: str) -> None:
        try:
            change()
        except SwinglabError as fault:
            self._answer.value = words.message(str(fault))
            return
        self._answer.value = words.lines(
            f"Swing {self.swing} {done}. The figure and the answers are updated."
        )
