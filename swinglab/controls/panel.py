"""Base class of notebook panels: lists to choose from above, content below, error messages instead of tracebacks."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from functools import partial
from typing import Any

import ipywidgets as widgets

from swinglab.controls import html as words
from swinglab.controls.chosen_study import ChosenStudy
from swinglab.errors import SwinglabError


def soon(call: Callable[[], None]) -> None:
    """Call a function after pending output has been sent to the page; at once if no event loop is running."""
    try:
        loop = asyncio.get_running_loop()
    except RuntimeError:
        call()
    else:
        loop.call_soon(call)


class Panel(widgets.VBox):
    """Base class of notebook panels, which are updated when the chosen study or a choice in the panel changes.

    Subclasses define `refill_choosers`, which fills the lists from the study; `show`, which returns the content; and
    `show_more`, which returns content that is added later, so that the first figure appears sooner. If one of them
    raises a SwinglabError, the panel shows its message. Any other exception is a defect of the kit and is not hidden.
    """

    def __init__(self, chosen: ChosenStudy, choosers: list[widgets.Widget]) -> None:
        self.chosen = chosen
        self._row = widgets.HBox(choosers, layout=widgets.Layout(flex_flow="row wrap"))
        self._said = widgets.HTML()
        self._texts: dict[int, widgets.HTML] = {}
        self._more = widgets.VBox(layout=widgets.Layout(max_width="100%"))
        self._texts_of_more: dict[int, widgets.HTML] = {}
        self._shown_times = 0
        self._placed: list[widgets.Widget] = []
        self._is_filling = False
        super().__init__([self._row, self._said])
        chosen.observe(self._renew, "opened")
        for chooser in choosers:
            if chooser.has_trait("value"):
                chooser.observe(self._choice_made, "value")
        self._renew()

    def refill_choosers(self) -> None:
        """Fill the panel's lists with the golfers, swings and quantities of the open study."""

    def show(self) -> list[widgets.Widget | str]:
        """Return the content below the lists: widgets, which are kept between updates, or HTML."""
        raise NotImplementedError

    def show_more(self) -> list[widgets.Widget | str]:
        """Return further content, shown below that of `show` and computed after it is on the page."""
        return []

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
        """Compute the panel's content again, for what is chosen in its lists now."""
        self._shown_times += 1
        try:
            self._place(self.show(), "")
        except SwinglabError as fault:
            self._place([], str(fault))
            return
        # Content of an earlier choice is hidden but keeps its space, so that the page does not jump.
        self._more.layout.visibility = "hidden"
        soon(partial(self._complete, self._shown_times))

    def _complete(self, shown_times: int) -> None:
        """Show the content of `show_more`, unless another choice was made in the meantime."""
        if shown_times != self._shown_times:
            return
        try:
            more = self._as_widgets(self.show_more(), self._texts_of_more)
        except SwinglabError as fault:
            more = self._as_widgets([words.message(str(fault))], self._texts_of_more)
        self._more.children = more
        self._more.layout.visibility = "visible"

    def report(self, fault: SwinglabError) -> None:
        """Show an error message above the content; the content stays."""
        self._said.value = words.message(str(fault))

    def _place(self, shown: list[widgets.Widget | str], fault: str) -> None:
        """Place content in the page; widgets that are already there stay and keep the keyboard's focus."""
        self._said.value = words.message(fault)
        below = [] if fault else [self._more]
        placed = [self._row, self._said, *self._as_widgets(shown, self._texts), *below]
        if self._placed != placed:
            self.children = self._placed = placed

    @staticmethod
    def _as_widgets(
        shown: list[widgets.Widget | str], texts: dict[int, widgets.HTML]
    ) -> list[widgets.Widget]:
        """Return content as widgets; a text at one position always uses the same widget, from `texts`."""
        found: list[widgets.Widget] = []
        for number, item in enumerate(shown):
            if isinstance(item, str):
                text = texts.setdefault(number, widgets.HTML())
                text.value = item
                found.append(text)
            else:
                found.append(item)
        return found
