"""A task for a student: a question with a computed answer, a hint on request, and what it teaches."""

from __future__ import annotations

import math
from typing import Any

import ipywidgets as widgets

from swinglab.controls import words


def set_task(question: str, *, answer: float, within: float, hint: str, because: str, unit: str = "") -> Task:
    """A question that is answered by a number.

    Parameters
    ----------
    question : str
    answer : float
        Computed in the notebook from the open study.
    within : float
        How near an answer must be, in the same unit.
    hint, because : str
        Shown on request; shown with the right answer.
    unit : str
    """
    return Task(question, answer, within, hint, because, unit)


class Task(widgets.VBox):
    """A task in the page; `is_right` tells whether the last answer was right (None before one was given)."""

    def __init__(
        self, question: str, answer: float, within: float, hint: str, because: str, unit: str
    ) -> None:
        self.is_right: bool | None = None
        self._answer, self._within, self._because, self._hint = answer, within, because, hint
        self.given = widgets.FloatText(
            description="Your answer" + (f" ({unit})" if unit else ""), value=None, continuous_update=False,
            style={"description_width": "initial"},
        )  # fmt: skip
        self.check_button = widgets.Button(description="Check")
        self.hint_button = widgets.Button(description="Hint")
        self._said = widgets.HTML()
        self.check_button.on_click(self._check)
        self.hint_button.on_click(self._tell_hint)
        row = widgets.HBox(
            [self.given, self.check_button, self.hint_button], layout=widgets.Layout(flex_flow="row wrap")
        )
        super().__init__([widgets.HTML(words.lines(question)), row, self._said])

    def _check(self, button: Any) -> None:
        value = self.given.value
        if not math.isfinite(self._answer):
            self._said.value = words.message("This study cannot answer the task: choose the demo study.")
            return
        self.is_right = math.isfinite(value) and abs(value - self._answer) <= self._within
        again = "Not yet. Try again, or ask for the hint."
        self._said.value = words.lines(f"Yes. {self._because}" if self.is_right else again)

    def _tell_hint(self, button: Any) -> None:
        self._said.value = words.lines(self._hint)
