"""Label and unit of a column: one that the kit defines, or one that the analyst declares."""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

import pandas as pd

from swinglab import columns
from swinglab.errors import BadRequest, near_names


class Declared(NamedTuple):
    """Label and unit of a column that is not one of the kit's."""

    label: str
    unit: str = ""


DeclaredColumns = Mapping[str, Declared | tuple[str, str]]


class Described(NamedTuple):
    """A column of the table with its label (first letter small), unit and, for the kit's own, `Column` record."""

    column: str
    label: str
    unit: str
    known: columns.Column | None


def describe(name: str, event: str | None, *, table: pd.DataFrame, declared: DeclaredColumns) -> Described:
    """Return the column that a name in a question refers to.

    Raises
    ------
    BadRequest
        A name that is neither declared nor one of the kit's.
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
    how = f'declare it: declared={{"{name}": ("its label", "its unit")}}'
    what = (
        f"{name} is a column of the table but not one of the kit's"
        if name in table
        else f"there is no column {name}"
    )
    raise BadRequest(what, do=how if name in table else near or how)


def _small(label: str) -> str:
    return label[:1].lower() + label[1:]
