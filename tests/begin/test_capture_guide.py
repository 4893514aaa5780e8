"""references/capture_guide.md: its tables are what the code gives."""

from __future__ import annotations

import runpy
from pathlib import Path

from swinglab.conventions import LANDMARKS, is_landmark

REFERENCES = Path(__file__).parents[2] / "references"
MAKER = runpy.run_path(str(REFERENCES / "make_capture_guide.py"))


def test_the_tables_are_what_the_code_gives() -> None:
    """Truth: kept. Written by make_capture_guide.py; another result of the measuring code shows here."""
    text = (REFERENCES / "capture_guide.md").read_text(encoding="utf-8")
    assert MAKER["with_tables"](text) == text
    assert text.count("<!-- from the code") == len(MAKER["TABLES"])


def test_every_landmark_is_in_a_step() -> None:
    """Truth: other. The kit's own list of landmarks; the sacrum and the neck stand in for others."""
    steps = {
        name
        for steps in (MAKER["MARKER_STEPS"], MAKER["CENTRE_STEPS"])
        for _, names in steps
        for name in names
    }
    assert all(is_landmark(name) for name in steps)
    assert set(LANDMARKS) - steps == {"sacrum", "neck"}
