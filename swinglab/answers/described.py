"""Label and unit of a column of the swing table: one that swinglab defines, or one that the user adds."""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

import pandas as pd

from swinglab import columns
from swinglab.errors import BadRequest, near_names


class Declared(NamedTuple):
    """Label and unit of a column that the user adds to the swing table; the unit is "" if there is none."""

    label: str
    unit: str = ""


DeclaredColumns = Mapping[str, Declared | tuple[str, str]]


class Described(NamedTuple):
    """A column of the swing table: name, label (first letter in lower case), unit, and definition.

    known : the definition in the code book; None for a column that the user adds.
    """

    column: str
    label: str
    unit: str
    known: columns.Column | None


def describe(name: str, event: str | None, *, table: pd.DataFrame, declared: DeclaredColumns) -> Described:
    """Return the column of the swing table that a name in a question refers to.

    Parameters
    ----------
    name : str
        A posture quantity without its event, or a column.
    event : str, optional
        Event at which the posture quantity is read.
    table : pandas.DataFrame
        The swing table.
    declared : mapping of str to (label, unit)
        Columns that the user adds to the swing table.

    Raises
    ------
    BadRequest
        A name that swinglab does not define and that is not in `declared`.
    """
    if name in declared:
        given = Declared(*declared[name])
        return Described(name, given.label, given.unit, None)
    if name in columns.QUANTITIES and event:
        c = columns.quantity_column(name)
        return Described(columns.event_column_name(name, event), _small(c.label), c.unit, c)
    if columns.is_column(name):
        c = columns.column(name)
        return Described(name, _small(c.label), c.unit, c)
    near = near_names(name, [*columns.QUANTITIES, *columns.outcomes()])
    how = f'give label and unit in Python by declared={{"{name}": ("its label", "its unit")}}'
    if name in table:
        raise BadRequest(
            f"{name} is a column of the table, but its label and unit are not known",
            do=f"choose a column or quantity that swinglab defines, or {how}",
        )
    raise BadRequest(
        f"there is no column or quantity {name}",
        do=near or f"correct the name; for a column of your own, add it to the table and {how}",
    )


def _small(label: str) -> str:
    """Return a label with its first letter in lower case."""
    return label[:1].lower() + label[1:]
