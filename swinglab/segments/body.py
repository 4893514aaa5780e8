"""Landmarks of a body, with joint centres and segment axes computed from them; each is computed only once.

The left side is computed by the definitions of the right side on the mirrored body (Wu et al. 2005), so functions are
written for the right side only.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import wraps

import numpy as np

from swinglab.conventions import mirrored_name
from swinglab.errors import MissingInput
from swinglab.segments.geometry import MIRROR


@dataclass(frozen=True, slots=True)
class Made:
    """A position (..., 3), segment axes (..., 3, 3) or a quantity (...), with the method by which it was computed.

    stand_in : whether it was computed from substitute landmarks because the usual ones are missing, for instance axes
    from joint centres.
    """

    value: np.ndarray
    method: str
    stand_in: bool = False


@dataclass(frozen=True, slots=True)
class Sizes:
    """Body lengths of a golfer in metres, each one number for the whole capture; NaN if landmarks are missing.

    pelvis_width : between the two ASIS. pelvis_depth : from the mid-point of the ASIS to that of the PSIS. leg_length :
    from ASIS via the knee centre to the medial malleolus. between_acromia : between the two acromia. along_shaft :
    landmark on the shaft -> its distance from the uppermost one.
    """

    pelvis_width: float
    pelvis_depth: float
    leg_length: float
    between_acromia: float
    along_shaft: Mapping[str, float]


class Body:
    """Landmarks of a golfer: positions (..., 3) in metres, and body lengths that are constant over the capture.

    labels : landmark -> labels in the file; used to name substitute markers in texts on methods. hip_method :
    regression for the hip centres. ball_m : (3,) position of the ball. marker_radius_m : distance from the centre of a
    marker to the skin; 0 if unknown.
    """

    def __init__(
        self,
        points: Mapping[str, np.ndarray],
        *,
        sizes: Sizes | None = None,
        hip_method: str = "harrington",
        labels: Mapping[str, tuple[str, ...]] | None = None,
        ball_m: np.ndarray | None = None,
        marker_radius_m: float = 0.0,
    ) -> None:
        self.points = points
        self.sizes = sizes
        self.hip_method = hip_method
        self.labels = labels or {}
        self.ball_m = ball_m
        self.marker_radius_m = marker_radius_m
        self._made: dict[str, Made | str] = {}
        self._mirrored: Body | None = None
        self._is_mirror = False

    def has(self, *landmarks: str) -> bool:
        """Return whether all these landmarks are present."""
        return self.points.keys() >= set(landmarks)

    def need(self, *landmarks: str) -> tuple[np.ndarray, ...]:
        """Return the positions of these landmarks, each (..., 3) in metres.

        Raises
        ------
        MissingInput
            A landmark is missing; the message names all missing ones.
        """
        points = self.points
        if self.has(*landmarks):
            return tuple([points[name] for name in landmarks])
        lacking = [name for name in landmarks if name not in points]
        if self._is_mirror:  # so that the message names the side on which the landmark is missing
            lacking = [mirrored_name(name) for name in lacking]
        raise MissingInput(f"no landmark {' or '.join(lacking)}")

    @property
    def mirrored(self) -> Body:
        """The mirror image of the body: left and right landmarks exchanged, Z coordinates with opposite sign."""
        if self._mirrored is None:
            self._mirrored = Body(
                {mirrored_name(name): xyz * MIRROR for name, xyz in self.points.items()},
                sizes=self.sizes,
                hip_method=self.hip_method,
                labels={mirrored_name(name): labels for name, labels in self.labels.items()},
                marker_radius_m=self.marker_radius_m,
            )
            self._mirrored._mirrored, self._mirrored._is_mirror = self, True
        return self._mirrored

    def side(self, side: str) -> Body:
        """Return this body for the side "right", or its mirror image for "left"."""
        return self if side == "right" else self.mirrored

    def stands_for(self, landmark: str) -> str:
        """Return the name of a landmark for texts on methods; ``"t10 for t8"`` if its label names the vertebra T10."""
        found = []
        for label in self.labels.get(landmark, ()):
            vertebra = re.fullmatch(r"(?:.*:)?([CTL])_?(\d{1,2})", label.strip(), re.IGNORECASE)
            if vertebra:
                found.append("".join(vertebra.groups()).lower())
        return landmark if found in ([], [landmark]) else f"{' and '.join(found)} for {landmark}"


def made_once(recipe: Callable[[Body], Made]) -> Callable[[Body], Made]:
    """Decorate a function of a body so that its result, or the reason why there is none, is stored with the body."""

    @wraps(recipe)
    def once(body: Body) -> Made:
        kept = body._made
        if recipe.__name__ not in kept:
            try:
                kept[recipe.__name__] = recipe(body)
            except MissingInput as reason:
                kept[recipe.__name__] = reason.what
        made_or_reason = kept[recipe.__name__]
        if isinstance(made_or_reason, str):
            raise MissingInput(made_or_reason)
        return made_or_reason

    return once
