"""Task for students with a numeric answer that is computed from the study, a hint and an explanation."""

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
    """Show a question for a student whose answer is a number computed from the chosen study.

    Parameters
    ----------
    chosen : ChosenStudy
        The study that was chosen at the top of the notebook.
    question : str
        The text of the question.
    answer : callable
        Function that computes the right number from the study's `Results`.
    within : float
        Largest accepted difference from the right number, in the same unit.
    hint : str
        Text shown when the student asks for a hint.
    because : str
        Explanation shown after the right answer; ``{answer:.1f}`` in it is replaced by the right number.
    unit : str
        Unit of the number, shown next to the input field.

    Returns
    -------
    Task
    """
    return Task(chosen, question, answer, within, hint, because, unit)


class Task(Panel):
    """Notebook panel with a question whose answer is a number.

    Attributes
    ----------
    answer : float
        The right number.
    is_right : bool or None
        Whether the last number that was given is right; None before the first one.
    """

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
        """Return the panel's content: the question, a field for the number, and buttons to check it or get the hint."""
        self.is_right, self.response.value = None, ""
        self.answer = self._computed()
        return [words.lines(self._question), self._answering, self.response]

    def _computed(self) -> float:
        results = self.chosen.results
        try:
            answer = float(self._compute(results))
        except (KeyError, IndexError, ValueError, TypeError, AttributeError, StopIteration):
            answer = math.nan  # another study may lack the columns or the question that the task is about
        if not math.isfinite(answer):
            raise BadTable(
                f'the task "{self._question}" cannot be computed from the chosen study',
                do="choose the demo study at the top of the notebook",
            )
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
