"""The aim of a lesson: a band of the posture, and whether the player moved toward it, away from it or past it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from swinglab.finding_words import Note
from swinglab.records import Lesson


@dataclass(frozen=True, slots=True)
class Aim:
    """A band of the posture that the player works toward."""

    low: float
    high: float

    def distance(self, value: float) -> float:
        """Distance of a value from the band; 0 within it."""
        return max(self.low - value, value - self.high, 0.0)

    def moved(self, before: float, after: float) -> str:
        """Return how the mean moved relative to the band: toward, away, past or within.

        A mean that crosses the whole band is `past`, which is no success however close it ends.
        """
        if self.distance(before) == 0:
            return "within" if self.distance(after) == 0 else "away"
        if (before < self.low and after > self.high) or (before > self.high and after < self.low):
            return "past"
        return "toward" if self.distance(after) < self.distance(before) else "away"

    def counts(self, values: np.ndarray, *, from_below: bool) -> tuple[int, int, int]:
        """Count the swings short of the band, within it and past it; `from_below`: the player began below it."""
        below, above = int((values < self.low).sum()), int((values > self.high).sum())
        within = len(values) - below - above
        return (below, within, above) if from_below else (above, within, below)


def aim_of(lesson: Lesson, before: np.ndarray) -> Aim | None:
    """Return the band of the posture that a lesson aims at; None where the lesson sets no target.

    The band is `target` where it is given. Otherwise it is `target_value` plus and minus `target_width`, or plus
    and minus one standard deviation of `before`, the posture in the player's swings before the lesson.
    """
    if lesson.target is not None:
        return Aim(*lesson.target)
    if lesson.target_value is None:
        return None
    width = lesson.target_width
    if width is None:
        width = float(np.std(before, ddof=1)) if len(before) > 1 else 0.0
    return Aim(lesson.target_value - width, lesson.target_value + width)


def aim_notes(aim: Aim | None, phases: dict[str, np.ndarray], unit: str) -> list[Note]:
    """The note on how many swings of each phase lie short of the band, within it and past it."""
    if aim is None:
        return [Note("no_aim")]
    first = next(iter(phases.values()))
    from_below = float(first.mean()) <= (aim.low + aim.high) / 2
    counted = []
    for name, values in phases.items():
        short, within, past = aim.counts(values, from_below=from_below)
        counted.append(f"{name}: {short} short, {within} within, {past} past")
    return [Note("aim_counts", low=aim.low, high=aim.high, unit=unit, counts="; ".join(counted))]
