"""Made swing tables, as the study hands them to the statistics: posture at an event, strike, their errors."""

from __future__ import annotations

import numpy as np
import pandas as pd

from swinglab import columns

POSTURE, EVENT = "thorax_lateral_flexion_deg", "shaft_horizontal_down"
COLUMN = columns.event_column_name(POSTURE, EVENT)


def swing_table(
    golfers: int = 12,
    swings: int = 20,
    *,
    within: float = 0.2,
    between: float = -0.1,
    slope_sd: float = 0.05,
    swing_error: float = 0.0,
    placement: float = 0.0,
    sessions: int = 1,
    noise: float = 1.0,
    seed: int = 1,
) -> pd.DataFrame:
    """attack_angle_deg on the posture: `within` and `between` are deg per deg of the true posture.

    The posture is seen with an error of `swing_error` a swing and `placement` a session.
    """
    rng = np.random.default_rng(seed)
    golfer = np.repeat(np.arange(golfers), swings)
    session = np.tile(np.arange(swings) * sessions // swings, golfers)
    mean, deviation = rng.normal(0, 6, golfers), rng.normal(0, 3, len(golfer))
    slope = rng.normal(within, slope_sd, golfers)
    angle = -4 + between * mean[golfer] + slope[golfer] * deviation + rng.normal(0, noise, len(golfer))
    angle += rng.normal(0, 0.3, golfers)[golfer]
    seen = 25 + mean[golfer] + deviation + rng.normal(0, swing_error, len(golfer))
    seen += rng.normal(0, placement, (golfers, sessions))[golfer, session]
    return pd.DataFrame(
        {
            "swing": [f"s{i:04d}" for i in range(len(golfer))],
            "golfer": [f"G{code:03d}" for code in golfer],
            "session": [f"day {number}" for number in session],
            "order": np.tile(np.arange(1, swings + 1), golfers),
            "attack_angle_deg": angle,
            columns.error_column_name("attack_angle_deg"): 0.3,
            COLUMN: seen,
            columns.error_column_name(COLUMN): swing_error,
            "clubhead_speed_mps": rng.normal(38, 2, golfers)[golfer] + rng.normal(0, 1, len(golfer)),
        }
    )
