"""A made golfer: posture in, marker trajectories, club path and strike out."""

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
from swinglab.simulate.swing import Swing, make_swing
from swinglab.simulate.variation import SwingVariation, draw_offsets
from swinglab.simulate.write import MadeStudy, StudySwing, write_study

__all__ = [
    "Aim",
    "Compensation",
    "DemoSize",
    "Disturbance",
    "Golfer",
    "GolferParameters",
    "Habit",
    "Lab",
    "MadeStudy",
    "Stance",
    "StudySwing",
    "Swing",
    "SwingVariation",
    "Tempo",
    "disturb",
    "draw_offsets",
    "draw_placement",
    "make_golfer",
    "make_swing",
    "write_demo",
    "write_study",
]
