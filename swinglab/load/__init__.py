"""Reading of capture files (`Capture`, unchanged data) and conversion to a `Trial` (study frame, gaps filled)."""

from swinglab.load.c3d_file import person_texts
from swinglab.load.capture import read_capture
from swinglab.load.completeness import is_whole
from swinglab.load.describe import describe_capture
from swinglab.load.trial import load_trial
from swinglab.load.write import write_capture

__all__ = [
    "describe_capture", "is_whole", "load_trial", "person_texts", "read_capture", "write_capture",
]  # fmt: skip
