"""Constants of all answers: significance level, fewest golfers, assumed placement errors."""

from __future__ import annotations

#: Two-sided significance level of the tests that decide a reading.
ALPHA = 0.05
#: Fewest golfers for a claim about golfers in general; with fewer, each golfer is shown alone.
FEWEST_GOLFERS = 6
#: Fewest golfers in each of two groups for a claim about their difference.
FEWEST_IN_A_GROUP = 3
#: If the marker placement error is not known, answers are also given for these assumed SDs of it (deg).
ASSUMED_PLACEMENT_DEG = (2.0, 4.0)
