"""Notebook panel that compares, for one hunch, the slope predicted by geometry with the slope estimated from swings."""

from __future__ import annotations

import ipywidgets as widgets

from swinglab.answers import GeometryBesideRegression, has_geometry
from swinglab.controls import html as words
from swinglab.controls.choosers import dropdown, refill
from swinglab.controls.chosen_study import ChosenStudy
from swinglab.controls.panel import Panel
from swinglab.errors import MissingInput, SwinglabError
from swinglab.report.geometry import (
    CAPTION,
    compare_with_geometry,
    draw_geometry,
    geometry_sentences,
    golfer_rows,
)


def compare_geometry(chosen: ChosenStudy) -> GeometryPanel:
    """Show, for a hunch, the slope predicted by geometry next to the slope estimated within golfers.

    For the geometric slope, the posture of a measured swing is changed by calculation, and the strike of the
    changed swing is measured.

    Parameters
    ----------
    chosen : ChosenStudy
        The study that was chosen at the top of the notebook.

    Returns
    -------
    GeometryPanel
    """
    return GeometryPanel(chosen)


class GeometryPanel(Panel):
    """Notebook panel that compares, for one hunch, the slope predicted by geometry with the slope within golfers.

    `found` is the comparison. It is None until the button is pressed, because the calculation takes some time.
    """

    def __init__(self, chosen: ChosenStudy) -> None:
        self.found: GeometryBesideRegression | None = None
        self._asked = ""
        self.question = dropdown("Question", [])
        self.compare_button = widgets.Button(description="Compare", layout=widgets.Layout(width="12em"))
        self.compare_button.on_click(lambda _: self.compare())
        super().__init__(chosen, [self.question, self.compare_button])

    def refill_choosers(self) -> None:
        """Fill the list with the study's hunches whose posture can be changed by calculation."""
        known = [h.name for h in self.chosen.need_study().hunches if has_geometry(h)]
        if not known:
            raise MissingInput(
                "this study has no hunch for which the effect of the posture can be calculated from geometry",
                do="save such a hunch in notebook 05_test_a_hunch, for example about lateral flexion of the "
                "thorax at impact and attack angle",
            )
        refill(self.question, [(name, name) for name in known], self.question.value or known[0])
        self.found = None

    def compare(self) -> None:
        """Compute the slope predicted by geometry, and show it next to the slope estimated from the golfers' swings.

        For this, the posture of one swing of each golfer is changed by calculation.
        """
        study = self.chosen.need_study()
        hunch = next(h for h in study.hunches if h.name == self.question.value)
        self.compare_button.disabled = True
        self._place([words.lines("Changing the posture in one swing of each golfer ...")], "")
        try:
            self.found, self._asked = compare_with_geometry(study, self.chosen.results, hunch), hunch.name
            self.refresh()
        except SwinglabError as fault:
            self._place([], str(fault))
        finally:
            self.compare_button.disabled = False

    def show(self) -> list[widgets.Widget | str]:
        """Return the panel's content: figure, sentences and each golfer's two slopes, or a hint to press Compare."""
        found = self.found
        if found is None or self._asked != self.question.value:
            return [
                words.lines(
                    "Press Compare: the posture in one swing of each golfer is changed by calculation. This "
                    "takes some seconds."
                )
            ]
        drawn = draw_geometry(found)
        return [
            words.picture(drawn.axes, drawn.alt),
            words.lines(*geometry_sentences(found), CAPTION),
            words.heading("Golfer by golfer") + words.table(golfer_rows(found)),
        ]
