"""Lists of quantities, events and outcomes for notebook panels; each option is shown in words with its unit."""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Sequence
from typing import Any

import ipywidgets as widgets
import pandas as pd
import traitlets

from swinglab import columns, conventions
from swinglab.errors import MissingInput

_LABEL = {"description_width": "initial"}


def wide() -> widgets.Layout:
    """Return a new layout that makes a widget as wide as its text.

    Each widget needs its own layout, because hiding a widget changes its layout.
    """
    return widgets.Layout(width="auto", max_width="100%")


def dropdown(label: str, options: Sequence[tuple[str, Any]], value: Any = None) -> widgets.Dropdown:
    """Return a labelled list to choose from.

    Parameters
    ----------
    label : str
    options : sequence of (str, value)
        Text shown for each option, and its value.
    value : optional
        The value chosen first; by default that of the first option.
    """
    made = widgets.Dropdown(description=label, style=_LABEL, layout=wide())
    refill(made, options, value)
    return made


def refill(chooser: widgets.Dropdown, options: Sequence[tuple[str, Any]], value: Any = None) -> None:
    """Replace the options of a list, and choose one of the new options.

    This is `value` if it is among them, otherwise the present choice if it is, otherwise the first option. `options`
    as for `dropdown`.
    """
    known = [option for _, option in options]
    kept = (
        value if value in known else chooser.value if chooser.value in known else known[0] if known else None
    )
    if tuple(chooser.options) != tuple(options):
        chooser.options = tuple(options)  # this also chooses the first option
    chooser.value = kept


def event_options(events: Iterable[str] = conventions.EVENTS) -> list[tuple[str, str]]:
    """Return (label, name) of events, as options of a list."""
    return [(conventions.EVENT_LABELS[name], name) for name in events]


def outcome_options(table: pd.DataFrame) -> list[tuple[str, str]]:
    """Return (label, name) of the outcomes that have numbers in a swing table, as options of a list."""
    return [
        (_with_unit(column), name)
        for name, column in columns.outcomes().items()
        if name in table.columns and pd.api.types.is_numeric_dtype(table[name]) and table[name].notna().any()
    ]


def chosen_outcome(chooser: widgets.Dropdown) -> str:
    """Return the outcome chosen in a list; raise MissingInput if the list is empty."""
    if not chooser.value:
        raise MissingInput(
            "no outcome was measured in this study",
            do="record markers or points of the club and the ball, or add outcomes of another device to the study",
        )
    return chooser.value


def colour_options(table: pd.DataFrame) -> list[tuple[str, str]]:
    """Return (label, name) of the columns of a swing table by which the marks of a figure can be coloured.

    These are design columns, such as group or club, with few different values.
    """
    found = [("nothing", "")]
    for name in ("group", "golfer", "session", "phase", "club", "hand"):
        if name in table.columns and 1 < table[name].nunique() <= 12:
            found.append((columns.column(name).label, name))
    return found


def name_options(names: Iterable[Hashable]) -> list[tuple[str, Hashable]]:
    """Return (name, name) of each name, as options of a list."""
    return [(str(name), name) for name in names]


def _with_unit(column: columns.Column) -> str:
    unit = columns.UNIT_WORDS.get(column.unit, column.unit)
    return f"{column.label} ({unit})" if unit else column.label


class QuantityChooser(widgets.HBox):
    """Two lists to choose a posture quantity: body part, then motion; `value` is the name of the quantity.

    Parameters
    ----------
    value : str
        Name of the quantity that is chosen first.
    """

    value = traitlets.Unicode()

    def __init__(self, value: str) -> None:
        self._part = widgets.Dropdown(description="Body part", style=_LABEL, layout=wide())
        self._motion = widgets.Dropdown(description="Quantity", style=_LABEL, layout=wide())
        super().__init__([self._part, self._motion], layout=widgets.Layout(flex_flow="row wrap"))
        self._is_filling = False
        self.value = value
        self.offer(columns.QUANTITIES)
        self._part.observe(self._part_chosen, "value")
        self._motion.observe(self._motion_chosen, "value")
        self.observe(self._value_set, "value")

    def offer(self, quantities: Iterable[str]) -> None:
        """Fill the lists with these posture quantities; the present choice stays if it is among them."""
        self._offered = [columns.quantity_column(name) for name in quantities]
        if self.value not in [column.name for column in self._offered] and self._offered:
            self.value = self._offered[0].name
        groups = list(dict.fromkeys(column.group for column in self._offered))
        current = columns.quantity_column(self.value).group if self.value else None
        self._is_filling = True
        refill(self._part, [(group.replace("_", " "), group) for group in groups], current)
        self._fill_motions(self.value)

    def _fill_motions(self, value: str | None = None) -> None:
        shown = [column for column in self._offered if column.group == self._part.value]
        options = [(_with_unit(c) + (f": + {c.positive}" if c.positive else ""), c.name) for c in shown]
        self._is_filling = True
        refill(self._motion, options, value)
        self._is_filling = False
        self._motion_chosen()

    def _part_chosen(self, change: dict) -> None:
        if not self._is_filling:
            self._fill_motions()

    def _motion_chosen(self, change: dict | None = None) -> None:
        if self._motion.value and not self._is_filling:
            self.value = self._motion.value

    def _value_set(self, change: dict) -> None:
        column = columns.quantity_column(change["new"])
        if self._motion.value != column.name:
            self._is_filling = True
            self._part.value = column.group
            self._fill_motions(column.name)
