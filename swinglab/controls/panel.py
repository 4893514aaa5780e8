"""A part of a notebook's page: choosers above, what they show below, and messages instead of tracebacks."""

from __future__ import annotations

from typing import Any

import ipywidgets as widgets

from swinglab.controls import words
from swinglab.controls.chosen_study import ChosenStudy
from swinglab.errors import SwinglabError


class Panel(widgets.VBox):
    """Follows a chosen study and its own choosers. A kind of panel says how it fills itself.

    `refill_choosers` offers what the study has; `show` shows what is chosen. A SwinglabError from either
    stands in the page as its message; any other fault is a defect and is not hidden.
    """

    def __init__(self, chosen: ChosenStudy, choosers: list[widgets.Widget]) -> None:
        self.chosen = chosen
        self._choosers = choosers
        self._said = widgets.HTML()
        self._shown: list[widgets.Widget] = []
        self._is_filling = False
        super().__init__()
        chosen.observe(self._renew, "opened")
        for chooser in choosers:
            if chooser.has_trait("value"):
                chooser.observe(self._choice_made, "value")
        self._renew()

    def refill_choosers(self) -> None:
        """Offer what the open study has."""

    def show(self) -> list[widgets.Widget]:
        """What stands below the choosers."""
        raise NotImplementedError

    def _renew(self, change: Any = None) -> None:
        self._is_filling = True
        try:
            self.refill_choosers()
            filled = True
        except SwinglabError as fault:
            filled = False
            self._said.value = words.message(str(fault))
            self.children = [self._said]
        finally:
            self._is_filling = False
        if filled:
            self.refresh()

    def _choice_made(self, change: Any) -> None:
        if not self._is_filling:
            self.refresh()

    def refresh(self) -> None:
        """Show what is chosen now."""
        try:
            self._shown = self.show()
            self._said.value = ""
        except SwinglabError as fault:
            self._shown = []
            self._said.value = words.message(str(fault))
        row = widgets.HBox(self._choosers, layout=widgets.Layout(flex_flow="row wrap"))
        self.children = [*([row] if self._choosers else []), self._said, *self._shown]


def html(text: str) -> widgets.HTML:
    """Text of `words` as a widget."""
    return widgets.HTML(text)
