"""Random paths of the clubhead, by family: what the fixed shapes of arcs.py are examples of, and more."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from strike.arcs import Arc, ellipse, make_arc, moving_hub

Shape = tuple[Callable, float]


def random_ellipse(rng: np.random.Generator) -> Shape:
    """Half-axes of 1.35 to 1.75 m and a ratio from 0.76, turned by up to 20 degrees."""
    width = rng.uniform(1.35, 1.75)
    return ellipse(width, width * rng.uniform(0.76, 1.0), rng.uniform(-20, 20))


def random_hub(rng: np.random.Generator) -> Shape:
    """A hub that moves at about 0.5 m/s and 6 m/s^2 along each axis, half of that off the plane."""
    share = np.array([1.0, 1.0, 0.5])
    velocity, acceleration = rng.normal(0, 0.5, 3) * share, rng.normal(0, 6.0, 3) * share
    return moving_hub(rng.uniform(1.35, 1.75), tuple(velocity), tuple(acceleration))


def random_levers(rng: np.random.Generator) -> Shape:
    """An arm that slows down by up to a third and a club, released earlier or later, sooner or slower."""
    return _levers(rng, 0.0)


def random_levers_on_a_turning_hub(rng: np.random.Generator) -> Shape:
    """The same on a shoulder that itself turns on a circle of 10 to 20 cm. Not looked at while the model was made."""
    return _levers(rng, rng.uniform(0.1, 0.2))


def random_circle(rng: np.random.Generator) -> Shape:
    """A circle of 1.35 to 1.75 m."""
    radius = rng.uniform(1.35, 1.75)
    return ellipse(radius, radius)


FAMILIES: dict[str, Callable[[np.random.Generator], Shape]] = {
    "ellipses": random_ellipse,
    "moving hubs": random_hub,
    "two levers": random_levers,
    "two levers on a turning hub": random_levers_on_a_turning_hub,
    "circles": random_circle,
}


def family_arcs(family: str, number: int, seed: int = 0) -> list[Arc]:
    """Arcs of one family with shape, plane, direction, attack angle and speed at random."""
    rng = np.random.default_rng([41, list(FAMILIES).index(family), seed])
    arcs: list[Arc] = []
    while len(arcs) < number:
        shape = FAMILIES[family](rng)
        place = {"inclination": rng.uniform(50, 64), "direction": rng.uniform(-4, 4)}
        try:
            arcs.append(make_arc(shape, **place, attack=rng.uniform(-6, 1), speed=rng.uniform(30, 42)))
        except ValueError:  # a path that never rises through that angle: no strike
            continue
    return arcs


def _levers(rng: np.random.Generator, turning: float) -> Shape:
    arm_length, club_length = rng.uniform(0.6, 0.75) - turning, rng.uniform(0.95, 1.15)
    speed, slowing = rng.uniform(7, 11), rng.uniform(0, 8)
    bend, late, slow = rng.uniform(1.4, 2.0), rng.uniform(0.015, 0.04), rng.uniform(0.025, 0.045)
    drift, askew, lean = rng.normal([0.2, 0.3], 0.3), rng.normal(0, 0.03), rng.uniform(0, 0.25)
    lead = rng.uniform(0.3, 0.8)

    def place(t: np.ndarray, u: np.ndarray) -> np.ndarray:
        arm = speed * t - slowing * t**2
        wrist = lean - bend * (1 - 1 / (1 + np.exp(-(t + late) / slow)))
        hub = 0.6 * arm + lead
        across = turning * np.sin(hub) + arm_length * np.sin(arm) + club_length * np.sin(arm + wrist)
        up = -turning * np.cos(hub) - arm_length * np.cos(arm) - club_length * np.cos(arm + wrist)
        off = askew * (np.sin(arm) ** 2 + np.sin(wrist))
        return np.stack([across + drift[0] * t, up + drift[1] * t, off], axis=-1)

    return place, 1.5
