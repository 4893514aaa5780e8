"""Constants of all answers: significance level, fewest golfers, assumed placement errors."""

from __future__ import annotations

#: Two-sided significance level of the tests that decide a reading.
ALPHA = 0.05
#: Fewest golfers for a claim about golfers in general; with fewer, each golfer is shown alone.
FEWEST_GOLFERS = 6
FEWEST_IN_A_GROUP = 3
#: Where the error of marker placement is not known, answers are also shown for these errors, in degrees.
ASSUMED_PLACEMENT_DEG = (2.0, 4.0)
