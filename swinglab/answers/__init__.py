"""Answers to a study's questions: each hunch, comparison or lesson gives findings with a reading."""

from swinglab.answers.comparison import compare_groups
from swinglab.answers.diagnostics import diagnose
from swinglab.answers.geometry import (
    GeometryBesideRegression,
    compare_geometry,
    geometric_slopes,
    golfer_lines,
    has_geometry,
)
from swinglab.answers.hunch import relate_posture_to_strike
from swinglab.answers.judging import judge
from swinglab.answers.lesson import compare_before_after
from swinglab.answers.over_time import changes_between, session_means
from swinglab.answers.posture_effect import PostureEffect, posture_effect, sensitivity
from swinglab.answers.screen import ScreenAnswer, answer_screens
from swinglab.answers.screen_table import player_against_group, screen_table
from swinglab.answers.soft_tissue import SupposedTissue, suppose_soft_tissue
from swinglab.answers.specification import SpecificationCurve, specification_curve
from swinglab.answers.validation import ValidationAnswer, validate_setup
from swinglab.answers.whole_swings import answer_over_time, rows_over_time

__all__ = [
    "GeometryBesideRegression",
    "PostureEffect",
    "ScreenAnswer",
    "SpecificationCurve",
    "SupposedTissue",
    "ValidationAnswer",
    "answer_over_time",
    "answer_screens",
    "changes_between",
    "compare_before_after",
    "compare_geometry",
    "compare_groups",
    "diagnose",
    "geometric_slopes",
    "golfer_lines",
    "has_geometry",
    "judge",
    "player_against_group",
    "posture_effect",
    "relate_posture_to_strike",
    "rows_over_time",
    "screen_table",
    "sensitivity",
    "session_means",
    "specification_curve",
    "suppose_soft_tissue",
    "validate_setup",
]
