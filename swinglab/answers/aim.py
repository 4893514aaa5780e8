"""The target of a lesson: a range of a posture, and whether the player moved toward it, away from it or past it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from swinglab.finding_words import Note
from swinglab.records import Lesson


@dataclass(frozen=True, slots=True)
class Aim:
    """Target range of a lesson's posture, from `low` to `high`, in the unit of the posture."""

    low: float
    high: float

    def distance(self, value: float) -> float:
        """Return how far a value of the posture lies outside the range, in its unit; 0 inside the range."""
        return max(self.low - value, value - self.high, 0.0)

    def moved(self, before: float, after: float) -> str:
        """Return how the mean posture moved relative to the target range: toward, away, past or within.

        `before` and `after` are the means before and after the lesson, in the unit of the posture. "within":
        both lie inside the range. "toward": the mean moved nearer to the range, or into it. "past": it moved
        from one side of the range to the other, which does not count as success. "away": every other case.
        """
        if self.distance(before) == 0:
            return "within" if self.distance(after) == 0 else "away"
        if (before < self.low and after > self.high) or (before > self.high and after < self.low):
            return "past"
        return "toward" if self.distance(after) < self.distance(before) else "away"

    def counts(self, values: np.ndarray, *, from_below: bool) -> tuple[int, int, int]:
        """Return the numbers of swings on the near side of the range, inside it, and on its far side.

        The near side is that of the player's mean before the lesson. `values` : (n,) posture of each swing.
        `from_below` : whether the near side is below the range (True) or above it.
        """
        below, above = int((values < self.low).sum()), int((values > self.high).sum())
        within = len(values) - below - above
        return (below, within, above) if from_below else (above, within, below)


def aim_of(lesson: Lesson, before: np.ndarray) -> Aim | None:
    """Return the target range of a lesson's posture; None if the lesson sets no target.

    The range is `lesson.target` if that is given. Otherwise it is `target_value` plus and minus
    `target_width`. If the width is not given, it is one standard deviation of `before`, the posture (n,) in
    the player's swings before the lesson (0 if there is only one swing).
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
    """Return one note with the numbers of swings short of the target range, inside it and past it, for each phase.

    "Short" is the side of the mean of the first phase; "past" is the other side. `phases` : name of each phase of
    the lesson, in order -> posture of its swings, (n,), in `unit`. Without a target, the note says that the lesson
    has none.
    """
    if aim is None:
        return [Note("no_aim")]
    first = next(iter(phases.values()))
    from_below = float(first.mean()) <= (aim.low + aim.high) / 2
    counted = []
    for name, values in phases.items():
        short, within, past = aim.counts(values, from_below=from_below)
        counted.append(f"{name}: {short} short, {within} within, {past} past")
    return [Note("aim_counts", low=aim.low, high=aim.high, unit=unit, counts="; ".join(counted))]
