"""Sample size: number of golfers or swings with which an open question would probably have a clear answer."""

from __future__ import annotations

import numpy as np
from scipy import special

from swinglab.answers.rules import ALPHA
from swinglab.records import Finding

#: Probability that the planned number gives the right reading, both where there is no effect and where the
#: effect is just the smallest that matters.
CHANCE = 0.85
#: Largest number of golfers or swings that is reported as a plan.
MOST = 1000


def needed(finding: Finding) -> float:
    """Return the number of golfers (or of swings, for one golfer) that would settle a question with a power of .85.

    The standard error is assumed to be proportional to 1 / sqrt(number), with SD, autocorrelation and drift
    as in the present data. The number is sufficient for both conclusions: "too small to matter" if there is
    no effect (90 % interval inside +/- smallest effect), and a conclusion about the sign if the effect is as
    large as the smallest that matters. Infinite if the number exceeds `MOST`. NaN if no smallest effect is
    set: a plan for the observed estimate would only repeat its p value.
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
