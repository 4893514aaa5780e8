"""Records and tables -> matplotlib Axes."""

from swinglab.figures.answers import draw_comparison, draw_lesson, draw_relation

__all__ = ["draw_comparison", "draw_lesson", "draw_relation"]
