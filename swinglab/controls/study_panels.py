"""Notebook panels with figures of a study's tables: captures, posture at events, and outcomes by golfer."""

from __future__ import annotations

from collections.abc import Callable

import ipywidgets as widgets
import pandas as pd
from matplotlib.axes import Axes

from swinglab import columns, figures
from swinglab import study as studies
from swinglab.controls import html as words
from swinglab.controls.choosers import (
    QuantityChooser,
    chosen_outcome,
    colour_options,
    dropdown,
    event_options,
    outcome_options,
    refill,
)
from swinglab.controls.chosen_study import ChosenStudy
from swinglab.controls.figure_panel import FigurePanel
from swinglab.controls.panel import Panel
from swinglab.controls.questions import POINTING, measured_quantities, need_event
from swinglab.controls.swings import DEFAULT_QUANTITY, SwingChooser
from swinglab.figures.style import new_axes
from swinglab.report import wording
from swinglab.report.peaks import swing_peaks


def check_captures(chosen: ChosenStudy) -> CapturesPanel:
    """Show the data quality of each capture, doubts, swings that were left out, and the marker gaps of one swing.

    Parameters
    ----------
    chosen : ChosenStudy
        The study that was chosen at the top of the notebook.

    Returns
    -------
    CapturesPanel
    """
    return CapturesPanel(chosen)


class CapturesPanel(Panel):
    """Notebook panel of the data quality of a study's captures.

    Attributes
    ----------
    quality : DataFrame
        One row for each measured swing, as in quality.csv.
    left_out : DataFrame
        Swings, or parts of swings, that could not be measured, with reasons, as in left_out.csv.
    """

    def __init__(self, chosen: ChosenStudy) -> None:
        self.swing = SwingChooser("Swing")
        self.quality = self.left_out = pd.DataFrame()
        super().__init__(chosen, [self.swing])

    def refill_choosers(self) -> None:
        """Fill the list with the study's swings."""
        self.swing.offer(self.chosen.need_study())

    def show(self) -> list[widgets.Widget | str]:
        """Return the panel's content: doubts, marker gaps of one swing, quality of each swing, swings left out."""
        trial = self.chosen.records_of(self.swing.value).trial
        alt = f"Landmarks of swing {trial.swing} over time: {int(trial.filled.sum())} samples were filled."
        gaps = words.picture(figures.draw_gaps(trial), alt)
        results = self.chosen.results
        self.quality, self.left_out = results.quality, results.left_out
        shown = ["swing", "rate_hz", "frames", "landmarks", "filled_samples", "missing_samples", "noise_mm",
                 "impact_method", "ball_method", "gate", "warnings"]  # fmt: skip
        doubts = [one.sentence() for one in studies.shared_doubts(results.gate)] or [
            "No check of the captures failed."
        ]
        out = words.table(self.left_out) if len(self.left_out) else words.lines("No swing was left out.")
        return [
            words.heading("Doubts") + words.lines(*doubts),
            gaps,
            words.heading("Every measured swing") + words.table(self.quality[shown]),
            words.heading("Left out") + out,
        ]


def show_posture(chosen: ChosenStudy, *, quantity: str = DEFAULT_QUANTITY) -> PosturePanel:
    """Show a posture quantity over one swing, at every event, and at one event by golfer.

    Parameters
    ----------
    chosen : ChosenStudy
        The study that was chosen at the top of the notebook.
    quantity : str
        Name of the posture quantity that is shown first.

    Returns
    -------
    PosturePanel
    """
    return PosturePanel(chosen, quantity)


