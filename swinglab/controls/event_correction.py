"""Events of a swing, checked by eye and set by hand where they are wrong."""

from __future__ import annotations

from typing import Any

import ipywidgets as widgets

from swinglab import conventions
from swinglab.controls import html as words
from swinglab.controls.choosers import dropdown, event_options
from swinglab.controls.chosen_study import ChosenStudy
from swinglab.controls.swings import DEFAULT_QUANTITY, SwingsPanel
from swinglab.errors import SwinglabError


def correct_events(chosen: ChosenStudy) -> EventsPanel:
    """The viewer with the swing's events: go to a moment, set an event there, or take it back.

    What is set is written to the study's events_by_hand.csv and used from then on, by every control of the
    notebook and by the commands.
    """
    return EventsPanel(chosen)


class EventsPanel(SwingsPanel):
    """A viewer, the event table, and the buttons that set an event by hand and take it back."""

    def __init__(self, chosen: ChosenStudy) -> None:
        self.event = dropdown("Event", event_options(), "impact")
        self.set_button = widgets.Button(
            description="Set this event to the moment shown", layout={"width": "auto"}
        )
        self.undo_button = widgets.Button(
            description="Take back what was set by hand", layout={"width": "auto"}
        )
        self.set_button.on_click(self._set)
        self.undo_button.on_click(self._undo)
        self._buttons = widgets.HBox(
            [self.event, self.set_button, self.undo_button], layout=widgets.Layout(flex_flow="row wrap")
        )
        self._answer = widgets.HTML()
        super().__init__(chosen, DEFAULT_QUANTITY)

    def show(self) -> list[widgets.Widget | str]:
        """The viewer, the buttons, the table of events."""
        shown = super().show()
        assert self.records is not None
        table = self.records.events.table()[
            ["event", "time_s", "time_from_impact_s", "standard_error_s", "method", "note"]
        ]
        table["event"] = table["event"].map(conventions.EVENT_LABELS)
        return [*shown, self._buttons, self._answer, words.table(table, decimals=5)]

    def _set(self, button: Any) -> None:
        assert self.viewer is not None
        self._try(self.chosen.mark_event, self.swing.value, self.event.value, self.viewer.time_s)

    def _undo(self, button: Any) -> None:
        self._try(self.chosen.unmark_event, self.swing.value, self.event.value)

    def _try(self, change: Any, swing: str, event: str, *time_s: float) -> None:
        try:
            change(swing, event, *time_s)
        except SwinglabError as fault:
            self._answer.value = words.message(str(fault))
            return
        done = f"is now at {time_s[0]:.4f} s" if time_s else "is found by the kit again"
        label = conventions.EVENT_LABELS[event]
        self._answer.value = words.lines(f"{label[0].upper()}{label[1:]} of swing {swing} {done}.")
