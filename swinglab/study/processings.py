"""Measuring a study with alternative filters, event times and joint centres, for specification curves."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from swinglab.errors import SwinglabError
from swinglab.records import Hunch
from swinglab.study.measuring import Progress, measure_study
from swinglab.study.opening import Study
from swinglab.study.results import Results
from swinglab.study.swing import job_for, measure_job

#: Alternative cut-off frequencies for body points, in Hz: common practice, no source.
CUTOFFS_HZ = (6.0, 10.0, 15.0)
#: Shift of the events, earlier and later, in s: three frames at 300 Hz, by judgement.
SHIFTS_S = (-0.01, 0.01)
#: Alternative regressions for the hip joint centres.
HIP_METHODS = {"bell": "Bell 1990", "hara": "Hara 2016"}
#: Number of swings used to test whether a way of processing changes a question's posture.
_TRIED = 3


def measure_processings(
    study: Study,
    results: Results,
    hunches: Sequence[Hunch],
    *,
    workers: int | None = None,
    progress: Progress | None = None,
    cache: Path | None = None,
) -> tuple[dict[str, pd.DataFrame], list[str]]:
    """Measure a study again with other filter cut-offs, event times or hip joint centres; return the swing tables.

    A way of processing is the study's own settings with one of these three changed.

    Parameters
    ----------
    study : Study
    results : Results
        The study measured with its own settings.
    hunches : sequence of Hunch
        Only ways of processing that change the posture of at least one of these hunches are measured.
    workers, progress
        As for `measure_study`.
    cache : Path, optional
        Folder with stored swings; swings stored there from the same inputs are not measured again.

    Returns
    -------
    tables : dict
        Name of the way of processing -> its swing table. The first is `results.swings`, with the study's own settings;
        there are at most eight tables.
    unchanged : list of str
        Names of the ways of processing that were not measured, because they do not change the posture of any hunch.
    """
    own = study.setup.body_cutoff_hz
    words = "cut-off by residual analysis" if own == "residual" else f"cut-off {own:g} Hz"
    tables, unchanged = {words: results.swings}, []
    for name, change in _ways(study):
        other = replace(study, setup=replace(study.setup, **change))
        if not _changes_a_posture(study, other, hunches):
            unchanged.append(name)
            continue
        tables[name] = measure_study(other, workers=workers, progress=progress, cache=cache).swings
    return tables, unchanged


def _ways(study: Study) -> Iterator[tuple[str, dict[str, Any]]]:
    for cutoff in CUTOFFS_HZ:
        if cutoff != study.setup.body_cutoff_hz:
            yield f"cut-off {cutoff:g} Hz", {"body_cutoff_hz": cutoff}
    for shift in SHIFTS_S:
        yield f"read {1e3 * abs(shift):.0f} ms {'later' if shift > 0 else 'earlier'}", {"read_later_s": shift}
    for method, words in HIP_METHODS.items():
        yield f"hip centres by {words}", {"hip_method": method}


def _changes_a_posture(study: Study, other: Study, hunches: Sequence[Hunch]) -> bool:
    """Return whether other settings change the posture of a hunch in any of the first three measurable swings."""
    asked = {(h.posture, h.event) for h in hunches}
    compared = 0
    for swing in study.swings["swing"]:
        try:
            one, two = (measure_job(job_for(each, str(swing))).posture for each in (study, other))
        except SwinglabError:
            continue
        if one is None or two is None:
            continue
        compared += 1
        wanted = [pair in asked for pair in zip(one["quantity"], one["event"], strict=True)]
        if not np.allclose(one["value"][wanted], two["value"][wanted], rtol=0, atol=1e-9, equal_nan=True):
            return True
        if compared == _TRIED:
            return False
    return False
