"""True slopes of a simulated golfer's strike on posture, by finite differences of the whole simulation."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd

from swinglab.columns import STRIKES
from swinglab.errors import BadRequest, near_names
from swinglab.simulate.golfer import Golfer
from swinglab.simulate.impact import find_impact, head_path
from swinglab.simulate.swing import Offsets, vary
from swinglab.simulate.truth import find_delivery, measure_true_strike
from swinglab.simulate.write import StudySwing

#: Posture curves of the default table.
DEFAULT_CURVES = (
    "thorax_lateral_flexion_deg", "thorax_flexion_deg", "thorax_axial_rotation_deg", "pelvis_axial_rotation_deg",
    "pelvis_lateral_flexion_deg", "pelvis_flexion_deg", "pelvis_toward_target_cm", "pelvis_up_cm",
    "pelvis_toward_ball_cm", "lead_elbow_flexion_deg", "wrist_set_deg", "head_flexion_deg",
)  # fmt: skip


def true_sensitivity(
    golfer: Golfer, curve: str, *, outcomes: Sequence[str] = tuple(STRIKES), step: float = 0.5
) -> dict[str, float]:
    """Return the true slope of each outcome on a posture that changes from delivery until after impact.

    Slopes are outcome -> change of the outcome, in its unit, per unit of the posture curve. They are central
    differences of the whole simulation with changes of plus and minus `step`. The hands compensate so that the club
    still hits the ball; other sources of variation are constant.

    Raises
    ------
    BadRequest
        An unknown curve or outcome.
    """
    unknown = [name for name in outcomes if name not in STRIKES]
    if unknown:
        raise BadRequest(
            f"the strike has no quantity {unknown[0]}",
            do=near_names(unknown[0], STRIKES) or f"choose from {', '.join(STRIKES)}",
        )
    more, less = (_strike(golfer, {curve: sign * step}) for sign in (1.0, -1.0))
    return {name: (more[name] - less[name]) / (2 * step) for name in outcomes}


def _strike(golfer: Golfer, posture: Offsets) -> dict[str, float]:
    mover = vary(golfer, posture)
    impact = find_impact(head_path(mover))
    strike = measure_true_strike(
        mover, {"impact": impact, "shaft_horizontal_down": find_delivery(mover, impact)}
    )
    return {name: strike[name] for name in STRIKES}


def sensitivity_table(golfers: Sequence[Golfer], curves: Sequence[str] = DEFAULT_CURVES) -> pd.DataFrame:
    """Return the true slopes of strike on posture within golfers, a row for each golfer, posture curve and outcome."""
    rows = [
        {"level": "within", "golfer": golfer.name, "outcome": outcome, "posture": curve, "slope": slope}
        for golfer in golfers
        for curve in curves
        for outcome, slope in true_sensitivity(golfer, curve).items()
    ]
    return pd.DataFrame(rows)


def between_slope(swings: Sequence[StudySwing], outcome: str, quantity: str, event: str) -> float:
    """Return the least-squares slope between golfers, from the means of true outcome and true posture at an event.

    NaN with fewer than three golfers.
    """
    rows = [
        (s.swing.golfer.name, s.swing.true_posture()[event][quantity], s.swing.true_strike[outcome])
        for s in swings
    ]
    means = pd.DataFrame(rows, columns=["golfer", "x", "y"]).groupby("golfer").mean()
    if len(means) < 3:
        return float("nan")
    return float(np.polyfit(means["x"], means["y"], 1)[0])
