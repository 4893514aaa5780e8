"""Look-up of columns by name: posture quantities, quantities at events, and standard errors."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

from swinglab.columns.definition import Column
from swinglab.columns.design_columns import DESIGN
from swinglab.columns.posture_columns import QUANTITIES
from swinglab.columns.strike_columns import DELIVERIES, MEASURED, PROBABILITIES, STRIKES, SWINGS
from swinglab.conventions import EVENT_LABELS
from swinglab.errors import BadRequest, near_names


def event_column_name(quantity: str, event: str) -> str:
    """Return the name of the swing table's column for a posture quantity at an event.

    Raises BadRequest for an unknown quantity.

    Examples
    --------
    >>> event_column_name("thorax_flexion_deg", "impact")
    'thorax_flexion_at_impact_deg'
    """
    c = quantity_column(quantity)
    return f"{c.stem}_at_{event}_{c.unit}"


@cache
def _registry() -> dict[str, Column]:
    known = {c.name: c for c in DESIGN}
    known |= QUANTITIES | SWINGS | STRIKES | DELIVERIES | PROBABILITIES | MEASURED
    for c in QUANTITIES.values():
        for event in c.events:
            at = replace(
                c, name=f"{c.stem}_at_{event}_{c.unit}", stem=f"{c.stem}_at_{event}", event=event,
                label=f"{c.label} at {EVENT_LABELS[event]}",
            )  # fmt: skip
            known[at.name] = at
    for c in [c for c in known.values() if c.kind in ("posture", "swing", "strike", "measured")]:
        if c.unit != "probability" and not (c.kind == "posture" and not c.event):
            known[f"{c.stem}_se_{c.unit}"] = replace(
                c, name=f"{c.stem}_se_{c.unit}", label=f"{c.label}: standard error", positive="",
                meaning=f"Standard error of {c.name}, from noise and timing only", low=0, high=float("inf"),
                error_of=c.name,
            )  # fmt: skip
    return known


def column(name: str) -> Column:
    """Return the definition of the column with this name; raise BadRequest, with similar names, if there is none."""
    known = _registry()
    if name not in known:
        raise BadRequest(
            f"swinglab has no column {name}",
            do=near_names(name, known) or "use a name in references/conventions.md",
        )
    return known[name]


def is_column(name: str) -> bool:
    """Return whether swinglab defines a column with this name."""
    return name in _registry()


def quantity_column(name: str) -> Column:
    """Return the definition of the posture quantity with this name.

    Raises BadRequest, with similar names, if there is none.
    """
    if name not in QUANTITIES:
        raise BadRequest(
            f"there is no posture quantity {name}",
            do=near_names(name, QUANTITIES) or "use a name in references/conventions.md",
        )
    return QUANTITIES[name]


def error_column_name(name: str) -> str:
    """Return the name of the column with the standard errors of a column.

    Raises BadRequest for an unknown column.

    Examples
    --------
    >>> error_column_name("attack_angle_deg"), error_column_name("thorax_flexion_at_impact_deg")
    ('attack_angle_se_deg', 'thorax_flexion_at_impact_se_deg')
    """
    c = column(name)
    return f"{c.stem}_se_{c.unit}"


def outcomes() -> dict[str, Column]:
    """Return name -> definition of the columns that can be the outcome of a hunch.

    They are the columns of the strike, of the club face at impact, of timing, of values measured by another device, and
    of the class of contact (fat, clean or thin).
    """
    contacts = {c.name: c for c in DESIGN if c.name in ("contact", "measured_contact")}
    return {**STRIKES, **DELIVERIES, **MEASURED, **SWINGS, **contacts}
