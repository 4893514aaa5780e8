"""A small study, measured, answered and written once for all tests of the report."""

from __future__ import annotations

from pathlib import Path

import pytest
from small_study import write_small_study

from swinglab.records import Finding
from swinglab.report import write_report
from swinglab.study import Results, Study, answer_study, measure_study, open_study, write_results


@pytest.fixture(scope="session")
def answered(tmp_path_factory: pytest.TempPathFactory) -> tuple[Study, Results, tuple[Finding, ...], Path]:
    """A small study with hostile names: as opened, measured, answered, and its results folder."""
    folder = write_small_study(tmp_path_factory.mktemp("page") / "s")
    study = open_study(folder)
    results = measure_study(study, workers=1)
    findings = answer_study(study, results)
    out = write_results(study, results, findings, folder / "results", also=(write_report,))
    return study, results, findings, out
