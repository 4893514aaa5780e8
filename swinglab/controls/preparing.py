"""Loading of libraries and stored results in a waiting kernel, so that a notebook's first figure appears sooner."""

from __future__ import annotations

from importlib import import_module
from io import BytesIO
from pathlib import Path
from typing import NamedTuple

from matplotlib.figure import Figure

from swinglab import study as studies
from swinglab.errors import SwinglabError
from swinglab.records import Finding


class Prepared(NamedTuple):
    """Stored results and answers of a study that were read before a notebook needed them.

    `record` is the digest of their run.json; it shows later whether they are still valid.
    """

    record: str
    results: studies.Results
    findings: tuple[Finding, ...]


_PREPARED: dict[Path, Prepared] = {}


def prepare() -> None:
    """Load libraries that are otherwise loaded at first use: scipy's distributions, fonts, and figure drawing.

    Then read the stored results of the study whose folder contains the kernel's folder, if they are still valid.
    """
    import_module("scipy.stats")
    figure = Figure(figsize=(2.0, 2.0), layout="constrained")
    ax = figure.subplots()
    ax.plot([0, 1], [0, 1], "o-", label="one")
    ax.set_xlabel("angle (deg)")
    ax.legend()
    figure.savefig(BytesIO(), format="png")
    folder = study_nearby(Path.cwd())
    try:
        if folder is not None:
            prepare_study(studies.open_study(folder))
    except SwinglabError:
        return  # the notebook opens the study itself and shows what is wrong with it


def study_nearby(start: Path) -> Path | None:
    """Return the first of this folder and its parents that contains study.toml; None if there is none."""
    for folder in (start, *start.parents):
        if (folder / "study.toml").is_file():
            return folder
    return None


def prepare_study(study: studies.Study) -> None:
    """Read a study's stored results and answers if they are still valid; nothing is measured."""
    record = studies.holding_record(study)
    if record:
        results = studies.load_or_measure(study)
        _PREPARED[study.folder.resolve()] = Prepared(record, results, studies.load_or_answer(study, results))


def prepared_results(study: studies.Study) -> Prepared | None:
    """Return the results that `prepare_study` read, and forget them.

    None if nothing was read, or if the inputs, the code or the stored results have changed since.
    """
    prepared = _PREPARED.pop(study.folder.resolve(), None)
    return prepared if prepared is not None and prepared.record == studies.holding_record(study) else None