class PosturePanel(FigurePanel):
    """Notebook panel of a posture quantity.

    Attributes
    ----------
    column : str
        Column of the swing table that is shown by golfer.
    values : Series
        Values of this column, one for each swing.
    """

    def __init__(self, chosen: ChosenStudy, quantity: str) -> None:
        self.swing = SwingChooser("Swing")
        self.chosen_quantity = QuantityChooser(quantity)
        self.event = dropdown("at", event_options(), "impact")
        self.colour = dropdown("coloured by", [("nothing", "")])
        self.column = ""
        self._figures: dict[str, tuple[tuple, widgets.Widget | str]] = {}
        self.values = pd.Series(dtype=float)
        super().__init__(chosen, [self.swing, self.chosen_quantity, self.event, self.colour])

    def refill_choosers(self) -> None:
        """Fill the lists with swings, with measured quantities, and with columns by which marks can be coloured."""
        self.swing.offer(self.chosen.need_study())
        table = self.chosen.results.swings
        self.chosen_quantity.offer(measured_quantities(table))
        refill(self.colour, colour_options(table), self.colour.value or "group")

    def show(self) -> list[widgets.Widget | str]:
        """Return the panel's content: the quantity over one swing, and at one event by golfer."""
        quantity, colour = self.chosen_quantity.value, self.colour.value or None
        need_event(quantity, self.event.value)
        self.quantity, self.event_asked = quantity, self.event.value
        self.column = columns.event_column_name(quantity, self.event.value)
        self.values = self.chosen.results.swings.set_index("swing")[self.column]
        swing = self.swing.value
        return [
            self._kept(
                "curve", (swing, quantity), lambda: self._curve(self.chosen.records_of(swing), quantity)
            ),
            self._kept("golfers", (self.column, colour), lambda: self._by_golfer(colour)),
            words.lines(POINTING) + words.column_name(self.column),
            self.picked,
        ]

    def show_more(self) -> list[widgets.Widget | str]:
        """Return figures of the quantity at every event by golfer, and the times of peak turning speed in one swing."""
        quantity, colour, swing = self.quantity, self.colour.value or None, self.swing.value
        return [
            self._kept("profiles", (quantity, colour), lambda: self._profiles(quantity, colour)),
            self._kept("peaks", (swing,), lambda: self._peaks(swing)),
        ]

    def _peaks(self, swing: str) -> str:
        table = self.chosen.results.with_excluded
        drawn = swing_peaks(table[table["swing"] == swing].iloc[0])
        head = words.heading(f"Time at which each body part turns fastest: swing {swing}")
        if drawn is None:
            return head + words.lines("No peak of a turning speed was found in this swing.")
        return head + words.picture(drawn.axes, drawn.alt) + words.lines(drawn.caption)

    def _kept(self, figure: str, of: tuple, draw: Callable[[], widgets.Widget | str]) -> widgets.Widget | str:
        """Return a figure from the last update if it is still valid, otherwise draw it.

        `figure` : name of the figure. `of` : what it shows; if this is unchanged, the figure is still valid. `draw` :
        function that draws it.
        """
        key = (*of, self.chosen.opened)
        if self._figures.get(figure, ((), ""))[0] != key:
            self._figures[figure] = (key, draw())
        return self._figures[figure][1]

    def _by_golfer(self, colour: str | None) -> widgets.Widget:
        ax = _by_golfer(self.chosen, self.column, colour)
        return self.picture("by_golfer", ax, f"{wording.label(self.column)} of every swing, by golfer.")

    def _profiles(self, quantity: str, colour: str | None) -> str:
        results = self.chosen.results
        ax = figures.draw_profiles(results.posture, results.swings, quantity=quantity, colour=colour)
        alt = f"{wording.label(quantity)} at every event, a small picture for each golfer."
        return words.picture(ax, alt)

    def _curve(self, records: studies.SwingRecords, quantity: str) -> str:
        ax = new_axes(None, width=7.6, height=3.8)
        figures.draw_posture_curves(records.posture, [quantity], records.events, ax)
        alt = f"{wording.label(quantity)} over swing {records.trial.swing}, with its events."
        return words.picture(ax, alt)


def _by_golfer(chosen: ChosenStudy, name: str, colour: str | None) -> Axes:
    """Draw a column for every swing by golfer, with scales for the study's further units."""
    study = chosen.need_study()
    ax = figures.draw_by_golfer(
        chosen.results.swings, value=name, colour=colour, reference=study.reference_group
    )
    return figures.add_units(
        ax, columns.column(name).unit if columns.is_column(name) else "", study.report_units
    )


def show_outcomes(chosen: ChosenStudy, *, outcome: str = "low_point_ahead_cm") -> OutcomesPanel:
    """Show an outcome of every swing by golfer, with its standard error.

    Parameters
    ----------
    chosen : ChosenStudy
        The study that was chosen at the top of the notebook.
    outcome : str
        Column of the strike that is shown first.

    Returns
    -------
    OutcomesPanel
    """
    return OutcomesPanel(chosen, outcome)


class OutcomesPanel(FigurePanel):
    """Notebook panel of an outcome by golfer; `values` is a Series: name of a swing -> its outcome."""

    def __init__(self, chosen: ChosenStudy, outcome: str) -> None:
        self._first = outcome
        self.outcome = dropdown("Outcome", [])
        self.colour = dropdown("coloured by", [("nothing", "")])
        self.values = pd.Series(dtype=float)
        super().__init__(chosen, [self.outcome, self.colour])

    def refill_choosers(self) -> None:
        """Fill the lists with outcomes that have values, and with columns by which marks can be coloured."""
        table = self.chosen.results.swings
        refill(self.outcome, outcome_options(table), self.outcome.value or self._first)
        refill(self.colour, colour_options(table), self.colour.value or "group")

    def show(self) -> list[widgets.Widget | str]:
        """Return the panel's content: the outcome of each swing by golfer."""
        name = chosen_outcome(self.outcome)
        self.values = self.chosen.results.swings.set_index("swing")[name]
        ax = _by_golfer(self.chosen, name, self.colour.value or None)
        alt = f"{wording.label(name)} of {int(self.values.notna().sum())} swings, by golfer."
        meaning = columns.column(name).meaning if columns.is_column(name) else ""
        bars = f"{meaning}. Bars: one standard error. " if meaning else ""
        return [
            self.picture("outcomes", ax, alt),
            words.lines(bars + POINTING) + words.column_name(name),
            self.picked,
        ]
