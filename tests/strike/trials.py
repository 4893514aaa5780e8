"""A batch of made swings, measured by the kit and by its rivals."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np
from strike.arcs import SHAPES, Arc, make_arc, make_trial
from strike.rivals import RIVALS

from swinglab.strike import measure_strike

OUTCOMES = ("low_point_ahead_cm", "attack_angle_deg", "club_path_in_to_out_deg", "clubhead_speed_mps")
#: Clubhead hidden about impact, and slow strokes: what is hidden (s) and the speeds (m/s).
HARDER: dict[str, tuple[tuple[float, float] | None, tuple[float, float]]] = {
    "hidden 20 ms before to 20 ms after impact": ((-0.02, 0.02), (30, 42)),
    "hidden for 10 ms after impact": ((0.0, 0.01), (30, 42)),
    "half swings": (None, (16, 24)),
    "chips": (None, (6, 12)),
}
#: An impact as it is: it takes half a millisecond, and the path goes on a little straighter.
LASTING = {"contact_s": 5e-4, "straighter": 0.055}
#: The shapes that the kit's targets are stated for; the rest are harder and looked at beside them.
TARGET_SHAPES = tuple(SHAPES)[:3] + tuple(name for name in SHAPES if name.startswith("hub"))


@dataclass
class Batch:
    """Errors and standard errors, (n, outcomes); and errors of the rivals, name -> (n, 2)."""

    errors: list[list[float]] = field(default_factory=list)
    standard_errors: list[list[float]] = field(default_factory=list)
    rivals: dict[str, list[tuple[float, float]]] = field(default_factory=dict)

    def rms(self) -> np.ndarray:
        """(outcomes,) root-mean-square errors over the swings that have a number."""
        return np.sqrt(np.nanmean(np.array(self.errors) ** 2, axis=0))

    def predicted(self) -> np.ndarray:
        """(outcomes,) root-mean-square standard errors."""
        return np.sqrt(np.nanmean(np.array(self.standard_errors) ** 2, axis=0))

    def coverage(self) -> np.ndarray:
        """(outcomes,) share of swings whose 95 % interval holds the truth."""
        errors, spread = np.array(self.errors), np.array(self.standard_errors)
        seen = np.isfinite(errors).all(axis=1)
        return (np.abs(errors[seen]) < 1.96 * spread[seen]).mean(axis=0)

    def missing(self) -> float:
        """Share of swings without a low point."""
        return float((~np.isfinite(np.array(self.errors)[:, 0])).mean())

    def rival_rms(self) -> dict[str, np.ndarray]:
        """name -> (2,) root-mean-square errors of low point and attack angle."""
        return {name: np.sqrt(np.mean(np.square(rows), axis=0)) for name, rows in self.rivals.items()}


def random_arcs(
    shapes: tuple[str, ...], seed: int = 0, speed_mps: tuple[float, float] = (30, 42)
) -> list[Arc]:
    """Four arcs of each shape with plane, direction, attack angle and speed at random."""
    rng = np.random.default_rng(seed)
    return [
        make_arc(
            shape, inclination=rng.uniform(50, 64), direction=rng.uniform(-4, 4), attack=rng.uniform(-6, 1),
            speed=rng.uniform(*speed_mps),
        )
        for shape in shapes
        for _ in range(4)
    ]  # fmt: skip


def measure_batch(
    arcs: list[Arc], number: int, rate: float, noise: float, *, sole_at_impact: float | None = None,
    rivals: bool = True, hidden_s: tuple[float, float] | None = None, first_seed: int = 0, **impact: float,
) -> Batch:  # fmt: skip
    """`number` noisy swings over the arcs in turn, with a kink of 0 to 4 degrees and a fifth of the speed lost.

    hidden_s : from when to when about impact the clubhead is not seen. impact : how it lasts and straightens the
    path, and what else `make_trial` takes. first_seed : of the swings' noise, kinks and phases.
    """
    batch = Batch(rivals={name: [] for name in RIVALS} if rivals else {})
    for seed in range(first_seed, first_seed + number):
        arc = arcs[seed % len(arcs)]
        kink = float(np.random.default_rng([17, seed]).uniform(0, 4))
        trial, events = make_trial(
            arc, rate, noise=noise, kink=kink, loss=0.2, seed=seed, sole_at_impact=sole_at_impact, **impact
        )
        if hidden_s:
            lag = trial.time_s - events.time_s("shaft_horizontal_down") - 0.055
            points = trial.raw_m.copy()
            points[(lag > hidden_s[0]) & (lag < hidden_s[1]), 0] = np.nan
            trial = replace(trial, raw_m=points, points_m=points)
        strike = measure_strike(trial, events)
        batch.errors.append([strike.values[n] - arc.truth[n] for n in OUTCOMES])
        batch.standard_errors.append([strike.standard_errors[n] for n in OUTCOMES])
        swing = trial.time_s > events.time_s("top")
        for name, rows in batch.rivals.items():
            low, attack = RIVALS[name](
                trial.time_s[swing],
                trial.point("clubhead", raw=True)[swing],
                events.time_s("impact"),
                trial.ball_m,
            )
            rows.append((low - arc.truth[OUTCOMES[0]], attack - arc.truth[OUTCOMES[1]]))
    return batch
