"""Records of decisions: what was decided, how certain it is, and what a person has to decide."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Match:
    """The label of a landmark. sure : "certain" (a body's geometry agrees) or "likely"; why : in words."""

    label: str
    sure: str
    why: str = ""


@dataclass(frozen=True, slots=True)
class Open:
    """A landmark (or label) without a decision; a person chooses from `candidates`, which are labels (or landmarks)."""

    name: str
    candidates: tuple[str, ...]
    why: str


@dataclass(frozen=True, slots=True)
class Decision:
    """Something decided about a study. value : None where open. sure : "certain", "likely" or "open"."""

    name: str
    value: str | float | None
    sure: str
    why: str
    candidates: tuple[str, ...] = ()

    def line(self) -> str:
        """Return the decision in one line, in words."""
        value = "open" if self.value is None or self.sure == "open" else f"{self.value} ({self.sure})"
        choices = f" [{' or '.join(self.candidates)}?]" if self.candidates else ""
        return f"{self.name}: {value}{choices}; {self.why}"
