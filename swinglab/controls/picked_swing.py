"""The swing behind a mark of a figure: shown at the event in question."""

from __future__ import annotations

from typing import Any

import ipywidgets as widgets

from swinglab.controls import html as words
from swinglab.controls.chosen_study import ChosenStudy
from swinglab.controls.swing_viewer import SwingViewer
from swinglab.errors import SwinglabError
from swinglab.figures.viewer import swing_frames


class PickedSwing(widgets.VBox):
    """The swing picked last in a figure, in the swing viewer; nothing is shown before one is picked.

    Attributes
    ----------
    swing : str
        Its name; empty before.
    """

    def __init__(self, chosen: ChosenStudy) -> None:
        self.chosen = chosen
        self.swing = ""
        self.viewer: SwingViewer | None = None
        self.close_button = widgets.Button(description="Close", layout={"width": "auto"})
        self.close_button.on_click(self._close)
        self._title = widgets.HTML()
        super().__init__([])

    def show(self, swing: str, *, quantity: str, event: str) -> None:
        """Show a swing at an event, with a quantity drawn on the body."""
        self.swing = swing
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
        self.children = [self._title, self.viewer, self.close_button]

    def _close(self, button: Any) -> None:
        self.swing = ""
        self.children = []
