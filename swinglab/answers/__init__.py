"""The questions of a study answered: a hunch, a comparison or a lesson becomes findings with a reading."""

from swinglab.answers.comparison import compare_groups
from swinglab.answers.hunch import relate_posture_to_strike
from swinglab.answers.judging import judge
from swinglab.answers.lesson import compare_before_after

__all__ = ["compare_before_after", "compare_groups", "judge", "relate_posture_to_strike"]
