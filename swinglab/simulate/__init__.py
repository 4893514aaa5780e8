"""A made golfer: posture in, marker trajectories, club path and strike out."""

from swinglab.simulate.capture import Lab
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
from swinglab.simulate.write import MadeStudy, StudySwing, write_study

__all__ = [
    "Aim",
    "Compensation",
    "Golfer",
    "GolferParameters",
    "Habit",
    "Lab",
    "MadeStudy",
    "Stance",
    "StudySwing",
    "Swing",
    "Tempo",
    "make_golfer",
    "make_swing",
    "write_study",
]
