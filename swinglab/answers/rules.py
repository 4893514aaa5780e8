"""The numbers that every answer shares: level of the tests, fewest golfers, placement errors assumed."""

from __future__ import annotations

#: Two-sided level of the tests that are read.
ALPHA = 0.05
#: With fewer golfers each is shown alone, and no claim is made about golfers in general.
FEWEST_GOLFERS = 6
FEWEST_IN_A_GROUP = 3
#: Where the error of marker placement is not known, answers are also shown for these errors, in degrees.
ASSUMED_PLACEMENT_DEG = (2.0, 4.0)
