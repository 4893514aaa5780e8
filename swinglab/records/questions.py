"""Questions that a study asks, and the known errors of its set-up.

Every question may hold `where`, the swings it is about (club, shot or session -> the values that are taken), and
`family`, the name of the questions over which its p is adjusted.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

Where = Mapping[str, tuple[str, ...]]


@dataclass(frozen=True, slots=True)
class FoundIn:
    """Where a question was found by looking: it is judged on other golfers, or on later sessions of one golfer.

    golfers : those that were searched. sessions : those that were there when the question was saved. swings :
    those that were searched, where a session was searched in part.
    """

    golfers: tuple[str, ...] = ()
    sessions: tuple[str, ...] = ()
    swings: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class PostureScreen:
    """Which of many postures goes with this strike? Searched at `level`, one family-wise error for all.

    name : as in study.toml. outcome : column of the strike. golfer : whose swings, at the level golfer. parts, events :
    those searched, all where empty. adjust : covariates. smallest_effect : the smallest slope that matters. where :
    column -> its values, or from and to of a number.
    """

    name: str
    outcome: str
    level: str = "within"  # within | between | golfer
    golfer: str | None = None
    parts: tuple[str, ...] = ()
    events: tuple[str, ...] = ()
    adjust: tuple[str, ...] = ()
    smallest_effect: float | None = None  # outcome units per 10 posture units
    where: Mapping[str, Any] = field(default_factory=dict)
    family: str | None = None


@dataclass(frozen=True, slots=True)
class Hunch:
    """Does this posture at this event go with this strike? Judged at `level`, the other is shown.

    name : as in study.toml. outcome : column of the strike. posture : quantity, without its event. expect : the sign of
    the slope. adjust : covariates. smallest_effect : the smallest slope that matters. found_in : None for a question
    that was there before the data were looked at. where : column -> values of the swings it is about. family : name of
    the questions over which p is adjusted.
    """

    name: str
    outcome: str
    posture: str
    event: str
    level: str = "within"  # within | between | golfer
    expect: str = "either"  # positive | negative | either
    adjust: tuple[str, ...] = ()
    smallest_effect: float | None = None  # outcome units per 10 posture units
    golfer: str | None = None  # whose swings, at the level golfer
    where: Where = field(default_factory=dict)
    family: str | None = None
    found_in: FoundIn | None = None


@dataclass(frozen=True, slots=True)
class Comparison:
    """Do the golfers of these groups differ in this quantity at this event?

    name : as in study.toml. of : quantity, without its event; a column of the strike where event is None. between :
    column whose values make the groups. adjust : covariates. smallest_effect : the smallest difference that matters, in
    the quantity's unit. found_in, where, family : as for a `Hunch`.
    """

    name: str
    of: str
    event: str | None
    between: str
    adjust: tuple[str, ...] = ()
    smallest_effect: float | None = None
    where: Where = field(default_factory=dict)
    family: str | None = None
    found_in: FoundIn | None = None


@dataclass(frozen=True, slots=True)
class Lesson:
    """Did this golfer's posture and strike change with the lesson, beyond drift?

    name : as in study.toml. phase : column that separates before from after. of, event : the posture. outcome :
    column of the strike. smallest_effect : the smallest change of the strike that matters. cue : what the golfer
    was asked to do, in words. expect : the sign of the change of the strike. The aim of the posture is the band
    `target`, or `target_value` with `target_width` on either side (without it, one standard deviation of the
    player's swings before). planned_swings : swings after the lesson at which it is judged; with fewer it is
    still running. where, family : as for a `Hunch`.
    """

    name: str
    golfer: str
    phase: str
    of: str
    event: str
    outcome: str
    target_value: float | None = None
    smallest_effect: float | None = None
    expect: str = "either"  # positive | negative | either
    target: tuple[float, float] | None = None
    target_width: float | None = None
    planned_swings: int | None = None
    cue: str = ""
    where: Where = field(default_factory=dict)
    family: str | None = None


@dataclass(frozen=True, slots=True)
class Errors:
    """Standard deviations of angles, deg, from marker placement and soft tissue; None: not known."""

    placement_deg: float | None = None
    soft_tissue_deg: float | None = None


@dataclass(frozen=True, slots=True)
class Validation:
    """Captures made to learn the errors of a set-up.

    sessions : between which markers were taken off and put on again, the posture meant to stay the same. event :
    at which posture is read. angles : posture quantities over which the placement error is one number.
    """

    sessions: tuple[str, ...] = ()
    event: str = "address"
    angles: tuple[str, ...] = tuple(
        f"{part}_{motion}_deg"
        for part in ("pelvis", "thorax")
        for motion in ("axial_rotation", "lateral_flexion", "flexion")
    )


@dataclass(frozen=True, slots=True)
class Accepted:
    """A doubt about a capture that a person has looked at, for one swing or all swings of a golfer.

    check : its key in gate.csv. reason : why the capture is believed, in words.
    """

    check: str
    reason: str
    swing: str | None = None
    golfer: str | None = None
