"""Made swings for the statistics tests: golfers with own intercepts and slopes."""

from __future__ import annotations

import numpy as np
import pandas as pd


def golf_swings(
    golfers: int = 12,
    swings: int = 15,
    *,
    seed: int = 1,
    slope: float = 0.3,
    slope_sd: float = 0.2,
    sessions: int = 1,
    session_sd: float = 0.0,
    unequal: bool = False,
) -> pd.DataFrame:
    """golfer, session, tilt, speed, sex, angle; the within slope of angle on tilt is `slope`."""
    rng = np.random.default_rng(seed)
    number = rng.integers(max(2, swings // 3), swings * 2, golfers) if unequal else np.full(golfers, swings)
    golfer = np.repeat(np.arange(golfers), number)
    place = np.concatenate([np.arange(n) for n in number])
    session = place % sessions
    tilt = rng.normal(20, 4, golfers)[golfer] + rng.normal(0, 2, len(golfer))
    own = rng.normal(0, 1, golfers)[golfer] + rng.normal(slope, slope_sd, golfers)[golfer] * (tilt - 20)
    own = own + rng.normal(0, session_sd, (golfers, sessions))[golfer, session]
    return pd.DataFrame(
        {
            "golfer": [f"G{code:02d}" for code in golfer],
            "session": session,
            "order": place + 1,
            "tilt": tilt,
            "speed": rng.normal(38, 2, golfers)[golfer] + rng.normal(0, 0.5, len(golfer)),
            "sex": np.where(golfer % 2, "male", "female"),
            "angle": -4 + own + rng.normal(0, 1, len(golfer)),
        }
    )
