"""A simulated golfer: posture in, marker trajectories, club path and strike out."""

from swinglab.simulate.capture import Lab
from swinglab.simulate.demo import DemoSize, write_demo
from swinglab.simulate.disturb import Disturbance, disturb, draw_placement
from swinglab.simulate.golfer import Golfer, make_golfer
from swinglab.simulate.parameters import (
    Aim,
    Compensation,
    GolferParameters,
    Habit,
    Stance,
    Tempo,
)
from swinglab.simulate.sensitivity import true_sensitivity
from swinglab.simulate.study import make_study
from swinglab.simulate.swing import Swing, make_swing
from swinglab.simulate.table_study import TableParameters, TableStudy, make_table_study
from swinglab.simulate.variation import SwingVariation, draw_offsets
from swinglab.simulate.write import SimulatedStudy, StudySwing, write_study

__all__ = [
    "Aim",
    "Compensation",
    "DemoSize",
    "Disturbance",
    "Golfer",
    "GolferParameters",
    "Habit",
    "Lab",
    "SimulatedStudy",
    "Stance",
    "StudySwing",
    "Swing",
    "SwingVariation",
    "TableParameters",
    "TableStudy",
    "Tempo",
    "disturb",
    "draw_offsets",
    "draw_placement",
    "make_golfer",
    "make_study",
    "make_swing",
    "make_table_study",
    "true_sensitivity",
    "write_demo",
    "write_study",
]
