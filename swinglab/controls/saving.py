"""Button that saves a question: it shows the lines for study.toml first and writes them on request."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import ipywidgets as widgets

from swinglab.controls import html as words
from swinglab.controls.chosen_study import ChosenStudy
from swinglab.errors import SwinglabError
from swinglab.study.saving import Question, question_toml, save_question


class SaveQuestion(widgets.VBox):
    """Two buttons: the first shows a question as lines of study.toml, the second adds these lines to the file.

    Attributes
    ----------
    saved : str
        Name of the question that was written last; empty before the first.
    """

    def __init__(self, chosen: ChosenStudy) -> None:
        self.chosen = chosen
        self.saved = ""
        self._question: Question | None = None
        self.name = widgets.Text(
            description="Name", continuous_update=False, style={"description_width": "initial"},
            layout=widgets.Layout(width="36em"),
        )  # fmt: skip
        self.show_button = widgets.Button(description="Save this question", layout={"width": "auto"})
        self.write_button = widgets.Button(
            description="Add these lines to study.toml", layout={"width": "auto", "display": "none"}
        )
        self._text = widgets.HTML()
        self._message = widgets.HTML()
        self.show_button.on_click(self._show)
        self.write_button.on_click(self._write)
        super().__init__(
            [widgets.HBox([self.name, self.show_button]), self._text, self.write_button, self._message]
        )

    def offer(self, question: Question) -> None:
        """Set the question that the buttons show and save."""
        self._question = question
        self.name.value = question.name
        self._text.value = self._message.value = ""
        self.write_button.layout.display = "none"

    def named(self) -> Question:
        """Return the question with the name that the user typed in the name field."""
        assert self._question is not None
        return replace(self._question, name=self.name.value.strip() or self._question.name)

    def _show(self, button: Any) -> None:
        self._text.value = words.lines("These lines will be added at the end of study.toml:") + words.message(
            question_toml(self.named())
        )
        self._message.value = ""
        self.write_button.layout.display = ""

    def _write(self, button: Any) -> None:
        question = self.named()
        study = self.chosen.need_study()
        try:
            save_question(study, question)
        except (SwinglabError, OSError) as fault:
            self._message.value = words.message(str(fault))
            return
        self.saved = question.name
        self.write_button.layout.display = "none"
        self._text.value = ""
        self.chosen.open_folder(study.folder)
        self._message.value = words.lines(
            f"Saved: {question.name}. The question is now in study.toml and is answered with the study's other "
            "questions."
        )
