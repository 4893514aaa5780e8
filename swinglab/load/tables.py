"""Pose tables, wide or long, as a `Capture`."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd

from swinglab.errors import UnreadableFile
from swinglab.load.units import METRES, doubt_unit, judge_unit
from swinglab.records import Capture


def read_table(path: Path, *, unit: str | None, rate_hz: float | None) -> Capture:
    """A wide pose table in metres; UnreadableFile where that cannot be."""
    table = pd.read_csv(path)
    labels = [c[:-2] for c in table.columns if c.endswith("_x")]
    points = np.stack([table[[f"{n}_x", f"{n}_y", f"{n}_z"]].to_numpy(float) for n in labels], axis=1)
    if "time_s" in table:
        rate = (len(table) - 1) / (table["time_s"].iloc[-1] - table["time_s"].iloc[0])
    elif rate_hz:
        rate = rate_hz
    else:
        raise UnreadableFile(
            "there is no column time_s and no rate", file=path, do="give rate_hz in study.toml"
        )
    chosen = unit or judge_unit(points)
    points = points * METRES[chosen]
    doubt = doubt_unit(points, chosen)
    return Capture(
        file=str(path), labels=tuple(labels), points_m=points, rate_hz=float(rate), unit=chosen, kind="table",
        warnings=(doubt,) if doubt else (),
    )  # fmt: skip
