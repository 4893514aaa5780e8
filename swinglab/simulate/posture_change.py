"""A change of posture that is to be simulated in a measured swing, and its course over time."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import TYPE_CHECKING

import numpy as np

from swinglab.errors import BadRequest, near_names
from swinglab.records import Events
from swinglab.simulate.measured_body import PIVOT_SHARE

if TYPE_CHECKING:
    from swinglab.simulate.own_share import OwnShare

THORAX = ("thorax_axial_rotation_deg", "thorax_lateral_flexion_deg", "thorax_flexion_deg")
PELVIS = ("pelvis_centre_toward_target_cm", "pelvis_centre_up_cm", "pelvis_centre_toward_ball_cm")
ELBOW = "lead_elbow_flexion_deg"
#: Position of the ball relative to the feet; it is changed by moving the golfer, because the ball is the origin.
BALL = ("ball_ahead_of_lead_heel_cm", "ball_distance_cm")
CHANGEABLE = (*THORAX, *PELVIS, ELBOW, *BALL)
#: Largest changes for which a rigid chain is an acceptable model of a golfer (a judgement).
LARGEST = {"deg": 30.0, "cm": 20.0}

HANDS_ON_CLUB, NOTHING, HANDS_KEEP_PATH, OWN_SHARE = (
    "hands_on_club", "nothing_compensates", "hands_keep_path", "own_share",
)  # fmt: skip
#: Variants: response of the rest of the chain to the change.
VARIANTS: Mapping[str, str] = MappingProxyType(
    {
        HANDS_ON_CLUB: "both hands on the club, feet fixed, segment lengths kept; the arc moves with the lead "
        "shoulder; arm and club are raised or lowered so that the clubhead still meets the ball",
        NOTHING: "nothing compensates: everything farther along the chain is carried rigidly (not a possible swing)",
        HANDS_KEEP_PATH: "the hands keep their path and the club turns with the thorax (not a possible swing)",
        OWN_SHARE: "pelvis, hands and club follow as in this golfer's own swings",
    }
)

#: Easings: part of the swing in which the change grows from 0 to its full amount.
EASINGS: Mapping[str, str] = MappingProxyType({
    "backswing": "from takeaway to the top",
    "late_backswing": "in the second half of the backswing",
    "downswing": "from the top to shortly before delivery",
})  # fmt: skip
#: The change has its full amount from this long before delivery until this long after impact; then it decreases to 0.
BEFORE_DELIVERY_S, AFTER_IMPACT_S, TAKEN_BACK_S = 0.02, 0.12, 0.30


@dataclass(frozen=True, slots=True, eq=False)
class PostureChange:
    """A change of posture that is to be simulated in a swing, and the assumed response of arms and club.

    Parameters
    ----------
    amounts : mapping of str to float
        Posture quantity, one of `CHANGEABLE` -> amount that is added, in its unit (degrees, cm) and with its sign.
    variant : str
        Response of arms and club, one of `VARIANTS`.
    easing : str
        Time course with which the change begins and ends, one of `EASINGS`. A change of the position of the ball
        applies to the whole swing.
    share : OwnShare, optional
        Result of `estimate_own_share`; for the variant ``own_share`` only.
    pivot_share : float
        Height of the centre of rotation of the thorax above the mid-point of the hips, as a share of trunk length.

    Raises
    ------
    BadRequest
        An unknown quantity, variant or easing, an amount that is too large, or a `share` that is missing or does not
        belong to the variant.
    """

    amounts: Mapping[str, float]
    variant: str = HANDS_ON_CLUB
    easing: str = "backswing"
    share: OwnShare | None = field(default=None)
    pivot_share: float = PIVOT_SHARE

    def __post_init__(self) -> None:
        object.__setattr__(self, "amounts", MappingProxyType({k: float(v) for k, v in self.amounts.items()}))
        for name, amount in self.amounts.items():
            if name not in CHANGEABLE:
                raise BadRequest(
                    f"the posture {name} cannot be changed by simulation in a measured swing",
                    do=near_names(name, CHANGEABLE) or f"choose from {', '.join(CHANGEABLE)}",
                )
            unit = name.rsplit("_", 1)[1]
            if not abs(amount) <= LARGEST[unit]:
                raise BadRequest(
                    f"a change of {name} by {amount:g} {unit} is too large for this geometric model",
                    do=f"use at most {LARGEST[unit]:g} {unit}",
                )
        for chosen, known, word in ((self.variant, VARIANTS, "variant"), (self.easing, EASINGS, "easing")):
            if chosen not in known:
                raise BadRequest(
                    f"there is no {word} {chosen} of a simulated change of posture",
                    do=near_names(chosen, known) or f"choose from {', '.join(known)}",
                )
        self._check_share()
        if self.variant == HANDS_KEEP_PATH and self.amount(ELBOW):
            raise BadRequest(
                f"the flexion of the lead elbow cannot be changed with the variant {HANDS_KEEP_PATH}, because it moves "
                "the hands",
                do="choose another variant",
            )

    def _check_share(self) -> None:
        if (self.variant == OWN_SHARE) != (self.share is not None):
            raise BadRequest(
                f"the argument share is needed for the variant {OWN_SHARE}, and only for it",
                do="give both the variant and share, the result of estimate_own_share, or neither",
            )
        if self.share is not None and set(self.amounts) != {self.share.quantity}:
            raise BadRequest(
                f"share was estimated for {self.share.quantity}, but the change is of "
                f"{', '.join(self.amounts) or 'no quantity'}",
                do=f"change only {self.share.quantity}, or estimate share for another quantity",
            )

    def amount(self, name: str) -> float:
        """Return the change of one posture quantity, in its unit; 0 if it is not changed."""
        return self.amounts.get(name, 0.0)


def course(time_s: np.ndarray, events: Events, easing: str) -> np.ndarray:
    """Return the share (n,) of a change of posture that applies at each time of a swing.

    It is 0 at address, 1 from before delivery until after impact, and 0 at the end. easing : one of `EASINGS`. Raises
    BadRequest if the event top, delivery or impact is missing.
    """
    for name in ("top", "shaft_horizontal_down", "impact"):
        if not events.found(name):
            reason = events[name].note
            raise BadRequest(
                f"a simulated change of posture needs the event {name}, which is missing"
                + (f": {reason}" if reason else ""),
                where=f"swing {events.swing}", do=f"set {name} by hand, or choose another swing",
            )  # fmt: skip
    top, impact = events.time_s("top"), events.time_s("impact")
    takeaway = events.time_s("takeaway") if events.found("takeaway") else float(time_s[0])
    whole_s = {"backswing": top, "late_backswing": top}.get(
        easing, events.time_s("shaft_horizontal_down") - BEFORE_DELIVERY_S
    )
    start = {"backswing": takeaway, "late_backswing": (takeaway + top) / 2}.get(easing, top)
    rise = _smooth_step((time_s - start) / max(whole_s - start, 1e-3))
    return rise * (1.0 - _smooth_step((time_s - impact - AFTER_IMPACT_S) / TAKEN_BACK_S))


def _smooth_step(share: np.ndarray) -> np.ndarray:
    """Rise from exactly 0 to exactly 1 over the shares 0 to 1, with continuous acceleration."""
    x = np.clip(share, 0.0, 1.0)
    return x**3 * (10.0 + x * (6.0 * x - 15.0))
