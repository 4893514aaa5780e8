"""A part of a notebook's page: choosers above, what they show below, and messages instead of tracebacks."""

from __future__ import annotations

from typing import Any

import ipywidgets as widgets

from swinglab.controls import html as words
from swinglab.controls.chosen_study import ChosenStudy
from swinglab.errors import SwinglabError


class Panel(widgets.VBox):
    """Follows a chosen study and its own choosers. A kind of panel defines how it fills itself.

    `refill_choosers` offers what the study has; `show` shows what is chosen. A SwinglabError from either
    stands in the page as its message; any other fault is a defect and is not hidden.
    """

    def __init__(self, chosen: ChosenStudy, choosers: list[widgets.Widget]) -> None:
        self.chosen = chosen
        self._row = widgets.HBox(choosers, layout=widgets.Layout(flex_flow="row wrap"))
        self._said = widgets.HTML()
        self._texts: dict[int, widgets.HTML] = {}
        self._placed: list[widgets.Widget] = []
        self._is_filling = False
        super().__init__([self._row, self._said])
        chosen.observe(self._renew, "opened")
        for chooser in choosers:
            if chooser.has_trait("value"):
                chooser.observe(self._choice_made, "value")
        self._renew()

    def refill_choosers(self) -> None:
        """Offer what the open study has."""

    def show(self) -> list[widgets.Widget | str]:
        """What stands below the choosers: widgets that stay, or the HTML of `words`."""
        raise NotImplementedError

    def _renew(self, change: Any = None) -> None:
        self._is_filling = True
        try:
            self.refill_choosers()
        except SwinglabError as fault:
            self._row.layout.display = "none"
            self._place([], str(fault))
            return
        finally:
            self._is_filling = False
        self._row.layout.display = ""
        self.refresh()

    def _choice_made(self, change: Any) -> None:
        if not self._is_filling:
            self.refresh()

    def refresh(self) -> None:
        """Show what is chosen now."""
        try:
            self._place(self.show(), "")
        except SwinglabError as fault:
            self._place([], str(fault))

    def report(self, fault: SwinglabError) -> None:
        """Write a message above what is shown, which stays."""
        self._said.value = words.message(str(fault))

    def _place(self, shown: list[widgets.Widget | str], fault: str) -> None:
        """Put things into the page. What is there already stays, and with it the keyboard's focus."""
        self._said.value = words.message(fault)
        placed: list[widgets.Widget] = [self._row, self._said]
        for number, item in enumerate(shown):
            if isinstance(item, str):
                text = self._texts.setdefault(number, widgets.HTML())
                text.value = item
                placed.append(text)
            else:
                placed.append(item)
        if self._placed != placed:
            self.children = self._placed = placed
