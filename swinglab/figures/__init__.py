"""Records and tables -> matplotlib Axes."""

from swinglab.figures.answers import draw_comparison, draw_lesson, draw_relation
from swinglab.figures.gaps import draw_gaps

__all__ = ["draw_comparison", "draw_gaps", "draw_lesson", "draw_relation"]
