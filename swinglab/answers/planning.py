"""How many golfers or swings would settle a question that is open: planned for its reading, not for a width."""

from __future__ import annotations

import numpy as np
from scipy import special

from swinglab.answers.rules import ALPHA
from swinglab.records import Finding

#: Chance with which the planned number gives the right reading, both where there is no effect and where the
#: effect is just the smallest that matters.
CHANCE = 0.85
#: More golfers or swings than this are no plan.
MOST = 1000


def needed(finding: Finding) -> float:
    """Golfers (swings, for one golfer) that settle this line with a chance of .85; NaN where it cannot be planned.

    The error falls with the root of their number, all else as it was found: spread, autocorrelation, drift. Two
    readings are planned for: "too small" where there is no effect (the 90 % interval inside +/- smallest effect)
    and a direction where the effect is the smallest that matters. Without a smallest effect there is no plan: a
    plan from the observed estimate only repeats its p value.
    """
    now = finding.n_swings if finding.level == "golfer" else finding.n_golfers
    smallest, error = finding.smallest_effect, finding.standard_error
    if not (np.isfinite(smallest) and smallest > 0 and error > 0 and now > 2):
        return float("nan")
    spread = error * float(np.sqrt(now))
    taken = max(1.0, now - finding.df) if np.isfinite(finding.df) and finding.df < now else 2.0

    def enough(number: int) -> bool:
        df = max(number - taken, 1.0)
        own = spread / float(np.sqrt(number))
        small = special.stdtrit(df, 0.95) + special.stdtrit(df, (1 + CHANCE) / 2)
        direction = special.stdtrit(df, 1 - ALPHA / 2) + special.stdtrit(df, CHANCE)
        return bool(max(small, direction) * own <= smallest)

    low, high = now, MOST
    if not enough(high):
        return float("inf")
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if enough(middle) else (middle, high)
    return float(high)
