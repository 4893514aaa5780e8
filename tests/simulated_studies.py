"""A study of simulated golfers in one call, with swing-to-swing variation and capture errors."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from swinglab.simulate.capture import Lab
from swinglab.simulate.disturb import Disturbance, disturb, draw_placement
from swinglab.simulate.golfer import Golfer
from swinglab.simulate.swing import make_swing
from swinglab.simulate.variation import SwingVariation, draw_offsets
from swinglab.simulate.write import SimulatedStudy, StudySwing


def make_study(
    golfers: Sequence[Golfer], *, swings: int = 6, variation: SwingVariation | None = None,
    disturbance: Disturbance | None = None, seed: int = 0, rate_hz: float = 240.0, lab: Lab | None = None,
    kind: str = "markers", title: str = "Simulated golfers", settings: str = "",
) -> SimulatedStudy:  # fmt: skip
    """`swings` swings of every golfer, one session each, ready for `write_study`.

    Parameters
    ----------
    golfers : each with its own name.
    swings : of each golfer.
    variation : swing-to-swing variation; default `SwingVariation()`.
    disturbance : capture errors; by default none, so that captures are exact to a stored step.
    seed : int
    rate_hz : float
    lab : axes of the captures.
    kind : markers (C3D) or joint_centres (pose tables).
    title, settings : of study.toml.

    Returns
    -------
    SimulatedStudy
    """
    simulated = []
    for golfer, source in zip(golfers, np.random.SeedSequence(seed).spawn(len(golfers)), strict=True):
        random = np.random.default_rng(source)
        placement = draw_placement(random, disturbance) if disturbance else {}
        for k, offsets in enumerate(draw_offsets(random, swings, variation or SwingVariation())):
            own = int(random.integers(2**31))
            swing = make_swing(golfer, offsets, seed=own, rate_hz=rate_hz, name=f"{golfer.name}_{k + 1:02d}")
            if disturbance:
                swing = disturb(swing, disturbance, placement, seed=own)
            cells = {"session": golfer.name, "order": k + 1, "club": golfer.parameters.club}
            simulated.append(StudySwing(swing, cells, kind))
    return SimulatedStudy(title, simulated, lab=lab or Lab(), settings=settings)
