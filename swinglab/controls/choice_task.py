"""Multiple-choice task for students; one option may be that the question cannot be answered from the data."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

import ipywidgets as widgets

from swinglab.controls import html as words
from swinglab.controls.chosen_study import ChosenStudy
from swinglab.controls.panel import Panel
from swinglab.errors import BadTable
from swinglab.study import Results


def set_choice(
    chosen: ChosenStudy,
    question: str,
    options: Sequence[str],
    *,
    answer: int | Callable[[Results], int],
    hint: str,
    because: str,
) -> ChoiceTask:
    """Show a multiple-choice question for a student.

    Parameters
    ----------
    chosen : ChosenStudy
        The study that was chosen at the top of the notebook.
    question : str
        The text of the question.
    options : sequence of str
        The answers to choose from.
    answer : int or callable
        The number of the right option, counted from 1, or a function that computes it from the study's `Results`.
    hint : str
        Text shown when the student asks for a hint.
    because : str
        Explanation shown after the right answer.

    Returns
    -------
    ChoiceTask
    """
    return ChoiceTask(chosen, question, options, answer, hint, because)


class ChoiceTask(Panel):
    """Notebook panel with a multiple-choice question.

    Attributes
    ----------
    answer : int
        Number of the right option, counted from 1.
    is_right : bool or None
        Whether the last answer that was given is right; None before the first one.
    """

    def __init__(
        self, chosen: ChosenStudy, question: str, options: Sequence[str], answer: int | Callable[[Results], int],
        hint: str, because: str,
    ) -> None:  # fmt: skip
        self.is_right: bool | None = None
        self.answer = 0
        self._question, self._compute, self._hint, self._because = question, answer, hint, because
        numbered = [(text, number) for number, text in enumerate(options, 1)]
        self.given = widgets.RadioButtons(options=numbered, value=None, layout=widgets.Layout(width="auto"))
        self.check_button = widgets.Button(description="Check")
        self.hint_button = widgets.Button(description="Hint")
        self.response = widgets.HTML()
        self.check_button.on_click(self._check)
        self.hint_button.on_click(lambda _: setattr(self.response, "value", words.lines(self._hint)))
        super().__init__(chosen, [])

    def show(self) -> list[widgets.Widget | str]:
        """Return the panel's content: the question, its options, a button to check the answer and one for the hint."""
        self.is_right, self.response.value = None, ""
        self.answer = self._compute if isinstance(self._compute, int) else self._computed(self._compute)
        buttons = widgets.HBox([self.check_button, self.hint_button])
        return [words.lines(self._question), self.given, buttons, self.response]

    def _computed(self, compute: Callable[[Results], int]) -> int:
        results = self.chosen.results
        try:
            return int(compute(results))
        except (KeyError, IndexError, ValueError, TypeError, AttributeError) as fault:
            # Another study may lack the columns or the question that the task is about.
            what = f'the task "{self._question}" cannot be computed from the chosen study'
            raise BadTable(what, do="choose the demo study at the top of the notebook") from fault

    def _check(self, button: Any) -> None:
        if self.given.value is None:
            self.response.value = words.message("Choose an answer first.")
            return
        self.is_right = self.given.value == self.answer
        again = "Not yet. Try again, or ask for the hint."
        self.response.value = words.lines(f"Yes. {self._because}" if self.is_right else again)
