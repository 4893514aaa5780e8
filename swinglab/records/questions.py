"""Questions of a study, and the known errors of its set-up.

Every question can have `where`, a selection of swings (a column such as club, shot or session -> the values used), and
`family`, the name of a set of questions over which p is adjusted.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

Where = Mapping[str, tuple[str, ...]]


@dataclass(frozen=True, slots=True)
class FoundIn:
    """Data in which a question was found by a search; it is tested on other golfers or on later sessions.

    golfers : golfers that were searched. sessions : sessions that existed when the question was saved. swings :
    swings that were searched, if only part of a session was.
    """

    golfers: tuple[str, ...] = ()
    sessions: tuple[str, ...] = ()
    swings: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class PostureScreen:
    """A search: which of many posture quantities is related to this outcome, with one family-wise error rate?

    name : as in study.toml. outcome : column of the strike. golfer : the golfer, at the level golfer. parts, events :
    body parts and events that are searched; all if empty. adjust : covariates. smallest_effect : the smallest slope
    that matters. where : column -> values, or from and to of a number.
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
    """A question: is this posture at this event related to this outcome? Tested at `level`; the other level is shown.

    name : as in study.toml. outcome : column of the strike. posture : quantity, without its event. expect : expected
    sign of the slope. adjust : covariates. smallest_effect : the smallest slope that matters. found_in : data in which
    the question was found; None for a question asked before the data were seen. where : column -> values of the swings
    used. family : name of the questions over which p is adjusted.
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
    """Did this golfer's posture and strike change with the lesson, beyond drift?

    name : as in study.toml. phase : column that separates before from after. of, event : the posture. outcome :
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
    """Standard deviations of angles, deg, from marker placement and soft tissue; None: not known."""

    placement_deg: float | None = None
    soft_tissue_deg: float | None = None


@dataclass(frozen=True, slots=True)
class Validation:
    """Captures for estimating the errors of a set-up.

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
    """A failed capture check that a person has reviewed and accepted, for one swing or all swings of a golfer.

    check : its key in gate.csv. reason : text that states why the capture is accepted.
    """

    check: str
    reason: str
    swing: str | None = None
    golfer: str | None = None
