"""The gate: plausibility checks of each swing. Impossible data are refused, doubtful data are reported."""

from swinglab.study.gate.doubts import (
    ACCEPTED,
    CHECKS,
    DOUBTFUL,
    GATE_COLUMNS,
    IMPOSSIBLE,
    Doubt,
    SharedDoubt,
    gate_table,
    quality_columns,
    shared_doubts,
)
from swinglab.study.gate.run import Gate, check_trial
from swinglab.study.gate.sizes import Lengths, check_same_lengths
from swinglab.study.gate.values import check_ranges

__all__ = [
    "ACCEPTED",
    "CHECKS",
    "DOUBTFUL",
    "GATE_COLUMNS",
    "IMPOSSIBLE",
    "Doubt",
    "Gate",
    "Lengths",
    "SharedDoubt",
    "check_ranges",
    "check_same_lengths",
    "check_trial",
    "gate_table",
    "quality_columns",
    "shared_doubts",
]
