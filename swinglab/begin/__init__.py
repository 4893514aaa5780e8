"""From bare captures to a study: landmarks, axes, golfers and swings, found, graded and written down."""

from swinglab.begin.landmarks import find_landmarks

__all__ = ["find_landmarks"]
