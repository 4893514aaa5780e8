"""Notebook panel that shows a study's answers and methods text, and writes the report to its results folder."""

from __future__ import annotations

from functools import partial
from typing import Any

import ipywidgets as widgets

from swinglab import report
from swinglab import study as studies
from swinglab.controls import html as words
from swinglab.controls.chosen_study import ChosenStudy
from swinglab.controls.panel import Panel
from swinglab.errors import SwinglabError
from swinglab.report.methods import methods_text


def write_up(chosen: ChosenStudy) -> WritePanel:
    """Show the answers to the questions in study.toml and the methods text, with a button that writes the report.

    Parameters
    ----------
    chosen : ChosenStudy
        The study that was chosen at the top of the notebook.

    Returns
    -------
    WritePanel
    """
    return WritePanel(chosen)


class WritePanel(Panel):
    """Notebook panel with all answers of a study, its methods text, and a button that writes the report.

    Attributes
    ----------
    findings : tuple of Finding
        The answers that are shown.
    methods : str
        The methods text that is shown.
    """

    def __init__(self, chosen: ChosenStudy) -> None:
        self.findings: tuple = ()
        self.methods = ""
        self.button = widgets.Button(
            description="Write tables and report", layout={"width": "auto", "align_self": "flex-start"}
        )
        self.button.on_click(self._write)
        self._written = widgets.HTML()
        super().__init__(chosen, [])

    def show(self) -> list[widgets.Widget | str]:
        """Return the panel's content: every answer of the study, then the methods text."""
        study, results = self.chosen.need_study(), self.chosen.results
        self.findings = self.chosen.findings
        self.methods = methods_text(study, results, self.findings)
        names = dict.fromkeys(f.name for f in self.findings)
        answers = [
            words.finding([f for f in self.findings if f.name == name], study.report_units) for name in names
        ]
        shown = answers or [
            words.lines("study.toml of this study contains no question yet. Do: add a [[hunch]].")
        ]
        methods = words.text(self.methods)
        return ["".join(shown) + words.CAUTION, methods, self.button, self._written]

    def _write(self, button: Any) -> None:
        study = self.chosen.need_study()
        out = study.folder / "results"
        self._written.value = words.lines("writing ...")
        try:
            results = self.chosen.results
            screens = studies.search_study(study, results)
            studies.write_results(
                study,
                results,
                self.findings,
                out,
                screens=screens,
                also=(partial(report.write_report, screens=screens),),
            )
        except SwinglabError as fault:
            self._written.value = words.message(str(fault))
            return
        self._written.value = words.lines(f"Tables: {out}", f"Report: {out / report.PAGE}")
