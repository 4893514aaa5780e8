"""Small published data sets from elsewhere; tests that need them are skipped where absent."""

from __future__ import annotations

import os
from pathlib import Path

import pandas as pd
import pytest

ROOT = Path(__file__).parent.parent


def reference_table(name: str) -> pd.DataFrame:
    """A published data set as a table, or a skip that says where it was looked for."""
    folder = Path(os.environ.get("SWINGLAB_REFERENCE_DATA") or ROOT.parent / "shared" / "statistics")
    path = folder / name
    if not path.is_file():
        pytest.skip(f"no published data {name}: set SWINGLAB_REFERENCE_DATA to the folder that holds it")
    return pd.read_csv(path)
