"""The points of a body, and centres and frames computed from them, each computed once and with its method.

The left side is measured by the right side's definitions on the mirrored body (Wu et al. 2005), so every
sided recipe is written for the right alone.
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
    """A centre (..., 3), a frame (..., 3, 3) or a value (...), with the method by which it was computed.

    stand_in : whether it is a substitute because the usual landmarks are missing, for instance a frame from joint
    centres or a shaft without points on it.
    """

    value: np.ndarray
    method: str
    stand_in: bool = False


@dataclass(frozen=True, slots=True)
class Sizes:
    """Body lengths of a golfer in metres, each one number for the whole capture; NaN if it cannot be measured."""

    pelvis_width: float
    pelvis_depth: float
    leg_length: float
    between_acromia: float
    along_shaft: Mapping[str, float]


class Body:
    """Points by landmark, arrays (..., 3) in metres, with the body sizes that are constant over the capture.

    labels : landmark -> labels in the file, from which a substitute marker can be named in the method.
    marker_radius_m : distance from a marker's centre to the skin, 0 if unknown.
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
        """Whether all these landmarks are present."""
        return self.points.keys() >= set(landmarks)

    def need(self, *landmarks: str) -> tuple[np.ndarray, ...]:
        """Points of these landmarks. Raises MissingInput, naming all landmarks that are missing."""
        points = self.points
        if self.has(*landmarks):
            return tuple([points[name] for name in landmarks])
        lacking = [name for name in landmarks if name not in points]
        if self._is_mirror:  # reasons name the landmark's own side
            lacking = [mirrored_name(name) for name in lacking]
        raise MissingInput(f"no {' and no '.join(lacking)}")

    @property
    def mirrored(self) -> Body:
        """The body with left and right exchanged (z -> -z)."""
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
        """This body for the right side, or its mirror image for the left side."""
        return self if side == "right" else self.mirrored

    def stands_for(self, landmark: str) -> str:
        """Name of a landmark for method texts; names the vertebra used instead, if any (``"t10 for t8"``)."""
        found = []
        for label in self.labels.get(landmark, ()):
            vertebra = re.fullmatch(r"(?:.*:)?([CTL])_?(\d{1,2})", label.strip(), re.IGNORECASE)
            if vertebra:
                found.append("".join(vertebra.groups()).lower())
        return landmark if found in ([], [landmark]) else f"{' and '.join(found)} for {landmark}"


def made_once(recipe: Callable[[Body], Made]) -> Callable[[Body], Made]:
    """Decorate a recipe so that each body stores its result, or the reason why there is none."""

    @wraps(recipe)
    def once(body: Body) -> Made:
        kept = body._made
        if recipe.__name__ not in kept:
            try:
                kept[recipe.__name__] = recipe(body)
            except MissingInput as reason:
                kept[recipe.__name__] = reason.what
        made = kept[recipe.__name__]
        if isinstance(made, str):
            raise MissingInput(made)
        return made

    return once
