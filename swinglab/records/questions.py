"""Questions that a study asks, and the known errors of its set-up."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Hunch:
    """Does this posture at this event go with this strike? Judged at `level`, the other is shown."""

    name: str
    outcome: str
    posture: str
    event: str
    level: str = "within"  # within | between
    expect: str = "either"  # positive | negative | either
    adjust: tuple[str, ...] = ()
    smallest_effect: float | None = None  # outcome units per 10 posture units


@dataclass(frozen=True, slots=True)
class Comparison:
    """Do the golfers of these groups differ in this quantity at this event?"""

    name: str
    of: str
    event: str | None
    between: str
    adjust: tuple[str, ...] = ()
    smallest_effect: float | None = None


@dataclass(frozen=True, slots=True)
class Lesson:
    """Did this golfer's posture and strike change with the lesson, beyond drift?"""

    name: str
    golfer: str
    phase: str
    of: str
    event: str
    outcome: str
    target_value: float | None = None
    smallest_effect: float | None = None


@dataclass(frozen=True, slots=True)
class Errors:
    """Known errors of the set-up that markers cannot show; None = not known."""

    placement_deg: float | None = None
    soft_tissue_deg: float | None = None


@dataclass(frozen=True, slots=True)
class Accepted:
    """A doubt of the gate that a person has looked at, for one swing or all swings of a golfer."""

    check: str
    reason: str
    swing: str | None = None
    golfer: str | None = None
