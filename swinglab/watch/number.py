"""The one number that a session shows: a posture at an event, its target range, and the outcome shown with it."""

from __future__ import annotations

from dataclasses import dataclass

from swinglab import columns
from swinglab.errors import BadRequest, near_names
from swinglab.records import Lesson
from swinglab.study import Study


@dataclass(frozen=True, slots=True)
class Number:
    """What a session shows for every swing: the values of a posture at an event and of an outcome.

    quantity, event : names of the posture and of the event. outcome : column of the strike in the swing table. aim :
    lowest and highest value of the posture's target range, in its unit; None without a lesson or a target. lesson,
    planned, cue : name, planned number of swings and instruction of the golfer's lesson; "", None and "" without one.
    """

    quantity: str
    event: str
    outcome: str
    aim: tuple[float, float] | None = None
    lesson: str = ""
    planned: int | None = None
    cue: str = ""

    @property
    def column(self) -> str:
        """Name of the posture's column in the swing table, for example thorax_flexion_at_impact_deg."""
        return columns.event_column_name(self.quantity, self.event)


def number_of(study: Study, golfer: str, *, lesson: str | None = None) -> Number:
    """Return the posture, event and outcome that a session shows for a golfer's swings.

    They are those of `lesson`; without it, of the golfer's first lesson; without any, of the study's first hunch.

    Parameters
    ----------
    study : Study
    golfer : str
        Code of the golfer.
    lesson : str, optional
        Name of one of the golfer's lessons.

    Raises
    ------
    BadRequest
        The golfer has no lesson of this name, or the study has neither a lesson of this golfer nor a hunch.
    """
    own = [one for one in study.lessons if one.golfer == golfer]
    if lesson is not None:
        named = [one for one in own if one.name == lesson]
        if not named:
            known = [one.name for one in own]
            raise BadRequest(
                f"golfer {golfer} has no lesson called {lesson!r}",
                file="study.toml",
                do=near_names(lesson, known) or "add this lesson, or name no lesson",
            )
        own = named
    if own:
        return _of_lesson(own[0])
    if study.hunches:
        hunch = study.hunches[0]
        return Number(hunch.posture, hunch.event, hunch.outcome)
    raise BadRequest(
        f"the study has no lesson for golfer {golfer} and no hunch, so there is no number to show for each swing",
        file="study.toml", do="add a [[lesson]] or a [[hunch]]",
    )  # fmt: skip


def _of_lesson(lesson: Lesson) -> Number:
    aim = lesson.target
    if aim is None and lesson.target_value is not None and lesson.target_width is not None:
        aim = (lesson.target_value - lesson.target_width, lesson.target_value + lesson.target_width)
    return Number(
        lesson.of, lesson.event, lesson.outcome, aim, lesson.name, lesson.planned_swings, lesson.cue
    )
