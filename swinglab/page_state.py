"""The figure that a notebook page shows until its panels are loaded, and the state of the files behind it."""

from __future__ import annotations

import json
from pathlib import Path

#: Environment variable with the path of the file of the figure (see `write_first_page`), for JupyterLab's server.
VARIABLE = "SWINGLAB_FIRST_PAGE"
_RECORDS = ("results/run.json", "notebooks/measured/run.json")

State = dict[str, list[int]]


def state_of_inputs(study: Path) -> State:
    """Return path -> [size, time of last change (ns)] of every input file of a study: its own files and captures."""
    names = [path for path in study.iterdir() if path.is_file()]
    return _state(study, [*names, *(path for path in (study / "captures").rglob("*") if path.is_file())])


def state_of_records(study: Path) -> State:
    """Return path -> [size, time of last change (ns)] of each run.json of a study's stored results."""
    return _state(study, [study / name for name in _RECORDS if (study / name).is_file()])


def _state(study: Path, paths: list[Path]) -> State:
    states = {path.relative_to(study).as_posix(): path.stat() for path in paths}
    return {name: [state.st_size, state.st_mtime_ns] for name, state in states.items()}


def write_first_page(path: Path, study: Path, html: str, state: State) -> None:
    """Write the HTML that a page shows first, with the state of the study's files for which it is valid, as JSON.

    Parameters
    ----------
    path : Path
        The file to write.
    study : Path
        The study folder.
    html : str
        The HTML.
    state : dict
        The results of `state_of_inputs` and `state_of_records`, merged into one dict.
    """
    beside = path.with_suffix(".part")
    holds = {"study": str(study.resolve()), "html": html, "state": state}
    beside.write_text(json.dumps(holds), encoding="utf-8")
    beside.replace(path)


def first_page_now(path: Path) -> str:
    """Return the HTML stored by `write_first_page`; empty if the file is missing or a file of the study has changed."""
    if not path.is_file():
        return ""
    first = json.loads(path.read_text(encoding="utf-8"))
    study = Path(first["study"])
    return str(first["html"]) if state_of_inputs(study) | state_of_records(study) == first["state"] else ""
