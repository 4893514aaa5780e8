"""What every notebook of the kit loads before its first picture, loaded before a notebook asks for it."""

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
    """Results and answers read back before a notebook asked for them, with the digest of their record."""

    record: str
    results: studies.Results
    findings: tuple[Finding, ...]


_PREPARED: dict[Path, Prepared] = {}


def prepare() -> None:
    """Load what is loaded only when first used: distributions, fonts and the drawing of a figure with its words.

    Then the stored results of the study whose folder holds the kernel's, where they hold.
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
    """The nearest folder, from here upward, that is a study."""
    for folder in (start, *start.parents):
        if (folder / "study.toml").is_file():
            return folder
    return None


def prepare_study(study: studies.Study) -> None:
    """Read a study's stored results and answers back, where they hold; nothing is measured."""
    record = studies.holding_record(study)
    if record:
        results = studies.load_or_measure(study)
        _PREPARED[study.folder.resolve()] = Prepared(record, results, studies.load_or_answer(study, results))


def prepared_results(study: studies.Study) -> Prepared | None:
    """What was read back before, given away once; None where another run, code or input has come since."""
    prepared = _PREPARED.pop(study.folder.resolve(), None)
    return prepared if prepared is not None and prepared.record == studies.holding_record(study) else None
