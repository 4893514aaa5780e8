"""Real captures from elsewhere; tests that need them are skipped where they are absent."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent


def capture_path(name: str) -> Path:
    """Path of a real capture, or a skip that says where it was looked for."""
    folder = Path(os.environ.get("SWINGLAB_CAPTURES") or ROOT.parent / "shared" / "captures")
    path = folder / name
    if not path.is_file():
        pytest.skip(f"no real capture {name}: set SWINGLAB_CAPTURES to the folder that holds it")
    return path
