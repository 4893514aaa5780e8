"""The definition of a column, and sources that several columns have in common."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Column:
    """Definition of a column of a table, or of a posture quantity.

    label : text for the axis of a figure. meaning : definition as a sentence, for the code book
    (references/conventions.md). kind : origin of the values, "posture", "swing" (timing), "strike", "measured" (by
    another device) or "design". stem : the name without its unit. part, motion : body part and its motion. positive :
    text for the positive direction. source : publication of the definition; "this kit" for a definition of swinglab.
    low, high : plausible range, in `unit`. events : for a posture quantity, the events at which it is measured.
    quantity, event : for a posture column of the swing table, its posture quantity and its event. group : section of
    the code book in which the column is listed. error_of : for a column of standard errors, the name of the column
    whose standard errors it contains.
    """

    name: str
    label: str
    unit: str
    meaning: str
    kind: str
    stem: str
    part: str = ""
    motion: str = ""
    positive: str = ""
    source: str = ""
    low: float = float("-inf")
    high: float = float("inf")
    events: tuple[str, ...] = ()
    event: str = ""
    quantity: str = ""
    group: str = ""
    error_of: str = ""

    @property
    def axis_label(self) -> str:
        """Return the label of the column with its unit and positive direction, for the axis of a figure."""
        unit = f" ({UNIT_WORDS.get(self.unit, self.unit)})" if self.unit else ""
        return f"{self.label}{unit}" + (f"\n+ {self.positive}" if self.positive else "")


#: Units whose printed form differs from that in column names.
UNIT_WORDS = {"mps": "m/s", "dps": "deg/s"}

#: Decimals of a value that is printed without its standard error, by unit.
UNIT_DECIMALS = {
    "deg": 1,
    "cm": 1,
    "mps": 1,
    "dps": 0,
    "m": 2,
    "s": 3,
    "ms": 1,
    "mm": 2,
    "hz": 0,
    "mph": 1,
    "in": 1,
}

#: Units of quantities that can be measured in a capture without scale (coordinates of unknown unit).
SCALE_FREE = ("deg", "dps", "s")

WU2002, WU2005, KIT = "Wu et al. 2002", "Wu et al. 2005", "this kit"
GROOD1983, BAKER2001 = "Grood & Suntay 1983", "Baker 2001"
