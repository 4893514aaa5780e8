"""C3D files written by another library (ezc3d), for tests."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import ezc3d
import numpy as np


def write_points(
    path: Path, labels: Sequence[str], points: np.ndarray, rate_hz: float, unit: str, *, subject: str = ""
) -> Path:
    """Write points (n, k, 3) in `unit`; `subject` stands as SUBJECTS:NAMES."""
    file = ezc3d.c3d()
    file["parameters"]["POINT"]["RATE"]["value"] = [rate_hz]
    file["parameters"]["POINT"]["LABELS"]["value"] = list(labels)
    file["parameters"]["POINT"]["UNITS"]["value"] = [unit]
    if subject:
        file.add_parameter("SUBJECTS", "NAMES", [subject])
    data = np.ones((4, len(labels), len(points)))
    data[:3] = np.transpose(points, (2, 1, 0))
    file["data"]["points"] = data
    file.write(str(path))
    return path
