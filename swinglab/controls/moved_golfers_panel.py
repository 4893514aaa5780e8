"""Notebook panel that moves each golfer along the golfer's own regression line, and shows the line of golfer means."""

from __future__ import annotations

from typing import Any

import ipywidgets as widgets
import numpy as np
import pandas as pd

from swinglab import columns
from swinglab.answers import golfer_lines
from swinglab.controls import html as words
from swinglab.controls.choosers import dropdown, refill
from swinglab.controls.chosen_study import ChosenStudy
from swinglab.controls.panel import Panel
from swinglab.errors import BadTable, MissingInput
from swinglab.figures import sketch_moved_golfers
from swinglab.records import Hunch
from swinglab.report import wording


def move_golfers(chosen: ChosenStudy) -> MovedGolfersPanel:
    """Show what the same change of posture does to each golfer, next to the regression line through golfer means.

    Each golfer moves along the regression line of the golfer's own swings.

    Parameters
    ----------
    chosen : ChosenStudy
        The study that was chosen at the top of the notebook.

    Returns
    -------
    MovedGolfersPanel
    """
    return MovedGolfersPanel(chosen)


class MovedGolfersPanel(Panel):
    """Notebook panel with a slider that changes the posture of every golfer by the same amount.

    Attributes
    ----------
    golfers : DataFrame
        One row for each golfer: mean posture and outcome, slope of outcome on posture over the golfer's own swings,
        and half the range of the posture.
    """

    def __init__(self, chosen: ChosenStudy) -> None:
        self.golfers = pd.DataFrame()
        self.question = dropdown("Question", [])
        self.slider = widgets.FloatSlider(
            0.0, min=-1.0, max=1.0, step=0.1, style={"description_width": "initial"},
            layout=widgets.Layout(width="44em", max_width="100%"),
        )  # fmt: skip
        self.sketch, self.outcome = widgets.HTML(), widgets.HTML()
        self.slider.observe(self._draw, "value")
        super().__init__(chosen, [self.question])

    def refill_choosers(self) -> None:
        """Fill the list with the study's hunches about several golfers that have a numeric outcome."""
        table = self.chosen.results.swings
        known = [
            h.name for h in self.chosen.need_study().hunches
            if not h.golfer and h.event and columns.is_column(h.outcome)
            and h.outcome in table and pd.api.types.is_numeric_dtype(table[h.outcome])
        ]  # fmt: skip
        if not known:
            raise MissingInput(
                "this study has no hunch about several golfers with a numeric outcome",
                do="save such a hunch in notebook 05_test_a_hunch",
            )
        refill(self.question, [(name, name) for name in known], self.question.value or known[0])

    @property
    def hunch(self) -> Hunch:
        """The hunch that is chosen in the list."""
        return next(h for h in self.chosen.need_study().hunches if h.name == self.question.value)

    def show(self) -> list[widgets.Widget | str]:
        """Return the panel's content: slider, figure, and the numbers of the figure in words."""
        lines = golfer_lines(self.chosen.results.swings, self.hunch)
        if len(lines) < 3:
            raise BadTable(
                "a line through golfer means needs at least three golfers with at least four swings each",
                do="choose another hunch, or measure more swings",
            )
        self.golfers = lines
        # No golfer is moved beyond the range of the golfer's own swings.
        most = float(np.floor(10 * self.golfers["half_range"].min()) / 10)
        self.slider.value = 0.0
        self.slider.max, self.slider.min, self.slider.disabled = max(most, 0.1), -max(most, 0.1), most <= 0
        self.slider.description = "Change the posture of every golfer by"
        self._draw()
        return [self.slider, self.sketch, self.outcome]

    def _draw(self, change: Any = None) -> None:
        golfers, moved, hunch = self.golfers, self.slider.value, self.hunch
        names = columns.event_column_name(hunch.posture, hunch.event or ""), hunch.outcome
        of, to = (wording.unit_words(columns.column(name).unit) for name in names)
        posture, outcome = (wording.label(name) for name in names)
        self.sketch.value = sketch_moved_golfers(
            golfers, moved, posture=f"{posture} ({of})", outcome=f"{outcome} ({to})"
        )
        if not moved:
            self.outcome.value = words.lines(
                "Move the slider: every golfer moves along the line fitted to that golfer's own swings."
            )
            return
        own = moved * golfers["slope"]
        line = moved * float(np.polyfit(golfers["posture"], golfers["outcome"], 1)[0])
        asked, along, read = (f"{change:+.2f}".replace("-", "−") for change in (moved, own.mean(), line))
        self.outcome.value = words.lines(
            f"Each golfer's {posture} changes by {asked} {of}. Along the golfers' own lines the {outcome} rises in "
            f"{int((own > 0).sum())} of {wording.count(len(own), 'golfer')}; the mean change is {along} {to}. Read off "
            f"the dashed line, the change would be {read} {to}: that line compares different golfers, and no golfer "
            "moves along it.",
            "Each golfer's own line is fitted to that golfer's swings, without correction for measurement error. No "
            "golfer is moved beyond the range of that golfer's swings.",
        )
