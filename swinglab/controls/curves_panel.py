"""Notebook panel for whole swings: at which times a posture is related to the strike, or differs between groups."""

from __future__ import annotations

from typing import Any

import ipywidgets as widgets
import numpy as np
import pandas as pd

from swinglab import answers, columns, figures
from swinglab.controls import html as words
from swinglab.controls.chosen_study import ChosenStudy
from swinglab.controls.panel import Panel
from swinglab.controls.questions import posture_asked
from swinglab.conventions import EVENTS
from swinglab.errors import BadRequest, SwinglabError
from swinglab.figures.style import EVENT_SHORT
from swinglab.records import Comparison, Hunch
from swinglab.report import wording
from swinglab.statistics.curves import CurveTest
from swinglab.study import measure_curves

#: Times from impact (s): every 5 ms, from before the top of most swings to after the follow-through.
TIME_S = np.round(np.arange(-0.4, 0.2001, 0.005), 3)


def show_whole_swing(chosen: ChosenStudy, question: Any) -> CurvesPanel:
    """Show at which times of the swing a question's posture is related to the strike, or differs between groups.

    Parameters
    ----------
    chosen : ChosenStudy
        The study that was chosen at the top of the notebook.
    question : QuestionPanel
        Panel returned by ``ask_hunch`` or ``ask_comparison``.

    Returns
    -------
    CurvesPanel
    """
    return CurvesPanel(chosen, question)


class CurvesPanel(Panel):
    """Notebook panel with a button that measures the posture over the whole swing.

    Attributes
    ----------
    found : CurveTest or None
        The test over time; None until the curves have been measured.
    of : str
        For a comparison, the difference that is tested, such as "B minus A" for two groups; otherwise empty.
    """

    def __init__(self, chosen: ChosenStudy, question: Any) -> None:
        self._asked = question
        self._measured: dict[tuple, np.ndarray] = {}
        self.found: CurveTest | None = None
        self.of = ""
        self.button = widgets.Button(description="Measure the whole swings", layout={"width": "16em"})
        self.button.on_click(lambda _: self.measure())
        self._progress = widgets.HTML()
        super().__init__(chosen, [])
        question.observe(lambda _: self.refresh(), "asked")

    def show(self) -> list[widgets.Widget | str]:
        """Return the panel's content: the test over time if the curves have been measured, otherwise the button."""
        rows, key = self._rows()
        if key not in self._measured:
            what = wording.label(posture_asked(self._asked.question))
            text = (
                f"{wording.first_capital(what)} is measured every 5 ms in {len(rows)} swings: this takes a "
                "while."
            )
            return [words.lines(text), self.button, self._progress]
        question = self._asked.question
        self.found, self.of = answers.answer_over_time(rows, self._measured[key], question, TIME_S)
        return [self._picture(question) + words.lines(*self._sentences(question))]

    def measure(self) -> None:
        """Measure the posture over the whole swing in each swing of the question, then show the test over time."""
        rows, key = self._rows()

        def show_progress(done: int, of: int, swing: str) -> None:
            self._progress.value = words.lines(f"measured {done} of {of} swings")

        try:
            self._measured[key] = measure_curves(
                self.chosen.need_study(), list(rows["swing"]), key[0], TIME_S, progress=show_progress
            )
        except SwinglabError as fault:
            self.report(fault)
            return
        self._progress.value = ""
        self.refresh()

    def _rows(self) -> tuple[pd.DataFrame, tuple]:
        """Return the swings of the question, and the key of their curves in `_measured`."""
        question = self._asked.question
        if not isinstance(question, Hunch | Comparison) or not question.event:
            raise BadRequest(
                "whole swings can be shown only for a hunch or a comparison of a posture quantity",
                do="choose such a question above",
            )
        rows = answers.rows_over_time(self.chosen.results.swings, question)
        return rows, (posture_asked(question), self.chosen.opened, tuple(rows["swing"]))

    def _picture(self, question: Hunch | Comparison) -> str:
        found = self.found
        assert found is not None
        c = columns.quantity_column(posture_asked(question))
        if isinstance(question, Hunch):
            outcome = columns.column(question.outcome)
            label = f"{outcome.label} ({wording.unit_words(outcome.unit)})\nfor 10 {wording.unit_words(c.unit)} more"
        else:
            label = f"{c.label} ({wording.unit_words(c.unit)})\n{self.of}"
        axes = figures.draw_curve_test(
            found.time, found.estimate, (found.ci_low, found.ci_high), stretches=found.beyond(),
            events=self._events(), label=label,
        )  # fmt: skip
        return words.picture(axes, f"{c.label} over time from impact, with limits for all times together.")

    def _events(self) -> dict[str, float]:
        """Return short name of an event -> its median time from impact (s), for events within `TIME_S`."""
        table = self.chosen.results.events
        usual = table.groupby("event")["time_from_impact_s"].median()
        shown = {EVENT_SHORT[name]: float(usual[name]) for name in EVENTS if name in usual}
        return {name: at for name, at in shown.items() if TIME_S[0] <= at <= TIME_S[-1]}

    def _sentences(self, question: Hunch | Comparison) -> list[str]:
        found = self.found
        assert found is not None
        who = (
            "each compared with himself or herself" if isinstance(question, Hunch) else "by their mean curves"
        )
        beyond = found.beyond()
        spans = ", ".join(f"{1e3 * a:.0f} to {1e3 * b:.0f} ms" for a, b in beyond)
        return [
            f"{found.golfers} golfers, {who}. The limits hold for all times together: if there is no effect at any "
            "time, only one such figure in twenty shows one.",
            f"The limits exclude 0 from {spans}, measured from impact." if beyond
            else "The limits include 0 at all times.",
            found.note,
            "Times near impact are left out, because there the filter mixes values before and after impact. Use this "
            "figure to find questions, not to answer them.",
        ]  # fmt: skip
