"""Variation between the swings of a simulated golfer: random with autocorrelation, and drift."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from swinglab.simulate.parameters import CURVES

#: Late knots have most of a deviation in common; early ones (backswing, top) have independent deviations.
LATE = ("delivery", "impact", "through")
EARLY = ("back", "top")

#: Standard deviation of each curve from swing to swing, in its unit (common practice, no source).
SPREAD: Mapping[str, float] = {
    "pelvis_axial_rotation_deg": 2.0,
    "pelvis_lateral_flexion_deg": 0.8,
    "pelvis_flexion_deg": 1.0,
    "pelvis_toward_target_cm": 0.6,
    "pelvis_up_cm": 0.25,
    "pelvis_toward_ball_cm": 0.3,
    "thorax_axial_rotation_deg": 1.8,
    "thorax_lateral_flexion_deg": 1.8,
    "thorax_flexion_deg": 1.2,
    "head_axial_rotation_deg": 2.0,
    "head_flexion_deg": 1.5,
    "lead_elbow_flexion_deg": 1.2,
    "wrist_set_deg": 1.2,
}


@dataclass(frozen=True, slots=True)
class SwingVariation:
    """Variation between the swings of a simulated golfer.

    spread : posture curve -> SD in its unit. scale : factor of all SDs (learners vary more). memory : autocorrelation
    of successive swings. shared : share of the variance at delivery, impact and through that is common to these three.
    early : SD in the backswing and at the top, relative to that in delivery and later. early_spread : posture curve ->
    SD in the backswing and at the top, in its unit; it replaces the SD given by `early`. drift : posture curve ->
    linear change from the first to the last swing of a series, in its unit.
    """

    spread: Mapping[str, float] = field(default_factory=lambda: dict(SPREAD))
    scale: float = 1.0
    memory: float = 0.3
    shared: float = 0.8
    early: float = 1.2
    early_spread: Mapping[str, float] = field(default_factory=dict)
    drift: Mapping[str, float] = field(default_factory=dict)


Changes = dict[str, dict[str, float]]


def draw_offsets(random: np.random.Generator, n: int, variation: SwingVariation) -> list[Changes]:
    """Return changes of posture for n successive swings: autocorrelated random variation plus linear drift.

    Each of the n entries is a dict, posture curve -> key moment (knot) -> change in the unit of the curve (deg or cm),
    for the argument `posture` of `make_swing`. The drift is centred on the middle of the series. It changes
    the knots delivery, impact and through (after impact) only.
    """
    swings: list[Changes] = [{} for _ in range(n)]
    for curve in sorted(set(variation.spread) | set(variation.drift), key=CURVES.index):
        sd = variation.scale * variation.spread.get(curve, 0.0)
        usual = variation.early * variation.spread.get(curve, 0.0)
        early_sd = variation.scale * variation.early_spread.get(curve, usual)
        common = remember(random.standard_normal(n), variation.memory)
        own = random.standard_normal((n, len(LATE)))
        early = random.standard_normal((n, 1)) + 0.3 * random.standard_normal((n, len(EARLY)))
        late = sd * (np.sqrt(variation.shared) * common[:, None] + np.sqrt(1 - variation.shared) * own)
        drifted = variation.drift.get(curve, 0.0) * np.linspace(-0.5, 0.5, n)[:, None] if n > 1 else 0.0
        late = late + drifted
        for k in range(n):
            at = dict(zip(LATE, late[k], strict=True))
            at |= dict(zip(EARLY, early_sd * early[k], strict=True))
            swings[k][curve] = {knot: round(float(value), 6) for knot, value in at.items()}
    return swings


def remember(shocks: np.ndarray, memory: float) -> np.ndarray:
    """Return a stationary first-order autoregressive series (n,) with unit variance.

    `shocks` : (n,) independent values with unit variance. `memory` : autocorrelation of neighbouring values.
    """
    series = np.array(shocks, dtype=float)
    for k in range(1, len(series)):
        series[k] = memory * series[k - 1] + np.sqrt(1 - memory**2) * shocks[k]
    return series


def add_offsets(
    first: Mapping[str, Mapping[str, float]], second: Mapping[str, Mapping[str, float]]
) -> Changes:
    """Return the sum of two changes of posture, each as posture curve -> key moment (knot) -> amount."""
    total: Changes = {curve: dict(at) for curve, at in first.items()}
    for curve, at in second.items():
        mine = total.setdefault(curve, {})
        for knot, value in at.items():
            mine[knot] = mine.get(knot, 0.0) + value
    return total
