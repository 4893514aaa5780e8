"""Simulated golfers whose true values are known: from posture to marker trajectories, club path and strike."""

from swinglab.simulate.capture import Lab
from swinglab.simulate.changed_swing import what_if
from swinglab.simulate.demo import DemoSize, write_demo
from swinglab.simulate.disturb import Disturbance, disturb, draw_placement
from swinglab.simulate.golfer import Golfer, make_golfer
from swinglab.simulate.league import write_league
from swinglab.simulate.measured_body import MeasuredBody
from swinglab.simulate.own_share import OwnShare, estimate_own_share
from swinglab.simulate.parameters import (
    Aim,
    Compensation,
    GolferParameters,
    Habit,
    Stance,
    Tempo,
)
from swinglab.simulate.posture_change import CHANGEABLE, EASINGS, VARIANTS, PostureChange
from swinglab.simulate.swing import Swing, make_swing
from swinglab.simulate.true_slopes import true_sensitivity
from swinglab.simulate.variation import SwingVariation, draw_offsets
from swinglab.simulate.write import SimulatedStudy, StudySwing, write_study

__all__ = [
    "CHANGEABLE",
    "EASINGS",
    "VARIANTS",
    "Aim",
    "Compensation",
    "DemoSize",
    "Disturbance",
    "Golfer",
    "GolferParameters",
    "Habit",
    "Lab",
    "MeasuredBody",
    "OwnShare",
    "PostureChange",
    "SimulatedStudy",
    "Stance",
    "StudySwing",
    "Swing",
    "SwingVariation",
    "Tempo",
    "disturb",
    "draw_offsets",
    "draw_placement",
    "estimate_own_share",
    "make_golfer",
    "make_swing",
    "true_sensitivity",
    "what_if",
    "write_demo",
    "write_league",
    "write_study",
]
