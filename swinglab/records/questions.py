"""Questions of a study, and the known errors of its set-up.

Every question can have `where`, a selection of swings (a column such as club, shot or session -> the values used), and
`family`, the name of a set of questions over which p is adjusted for multiple testing.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

Where = Mapping[str, tuple[str, ...]]


@dataclass(frozen=True, slots=True)
class FoundIn:
    """The data in which a search found a question; the question is then tested on other data.

    golfers : golfers that were searched. sessions : sessions that existed when the question was saved. swings :
    swings that were searched, if only part of a session was.
    """

    golfers: tuple[str, ...] = ()
    sessions: tuple[str, ...] = ()
    swings: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class PostureScreen:
    """A search ([[screen]] in study.toml): which of many posture quantities are related to an outcome?

    The family-wise error rate is controlled over all quantities. name : as in study.toml. outcome : column of the
    strike. level : within, between, or golfer (the swings of one golfer). golfer : code of this golfer. parts, events
    : body parts and events that are searched; all if empty. adjust : covariates. smallest_effect : the smallest slope
    that matters, in outcome units per 10 posture units. where : selection of swings, column -> the values that are used
    or, for a numeric column, {"from": low, "to": high}. family : name of the set of questions over which p is adjusted.
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
    """A hunch ([[hunch]] in study.toml): is a posture at an event related to an outcome of the swing?

    The hunch is judged at `level`. For within and between, the other of the two is reported without a conclusion. name
    : as in study.toml. outcome : column of the strike. posture : posture quantity, without its event. expect : expected
    sign of the slope. adjust : covariates. smallest_effect : the smallest slope that matters; None if not stated.
    found_in : data in which a search found the hunch; None for a hunch formulated before the data were seen. where :
    selection of swings, column -> the values that are used. family : name of the set of questions over which p is
    adjusted.
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
    """A comparison ([[comparison]] in study.toml): do groups of golfers differ in a quantity?

    name : as in study.toml. of : quantity, without its event; a column of the strike if event is None. between :
    column whose values define the groups. adjust : covariates. smallest_effect : the smallest difference that matters,
    in the quantity's unit. found_in, where, family : as for a `Hunch`.
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
    """A lesson ([[lesson]] in study.toml): did a golfer's posture and strike change by more than drift explains?

    name : as in study.toml. golfer : code of the golfer. phase : column that separates the swings before the lesson
    from those after it. of, event : the posture quantity, and the event at which it is read. outcome :
    column of the strike. smallest_effect : the smallest change of the outcome that matters. cue : text of the
    instruction to the golfer. expect : expected sign of the change of the outcome. The target of the posture is the
    range `target`, or `target_value` plus and minus `target_width` (default: one standard deviation of the player's
    swings before the lesson). planned_swings : number of swings after the lesson at which it is evaluated; with fewer
    swings the lesson is still running. where, family : as for a `Hunch`.
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
    """Measurement errors of a set-up: standard deviations (deg) of angles.

    placement_deg : error from placing the markers again. soft_tissue_deg : error in a single swing because skin moves
    over bone. None means that an error is not known.
    """

    placement_deg: float | None = None
    soft_tissue_deg: float | None = None


@dataclass(frozen=True, slots=True)
class Validation:
    """The captures from which the errors of a set-up are estimated ([validate] in study.toml).

    sessions : sessions between which markers were removed and placed again, with the same intended posture. event :
    event at which posture is measured. angles : posture quantities for which one common placement error is estimated.
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
    """A failed plausibility check that a person has reviewed and accepted ([[accept]] in study.toml).

    It applies to one swing, or to all swings of a golfer. check : key of the check in gate.csv. reason : why the data
    are accepted, in words.
    """

    check: str
    reason: str
    swing: str | None = None
    golfer: str | None = None
