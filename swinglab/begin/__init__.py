"""Creation of a study from captures: landmarks, axes, golfers and swings are detected and written to its files."""

from swinglab.begin.beginning import Begun, begin_study
from swinglab.begin.decisions import Decision, Match, Open
from swinglab.begin.landmarks import Landmarks, find_landmarks
from swinglab.begin.sharing import Shared, share_study
from swinglab.begin.study_file import change_study_file

__all__ = [
    "Begun",
    "Decision",
    "Landmarks",
    "Match",
    "Open",
    "Shared",
    "begin_study",
    "change_study_file",
    "find_landmarks",
    "share_study",
]
