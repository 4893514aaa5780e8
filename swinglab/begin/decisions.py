"""Records of decisions about a study: what was decided, how certain it is, and what a person has to decide."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Match:
    """The marker label of a landmark.

    sure : "certain" if the geometry of the body agrees, otherwise "likely". why : the reason, in words.
    """

    label: str
    sure: str
    why: str = ""


@dataclass(frozen=True, slots=True)
class Open:
    """A landmark whose label, or a label whose landmark, a person has to choose from `candidates`.

    name : the landmark, or the label. why : the reason why it is not decided, in words.
    """

    name: str
    candidates: tuple[str, ...]
    why: str


@dataclass(frozen=True, slots=True)
class Decision:
    """A decision about a setting of a study, such as an axis or the unit.

    value : None if open. sure : "certain", "likely" or "open". why : the reason, in words. candidates : values
    to choose from, if open.
    """

    name: str
    value: str | float | None
    sure: str
    why: str
    candidates: tuple[str, ...] = ()

    def line(self) -> str:
        """Return the decision in one line: name, value, certainty, values to choose from, and reason."""
        value = "open" if self.value is None or self.sure == "open" else f"{self.value} ({self.sure})"
        choices = f" [{' or '.join(self.candidates)}?]" if self.candidates else ""
        return f"{self.name}: {value}{choices}; {self.why}"
