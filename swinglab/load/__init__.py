"""Read capture files as a `Capture` (unchanged data) and convert it to a `Trial` (study frame, filled, smoothed)."""

from swinglab.load.c3d_file import person_texts
from swinglab.load.capture import read_capture
from swinglab.load.completeness import is_whole
from swinglab.load.describe import describe_capture
from swinglab.load.trial import load_trial
from swinglab.load.write import write_capture

__all__ = [
    "describe_capture", "is_whole", "load_trial", "person_texts", "read_capture", "write_capture",
]  # fmt: skip
