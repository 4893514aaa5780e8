"""Notebook panel to check the events of a swing by eye, and to set wrong ones by hand."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import ipywidgets as widgets
import numpy as np
import pandas as pd

from swinglab import columns, conventions
from swinglab.controls import html as words
from swinglab.controls.choosers import dropdown, event_options
from swinglab.controls.chosen_study import ChosenStudy
from swinglab.controls.swings import DEFAULT_QUANTITY, SwingsPanel
from swinglab.errors import SwinglabError
from swinglab.report.wording import with_unit


def correct_events(chosen: ChosenStudy) -> EventsPanel:
    """Show a swing with its events, and let the user set an event by hand or remove it again.

    Events set by hand are written to the study's events_by_hand.csv. All panels of the notebook and all commands
    use them from then on.

    Parameters
    ----------
    chosen : ChosenStudy
        The study that was chosen at the top of the notebook.

    Returns
    -------
    EventsPanel
    """
    return EventsPanel(chosen)


class EventsPanel(SwingsPanel):
    """Notebook panel with the swing viewer, the table of events, and buttons to set an event by hand or remove it."""

    def __init__(self, chosen: ChosenStudy) -> None:
        self.event = dropdown("Event", event_options(), "impact")
        self.set_button = widgets.Button(layout={"width": "auto"})
        self.undo_button = widgets.Button(layout={"width": "auto"})
        self.set_button.on_click(self._set)
        self.undo_button.on_click(self._undo)
        self._buttons = widgets.HBox(
            [self.event, self.set_button, self.undo_button], layout=widgets.Layout(flex_flow="row wrap")
        )
        self._answer = widgets.HTML()
        self._is_following = False
        super().__init__(chosen, DEFAULT_QUANTITY)
        self.event.observe(self._go_to_event, "value")
        self._name_buttons()

    def show(self) -> list[widgets.Widget | str]:
        """Return the panel's content: the viewer, the buttons and the table of events."""
        is_new = self.viewer is None
        shown = super().show()
        assert self.records is not None and self.viewer is not None
        if is_new:
            self.viewer.observe(self._follow_viewer, "event")
        table = self.records.events.table()[
            ["event", "time_s", "time_from_impact_s", "standard_error_s", "method", "note"]
        ]
        table["event"] = table["event"].map(conventions.EVENT_LABELS)
        table.insert(3, "standard_error_ms", 1000 * table.pop("standard_error_s"))
        return [*shown, self._buttons, self._answer, words.table(table)]

    def _follow_viewer(self, change: dict) -> None:
        """Choose in the list the event that the viewer shows."""
        if change["new"]:
            self._is_following = True
            self.event.value = change["new"]
            self._is_following = False

    def _go_to_event(self, change: dict) -> None:
        """Show in the viewer the event that is chosen in the list."""
        self._name_buttons()
        if self._is_following or self.viewer is None or self.records is None:
            return
        time_s = self.records.events.time_s(change["new"])
        if np.isfinite(time_s):
            self.viewer.asked_s = time_s

    def _name_buttons(self) -> None:
        name = conventions.EVENT_LABELS[self.event.value]
        self.set_button.description = f"Set {name} here"
        self.undo_button.description = f"Take back {name} set by hand"

    def _set(self, button: Any) -> None:
        assert self.viewer is not None and self.records is not None
        time_s = self.viewer.time_s
        try:
            self.records.events.check_order(self.event.value, time_s)
        except SwinglabError as fault:
            self._answer.value = words.message(str(fault))
            return
        self._try(self.chosen.mark_event, self.swing.value, self.event.value, time_s)

    def _undo(self, button: Any) -> None:
        self._try(self.chosen.unmark_event, self.swing.value, self.event.value)

    def _try(self, change: Any, swing: str, event: str, *time_s: float) -> None:
        before = self._values_of(swing)
        try:
            change(swing, event, *time_s)
        except SwinglabError as fault:
            self._answer.value = words.message(str(fault))
            return
        done = f"is now at {time_s[0]:.4f} s" if time_s else "is found by the kit again"
        label = conventions.EVENT_LABELS[event]
        headline = words.lines(f"{label[0].upper()}{label[1:]} of swing {swing} {done}.")
        also = self.chosen.need_study().report_units
        self._answer.value = headline + changes_table(before, self._values_of(swing), event, also)

    def _values_of(self, swing: str) -> pd.Series:
        table = self.chosen.results.swings
        return table[table["swing"] == swing].iloc[0]


def changes_table(before: pd.Series, after: pd.Series, event: str, also: Sequence[str] = ()) -> str:
    """Return an HTML table of a swing's values at an event, and of its strike, that changed when the event was moved.

    Parameters
    ----------
    before, after : pandas.Series
        The swing's row of the swing table before and after the change.
    event : str
        Name of the event that was set.
    also : sequence of str
        Further units in which values are also given.
    """
    rows = []
    for name in after.index:
        column = columns.column(name) if columns.is_column(name) else None
        if column is None or column.error_of or (column.kind == "posture" and column.event != event):
            continue
        old, new = (with_unit(values.get(name, np.nan), column.unit, also) for values in (before, after))
        if column.kind in ("posture", "strike", "swing") and old != new:
            rows.append({"quantity": column.label, "before": old, "after": new})
    if not rows:
        return words.lines("No value of this swing changes at the precision shown.")
    return words.heading("Values changed by the new time") + words.table(pd.DataFrame(rows))
