"""Swing tables with a known answer, for comparisons of groups, contact in words and lessons."""

from __future__ import annotations

import numpy as np
import pandas as pd

BEND = "thorax_flexion_at_impact_deg"
TILT = "thorax_lateral_flexion_at_impact_deg"


def group_table(golfers: tuple[int, int] = (6, 8), difference: float = -6.0, seed: int = 0) -> pd.DataFrame:
    """Swings of two groups: golfers' SD 2, swings' SD 2, a true difference of the second group."""
    rng = np.random.default_rng(seed)
    n = sum(golfers)
    golfer = np.repeat(np.arange(n), 10)
    table = pd.DataFrame({"golfer": [f"G{g:02d}" for g in golfer]})
    table["group"] = np.where(golfer < golfers[0], "learners", "skilled")
    own = rng.normal(30, 2, n) + np.where(np.arange(n) < golfers[0], 0.0, difference)
    table[BEND] = own[golfer] + rng.normal(0, 2, len(golfer))
    table["clubhead_speed_mps"] = rng.normal(36, 2, n)[golfer] + rng.normal(0, 0.5, len(golfer))
    table["sex"] = rng.choice(["female", "male"], n)[golfer]
    table["club"] = np.tile(["iron 7", "wedge"], len(golfer) // 2)
    return table


def contact_table(golfers: int = 10, slope: float = 0.3, seed: int = 0) -> pd.DataFrame:
    """20 swings of each golfer; contact by a latent sum with this slope on the tilt."""
    rng = np.random.default_rng(seed)
    golfer = np.repeat(np.arange(golfers), 20)
    tilt = rng.normal(20, 4, golfers)[golfer] + rng.normal(0, 3, len(golfer))
    latent = slope * (tilt - 20) + rng.normal(0, 1, golfers)[golfer] + rng.logistic(size=len(golfer))
    words = np.array(["fat", "clean", "thin"])[np.searchsorted([-1.5, 1.5], latent)]
    return pd.DataFrame(
        {"golfer": golfer, TILT: tilt, "contact": words, "order": np.tile(range(20), golfers)}
    )


def lesson_table(
    *, posture: float = -8.0, strike: float = 5.0, drift: float = 0.0, later: bool = False, seed: int = 1
) -> pd.DataFrame:
    """One golfer's 25 swings before and 25 after, in one session, and 15 a week later; another golfer besides."""
    rng = np.random.default_rng(seed)
    phases = ["before"] * 25 + ["after"] * 25 + ["a week later"] * (15 if later else 0)
    n, taught = len(phases), np.array([phase != "before" for phase in phases])
    table = pd.DataFrame({"golfer": "G07", "phase": phases})
    table["session"] = np.where(table["phase"] == "a week later", "second", "first")
    table["order"] = table.groupby("session", sort=False).cumcount() + 1
    table[BEND] = 10 + posture * taught + rng.normal(0, 2, n)
    table["low_point_ahead_cm"] = 1 + strike * taught + drift * np.arange(n) + rng.normal(0, 1.5, n)
    other = table.assign(golfer="G08", low_point_ahead_cm=0.0)
    return pd.concat([other, table.sample(frac=1, random_state=2)], ignore_index=True)
