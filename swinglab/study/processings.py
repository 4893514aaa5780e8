"""A study measured in several ways of processing, for the answer under every choice."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pandas as pd

from swinglab.study.measuring import Progress, measure_study
from swinglab.study.opening import Study
from swinglab.study.results import Results

#: Cut-off frequencies for body points beside the study's own, in Hz: common practice, no source.
CUTOFFS_HZ = (6.0, 10.0, 15.0)


def measure_processings(
    study: Study,
    results: Results,
    *,
    workers: int | None = None,
    progress: Progress | None = None,
    cache: Path | None = None,
) -> dict[str, pd.DataFrame]:
    """Swing tables by way of processing: the study's own first, then with each of `CUTOFFS_HZ` for body points.

    Swings that are kept in `cache` from the same inputs are not measured again.
    """
    own = study.setup.body_cutoff_hz
    words = "cut-off by residual analysis" if own == "residual" else f"cut-off {own:g} Hz"
    tables = {words: results.swings}
    for cutoff in CUTOFFS_HZ:
        if cutoff == own:
            continue
        other = replace(study, setup=replace(study.setup, body_cutoff_hz=cutoff))
        measured = measure_study(other, workers=workers, progress=progress, cache=cache)
        tables[f"cut-off {cutoff:g} Hz"] = measured.swings
    return tables
