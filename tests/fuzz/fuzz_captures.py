"""Files of captures and studies whose bytes are changed at random.

    python tests/fuzz/fuzz_captures.py [--number N] [--seed S] [--seconds T] [--captures FOLDER]

A capture must be read or refused with a whole error. A study with stored results must open or be refused; its results
and kept swings must come back as they were written, or not be believed. Limits: `watched`.
"""

from __future__ import annotations

import os
import shutil
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pandas as pd

sys.path.insert(0, str(Path(__file__).parent))
from mutations import damaged, made_seeds, mutate, read_damaged
from small_study import write_small_study
from watched import Input, options, run

from swinglab.study import answer_study, measure_study, open_study, read_findings, read_results, write_results
from swinglab.study.swing import job_for
from swinglab.study.swing_cache import SwingCache

#: Shares of the inputs: the study's own files, its stored results, its kept swings; the rest are captures.
SHARES = (0.12, 0.06, 0.06)


class StoredStudy:
    """A small study with results and kept swings, one of whose files is damaged at a time."""

    def __init__(self, folder: Path) -> None:
        self.folder = write_small_study(folder)
        self.kept = SwingCache(folder / "kept")
        study = open_study(folder)
        self.results = measure_study(study, workers=1, cache=folder / "kept")
        write_results(study, self.results, answer_study(study, self.results), folder / "results")
        self.stored = read_results(study, folder / "results")
        self.findings = repr(read_findings(study, folder / "results"))
        self.job = job_for(study, "G01_0")
        self.measured = self.kept.read(self.job)
        self.study = study
        self.own = [folder / name for name in ("study.toml", "golfers.csv", "swings.csv")]
        self.tables = [path for path in (folder / "results").iterdir() if path.suffix in (".csv", ".json")]
        self.tables += [folder / "results" / "run.json"] * len(self.tables)
        self.cached = [self.kept._path(self.job, self.measured.inputs)]
        self.whole = {path: path.read_bytes() for path in (*self.own, *self.tables, *self.cached)}

    def inputs(self, kind: int, rng: np.random.Generator) -> Iterator[Input]:
        """One damaged file of a kind, whole again afterwards."""
        name, paths, call = (
            ("own file", self.own, self.open),
            ("stored results", self.tables, self.read),
            ("kept swing", self.cached, self.read_kept),
        )[kind]
        path = paths[int(rng.integers(len(paths)))]
        others = [self.whole[other] for other in paths]
        path.write_bytes(mutate(self.whole[path], rng, others))
        yield Input(name, path, call, self.folder.name)
        path.write_bytes(self.whole[path])

    def open(self) -> None:
        """The study's own files: opened or refused."""
        open_study(self.folder)

    def read(self) -> str:
        """Results and findings: as written, or not believed."""
        back = read_results(self.study, self.folder / "results")
        findings = read_findings(self.study, self.folder / "results")
        if back is None:
            return "not believed"
        for name in ("swings", "posture", "events", "strike", "left_out", "quality"):
            pd.testing.assert_frame_equal(getattr(back, name), getattr(self.stored, name))
        return "read" if findings is None or repr(findings) == self.findings else "findings differ in silence"

    def read_kept(self) -> str:
        """A kept swing: as written, or not believed."""
        back = self.kept.read(self.job)
        if back is None:
            return "not believed"
        for name in ("posture", "events"):
            pd.testing.assert_frame_equal(getattr(back, name), getattr(self.measured, name))
        same = repr((back.strike, back.quality)) == repr((self.measured.strike, self.measured.quality))
        return "read" if same else "a kept swing differs in silence"


def inputs(number: int, seed: int, captures: str, scratch: Path) -> Iterator[Input]:
    """Damaged captures and damaged files of a study, mixed."""
    seeds = made_seeds()
    for path in sorted(Path(captures).glob("*.c3d")) if captures else ():
        seeds[path.name] = path.read_bytes()
    rng = np.random.default_rng(seed)
    stored = StoredStudy(scratch / "study")
    for name, data in damaged(seeds, number, seed):
        share = float(rng.random())
        kind = next((k for k, edge in enumerate(np.cumsum(SHARES)) if share < edge), None)
        if kind is not None:
            yield from stored.inputs(kind, rng)
            continue
        path = scratch / f"damaged{Path(name).suffix}"
        path.write_bytes(data)
        yield Input(path.suffix, path, lambda path=path: read_damaged(path), path.name)


def main() -> int:
    """Run; exit code 1 where anything misbehaved."""
    asked = options(20_000)
    scratch = Path(tempfile.mkdtemp())
    try:
        captures = asked.captures or os.environ.get("SWINGLAB_CAPTURES", "")
        return min(run(inputs(asked.number, asked.seed, captures, scratch), asked.seed, asked.seconds), 1)
    finally:
        shutil.rmtree(scratch)


if __name__ == "__main__":
    sys.exit(main())
