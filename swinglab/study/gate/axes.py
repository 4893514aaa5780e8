"""Checks of axes and hand: head above feet, golfer facing the ball, club moving toward the target."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import permutations, product
from typing import NamedTuple

import numpy as np

from swinglab.conventions import AXIS_NAMES, axis_vector
from swinglab.load.study_frame import study_axes
from swinglab.records import Trial
from swinglab.study.gate.body import Frames, body_up, left_of, middle_row, stance_left
from swinglab.study.gate.doubts import DOUBTFUL, IMPOSSIBLE, Doubt

#: Directions that deviate more than this fail; an open stance of 45 deg and an in-to-out path pass.
FARTHEST_DEG = 60.0
#: Largest deviation from upright where only the trunk is seen, which may be flexed.
FARTHEST_TRUNK_DEG = 85.0
#: The club's direction is computed over this time before impact.
BEFORE_IMPACT_S = 0.02
#: At impact the club has at least this share of its top speed.
_AT_SPEED = 0.6


class Directions(NamedTuple):
    """Directions (3,) of body and club in the study frame; None for a direction that cannot be determined.

    up : from the lowest visible part of the body (feet, knees or pelvis) to the highest (head, neck or shoulders).
    legs : whether the lowest part is on the legs. front : the direction that the body faces. travel : direction in
    which the club (without a club: the hands) moves at impact. front and travel are None without an impact.
    """

    up: np.ndarray | None
    legs: bool
    front: np.ndarray | None = None
    travel: np.ndarray | None = None


def find_directions(trial: Trial, body: Frames, impact_s: float | None) -> Directions:
    """Return the directions of body and club in a trial: up, front, and travel at impact.

    body : sample of the trial's frames. impact_s : time of impact (s), None if unknown.
    """
    rows, legs = body_up(body)
    up = None if rows is None else middle_row(rows)
    if impact_s is None or up is None:
        return Directions(up, legs)
    left = stance_left(body)
    if left is None:
        pairs = [
            pair
            for stem in ("asis", "hip", "acromion", "shoulder")
            if (pair := left_of(body, stem)) is not None
        ]
        left = middle_row(pairs[0]) if pairs else None
    front = None if left is None else np.cross(left, up)
    return Directions(up, legs, front, _travel(trial, impact_s))


def _travel(trial: Trial, impact_s: float) -> np.ndarray | None:
    """Return the direction of motion of the clubhead, or else of the hands, over the last 20 ms before impact.

    The result is a unit vector (3,); None if there are no data, or the motion is slow at impact.
    """
    for names in (("clubhead",), ("hand_left", "hand_right"), ("wrist_radial_left", "wrist_radial_right"),
                  ("wrist_left", "wrist_right")):  # fmt: skip
        there = [trial.points_m[:, trial.landmarks.index(name)] for name in names if name in trial.landmarks]
        if not there:
            continue
        path = np.mean(there, axis=0)
        last = int(np.floor(impact_s * trial.rate_hz - 1e-9))
        span = max(2, round(BEFORE_IMPACT_S * trial.rate_hz))
        if not span <= last < len(path):
            continue
        steps = path[span:] - path[:-span]
        far = np.linalg.norm(steps, axis=1)
        # Where the club is slow at the coarse impact (noise in a putt can cause this), its direction is useless.
        if far[last - span] > max(0.005, _AT_SPEED * float(np.fmax.reduce(far, initial=0.0))):
            return steps[last - span] / far[last - span]
    return None


def failed(found: Directions) -> set[str]:
    """Return the names of the checks that directions fail: up, facing, travel."""
    fails = set()
    if found.up is not None:
        limit = FARTHEST_DEG if found.legs else FARTHEST_TRUNK_DEG
        if found.up[1] < np.cos(np.deg2rad(limit)):
            fails.add("up")
    for name, vector, axis in (("facing", found.front, 2), ("travel", found.travel, 0)):
        if vector is not None and _level_cosine(vector, axis) < np.cos(np.deg2rad(FARTHEST_DEG)):
            fails.add(name)
    return fails


def _level_cosine(vector: np.ndarray, axis: int) -> float:
    """Return the cosine of the angle to an axis (0 or 2) in the horizontal plane; -1 for a nearly vertical vector."""
    level = np.array([vector[0], 0.0, vector[2]])
    length = float(np.linalg.norm(level))
    return float(level[axis] / length) if length > 0.2 else -1.0


# --- other settings that would fit --------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, eq=False)
class Alternative:
    """Alternative settings: another rotation of the lab axes, the other hand, or both.

    rotation : matrix (3, 3) that turns the study frame of the given settings into that of the alternative. keys : names
    of the settings that differ from the study's (up, target, hand).
    """

    rotation: np.ndarray
    other_hand: bool
    keys: tuple[str, ...]

    def apply(self, found: Directions, hand: str) -> Directions:
        """Return the directions of body and club that would result from these settings.

        found : directions with the study's settings. hand : the golfer's hand in the study.
        """
        given = np.diag([1.0, 1.0, -1.0 if hand == "left" else 1.0])
        mirror = np.diag([1.0, 1.0, -1.0]) if self.other_hand else np.eye(3)
        matrix = mirror @ given @ self.rotation @ given
        turned = [None if v is None else matrix @ v for v in (found.up, found.front, found.travel)]
        return Directions(turned[0], found.legs, turned[1], turned[2])


def _rotations() -> list[np.ndarray]:
    """Return the 24 rotations that map coordinate axes onto coordinate axes."""
    made = []
    for order, signs in product(permutations(range(3)), product((1.0, -1.0), repeat=3)):
        matrix = np.zeros((3, 3))
        matrix[np.arange(3), list(order)] = signs
        if np.linalg.det(matrix) > 0:
            made.append(matrix)
    return made


def _alternatives() -> list[Alternative]:
    made = []
    for rotation, other in product(_rotations(), (False, True)):
        keeps_up, keeps_target = rotation[1, 1] == 1, rotation[0, 0] == 1
        keys = [key for key, kept in (("up", keeps_up), ("target", keeps_target)) if not kept]
        if keys or other:
            made.append(Alternative(rotation, other, (*keys, *(["hand"] if other else []))))
    return sorted(made, key=lambda one: len(one.keys))


ALTERNATIVES = _alternatives()


def check_axes(trial: Trial, found: Directions) -> list[Doubt]:
    """Return doubts about the lab axes and the golfer's hand.

    The verdict is impossible if the directions show which of the settings up, target and hand are wrong, otherwise
    doubtful.
    """
    fails = failed(found)
    if not fails:
        return []
    # Only facing and club together distinguish a wrong hand from a target that points the opposite way.
    sure = "up" in fails or (found.travel is not None and "facing" in fails)
    fitting = [one for one in ALTERNATIVES if not failed(one.apply(found, trial.hand))]
    fewest = [one for one in fitting if len(one.keys) == len(fitting[0].keys)] if fitting else []
    same_keys = {one.keys for one in fewest}
    if sure and len(fewest) == 1:
        return [_impossible(trial, fewest[0])]
    if sure and len(same_keys) == 1 and "up" in fails:
        return [_impossible_open(fewest[0].keys)]
    return _doubts(fails, sorted({key for keys in same_keys for key in keys}))


_KEYS = {"up": "[lab] up", "target": "[lab] target", "hand": "golfers.csv hand"}
_WRONG = {
    "up": "the head is not above the feet",
    "facing": "the golfer does not face the ball's side",
    "travel": "the club does not travel toward the target",
}


def _named(axis: np.ndarray) -> str:
    """Return an axis by its name, or as three numbers."""
    for name in AXIS_NAMES:
        if axis @ axis_vector(name) > 0.999:
            return f'"{name}"'
    return "[" + ", ".join(f"{value:.2f}" for value in axis + 0.0) + "]"


def _impossible(trial: Trial, other: Alternative) -> Doubt:
    setup = trial.setup
    axes = other.rotation @ study_axes(setup)
    given = {"up": setup.up, "target": setup.target, "hand": trial.hand}
    right = {
        "up": _named(axes[1]),
        "target": _named(axes[0]),
        "hand": "left" if trial.hand == "right" else "right",
    }
    check = "up" if "up" in other.keys else other.keys[0]
    key = ", ".join(_KEYS[name] for name in other.keys)
    first = {"up": "up", "target": "travel", "hand": "facing"}[check]
    asked = " and ".join(f"{_KEYS[name]} = {right[name]}" for name in other.keys)
    was = " and ".join(f"{_KEYS[name]} = {_given(given[name])}" for name in other.keys)
    return Doubt(check, IMPOSSIBLE, key, f"{_WRONG[first]} with {was}; with {asked} everything agrees",
                 do=f"set {asked}")  # fmt: skip


def _given(value: object) -> str:
    return f'"{value}"' if isinstance(value, str) and value[0] in "+-" else (
        str(value) if isinstance(value, str) else str(list(value))  # type: ignore[call-overload]
    )  # fmt: skip


def _impossible_open(keys: tuple[str, ...]) -> Doubt:
    """Return the doubt for a wrong setting of which several other values would pass."""
    key = ", ".join(_KEYS[name] for name in keys)
    return Doubt("up", IMPOSSIBLE, key, _WRONG["up"], do=f"correct {key}")


def _doubts(fails: set[str], keys: list[str]) -> list[Doubt]:
    suspects = [_KEYS[key] for key in keys] or [_KEYS["target"], _KEYS["hand"]]
    key = ", ".join(suspects)
    return [
        Doubt(name, DOUBTFUL, key, _WRONG[name], do=f"check {' and '.join(suspects)}")
        for name in ("up", "facing", "travel")
        if name in fails
    ]
