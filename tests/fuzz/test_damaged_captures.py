"""A short run of the fuzz script: damaged captures are read or refused in whole words, nothing else."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from fuzz.mutations import damaged, made_seeds, read_damaged
from fuzz.watched import outcome


def test_damaged_captures_are_read_or_refused(tmp_path) -> None:
    """Truth: made. 600 damaged files from a fixed seed; the long run is tests/fuzz/fuzz_captures.py."""
    seen = []
    for index, (name, data) in enumerate(damaged(made_seeds(), 600, 11)):
        path = tmp_path / f"damaged{Path(name).suffix}"
        path.write_bytes(data)
        seen.append(outcome(lambda path=path: read_damaged(path), path.name))
        assert seen[-1] in ("read", "refused"), f"input {index}, made from {name}: {seen[-1]}"
    assert np.mean([result == "read" for result in seen]) > 0.2
    assert seen.count("refused") > 100


def test_every_cut_of_a_file_is_read_or_refused(tmp_path) -> None:
    """Truth: made. Each seed cut short at 40 places."""
    for name, data in made_seeds().items():
        path = tmp_path / name
        for length in np.linspace(0, len(data) - 1, 40).astype(int):
            path.write_bytes(data[:length])
            seen = outcome(lambda path=path: read_damaged(path), path.name)
            assert seen in ("read", "refused"), f"{name} cut to {length} bytes: {seen}"
