"""Figures: functions that draw results and tables on matplotlib Axes."""

from swinglab.figures.agreement import draw_agreement
from swinglab.figures.contact_shares import draw_contact
from swinglab.figures.curve_test import draw_curve_test
from swinglab.figures.diagnostics import draw_diagnostics
from swinglab.figures.forest import draw_forest
from swinglab.figures.forest_of_studies import draw_studies
from swinglab.figures.gaps import draw_gaps
from swinglab.figures.low_points import draw_low_points
from swinglab.figures.moved_golfers import sketch_moved_golfers
from swinglab.figures.peaks import draw_golfer_peaks, draw_swing_peaks
from swinglab.figures.plan import draw_plan
from swinglab.figures.posture import draw_posture_curves, draw_stick_figure
from swinglab.figures.profiles import draw_by_golfer, draw_profiles
from swinglab.figures.questions import draw_comparison, draw_lesson, draw_relation
from swinglab.figures.screen import draw_screen
from swinglab.figures.sessions import draw_sessions
from swinglab.figures.specification import draw_specifications
from swinglab.figures.style import add_units

__all__ = [
    "add_units",
    "draw_agreement",
    "draw_by_golfer",
    "draw_comparison",
    "draw_contact",
    "draw_curve_test",
    "draw_diagnostics",
    "draw_forest",
    "draw_gaps",
    "draw_golfer_peaks",
    "draw_lesson",
    "draw_low_points",
    "draw_plan",
    "draw_posture_curves",
    "draw_profiles",
    "draw_relation",
    "draw_screen",
    "draw_sessions",
    "draw_specifications",
    "draw_stick_figure",
    "draw_studies",
    "draw_swing_peaks",
    "sketch_moved_golfers",
]
