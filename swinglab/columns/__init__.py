"""The columns of all tables: name, label, unit, meaning, positive direction, source, plausible range.

Table checks, axis labels, choosers, the report and the code book use this registry. Look up the parts of a column
name here; do not split the name.
"""

from swinglab.columns.definition import (
    BAKER2001,
    GROOD1983,
    KIT,
    SCALE_FREE,
    UNIT_DECIMALS,
    UNIT_WORDS,
    WU2002,
    WU2005,
    Column,
)
from swinglab.columns.design_columns import DESIGN
from swinglab.columns.posture_columns import QUANTITIES
from swinglab.columns.registry import (
    column,
    error_column_name,
    event_column_name,
    is_column,
    outcomes,
    quantity_column,
)
from swinglab.columns.strike_columns import DELIVERIES, MEASURED, PROBABILITIES, STRIKES, SWINGS

__all__ = [
    "BAKER2001",
    "DELIVERIES",
    "DESIGN",
    "GROOD1983",
    "KIT",
    "MEASURED",
    "PROBABILITIES",
    "QUANTITIES",
    "SCALE_FREE",
    "STRIKES",
    "SWINGS",
    "UNIT_DECIMALS",
    "UNIT_WORDS",
    "WU2002",
    "WU2005",
    "Column",
    "column",
    "error_column_name",
    "event_column_name",
    "is_column",
    "outcomes",
    "quantity_column",
]
