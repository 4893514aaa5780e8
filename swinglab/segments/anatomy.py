"""Segment axes and joint centres that are stored in a `Posture`, for events, figures and checks."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import partial

import numpy as np

from swinglab.errors import MissingInput
from swinglab.segments import centres, limbs, trunk
from swinglab.segments.body import Body, Made
from swinglab.segments.geometry import MIRROR
from swinglab.segments.mass import body_centre_of_mass

SIDES = ("left", "right")


def frames_of(body: Body) -> dict[str, np.ndarray]:
    """Return body part -> segment axes (..., 3, 3), as columns in the study frame: X forward, Y up, Z to the right.

    Parts whose landmarks are missing are left out.
    """
    recipes: dict[str, Callable[[], Made]] = {
        recipe.__name__: partial(recipe, body) for recipe in (trunk.pelvis, trunk.thorax, trunk.head)
    }
    for recipe in (limbs.humerus, limbs.forearm, limbs.hand, limbs.femur, limbs.tibia):
        recipes |= {f"{recipe.__name__}_{side}": partial(_limb, body, recipe, side) for side in SIDES}
    return _those_there(recipes)


def centres_of(body: Body) -> dict[str, np.ndarray]:
    """Return name -> position (..., 3) in metres of the joint centres, segment centres and points of arms and club.

    The points of arms and club are the upper ends of the arms, both ends of the shaft, and the clubhead. Positions
    whose landmarks are missing are left out.
    """
    recipes: dict[str, Callable[[], Made]] = {
        f"{joint}_{side}": partial(centres.centre, body, joint, side)
        for joint in centres.CENTRES
        for side in SIDES
    }
    for recipe in (
        centres.pelvis_centre, centres.thorax_centre, centres.head_centre, centres.hands, body_centre_of_mass,
        limbs.shaft_top, limbs.shaft_bottom, limbs.clubhead,
    ):  # fmt: skip
        recipes[recipe.__name__] = partial(recipe, body)
    recipes |= {f"arm_top_{side}": partial(_arm_top, body, side) for side in SIDES}
    return _those_there(recipes)


def _those_there(recipes: Mapping[str, Callable[[], Made]]) -> dict[str, np.ndarray]:
    found = {}
    for name, recipe in recipes.items():
        try:
            found[name] = recipe().value
        except MissingInput:
            continue  # Posture.missing gives the reason for each quantity
    return found


def _limb(body: Body, recipe: Callable[[Body], Made], side: str) -> Made:
    """Axes of a limb. Those of a left limb are mirrored back and Z is reversed, so that they are right-handed."""
    made = recipe(body.side(side))
    return made if side == "right" else Made(made.value * MIRROR[:, None] * MIRROR, made.method)


def _arm_top(body: Body, side: str) -> Made:
    """Upper end of the arm line that is used for the arm events: the acromion, else the shoulder centre."""
    name = f"acromion_{side}" if body.has(f"acromion_{side}") else f"shoulder_{side}"
    return Made(body.need(name)[0], name)
