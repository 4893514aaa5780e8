"""Notebook panels and the swing viewer; they display results of other subpackages and compute nothing themselves."""

from swinglab.controls.choice_task import set_choice
from swinglab.controls.chosen_study import ChosenStudy, choose_study
from swinglab.controls.curves_panel import show_whole_swing
from swinglab.controls.event_correction import correct_events
from swinglab.controls.geometry_panel import compare_geometry
from swinglab.controls.moved_golfers_panel import move_golfers
from swinglab.controls.naming_captures import name_captures
from swinglab.controls.one_golfer_panel import follow_golfer
from swinglab.controls.planning_panel import plan_question
from swinglab.controls.questions import ask_comparison, ask_hunch, ask_lesson
from swinglab.controls.screening import ask_screen
from swinglab.controls.study_panels import check_captures, show_outcomes, show_posture
from swinglab.controls.swing_viewer import SwingViewer
from swinglab.controls.swings import show_swings
from swinglab.controls.task import set_task
from swinglab.controls.what_if_panel import try_posture
from swinglab.controls.writing import write_up

__all__ = [
    "ChosenStudy",
    "SwingViewer",
    "ask_comparison",
    "ask_hunch",
    "ask_lesson",
    "ask_screen",
    "check_captures",
    "choose_study",
    "compare_geometry",
    "correct_events",
    "follow_golfer",
    "move_golfers",
    "name_captures",
    "plan_question",
    "set_choice",
    "set_task",
    "show_outcomes",
    "show_posture",
    "show_swings",
    "show_whole_swing",
    "try_posture",
    "write_up",
]  # fmt: skip
