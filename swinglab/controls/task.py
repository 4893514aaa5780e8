"""A task for a student: a question with a computed answer, a hint on request, and what it teaches."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import ipywidgets as widgets

from swinglab.controls import html as words
from swinglab.controls.chosen_study import ChosenStudy
from swinglab.controls.panel import Panel
from swinglab.errors import BadTable
from swinglab.study import Results


def set_task(
    chosen: ChosenStudy,
    question: str,
    *,
    answer: Callable[[Results], float],
    within: float,
    hint: str,
    because: str,
    unit: str = "",
) -> Task:
    """A question that is answered by a number, computed from the open study.

    Parameters
    ----------
    chosen : ChosenStudy
    question : str
    answer : callable
        Takes the study's results, gives the number.
    within : float
        How near an answer must be, in the same unit.
    hint, because : str
        Shown on request; shown with the right answer, where ``{answer:.1f}`` stands for it.
    unit : str
    """
    return Task(chosen, question, answer, within, hint, because, unit)


class Task(Panel):
    """A task in the page; `answer` is the number, `is_right` the result of the last try (None before)."""

    def __init__(
        self, chosen: ChosenStudy, question: str, answer: Callable[[Results], float], within: float, hint: str,
        because: str, unit: str,
    ) -> None:  # fmt: skip
        self.is_right: bool | None = None
        self.answer = math.nan
        self._question, self._compute, self._within = question, answer, within
        self._hint, self._because = hint, because
        self.given = widgets.Text(
            description="Your answer" + (f" ({unit})" if unit else ""), continuous_update=False,
            style={"description_width": "initial"}, layout=widgets.Layout(width="16em"),
        )  # fmt: skip
        self.check_button = widgets.Button(description="Check")
        self.hint_button = widgets.Button(description="Hint")
        self._answering = widgets.HBox(
            [self.given, self.check_button, self.hint_button], layout=widgets.Layout(flex_flow="row wrap")
        )
        self.response = widgets.HTML()
        self.check_button.on_click(self._check)
        self.hint_button.on_click(self._show_hint)
        super().__init__(chosen, [])

    def show(self) -> list[widgets.Widget | str]:
        """The question, a place for the answer, two buttons."""
        self.is_right, self.response.value = None, ""
        self.answer = self._computed()
        return [words.lines(self._question), self._answering, self.response]

    def _computed(self) -> float:
        results = self.chosen.results
        try:
            answer = float(self._compute(results))
        except (KeyError, IndexError, ValueError, TypeError, AttributeError, StopIteration):
            answer = math.nan  # another study need not have the columns or the question that a task is about
        if not math.isfinite(answer):
            raise BadTable(f"this study cannot answer the task: {self._question}", do="choose the demo study")
        return answer

    def _check(self, button: Any) -> None:
        try:
            value = float(self.given.value.strip().replace("−", "-").replace(",", "."))
        except ValueError:
            self.is_right = None
            self.response.value = words.message("Give a number, for example -3.5.")
            return
        self.is_right = abs(value - self.answer) <= self._within
        again = "Not yet. Try again, or ask for the hint."
        right = f"Yes. {self._because.format(answer=self.answer)}"
        self.response.value = words.lines(right if self.is_right else again)

    def _show_hint(self, button: Any) -> None:
        self.response.value = words.lines(self._hint)
