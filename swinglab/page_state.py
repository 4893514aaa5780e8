"""The picture that a page may show before its controls are there, and the state of the files it was drawn from."""

from __future__ import annotations

import json
from pathlib import Path

#: Environment variable that names the file of the picture to JupyterLab's server.
VARIABLE = "SWINGLAB_FIRST_PAGE"
_RECORDS = ("results/run.json", "notebooks/measured/run.json")

State = dict[str, list[int]]


def state_of_inputs(study: Path) -> State:
    """Size and time of change of every file that a study's results come from."""
    names = [path for path in study.iterdir() if path.is_file()]
    return _state(study, [*names, *(path for path in (study / "captures").rglob("*") if path.is_file())])


def state_of_records(study: Path) -> State:
    """Size and time of change of the records of stored results."""
    return _state(study, [study / name for name in _RECORDS if (study / name).is_file()])


def _state(study: Path, paths: list[Path]) -> State:
    states = {path.relative_to(study).as_posix(): path.stat() for path in paths}
    return {name: [state.st_size, state.st_mtime_ns] for name, state in states.items()}


def write_first_page(path: Path, study: Path, html: str, state: State) -> None:
    """Write what a page may show first, and the state of the study's files for which it holds."""
    beside = path.with_suffix(".part")
    holds = {"study": str(study.resolve()), "html": html, "state": state}
    beside.write_text(json.dumps(holds), encoding="utf-8")
    beside.replace(path)


def first_page_now(path: Path) -> str:
    """The HTML of that file; empty where there is none, or where a file of the study is other than it was."""
    if not path.is_file():
        return ""
    first = json.loads(path.read_text(encoding="utf-8"))
    study = Path(first["study"])
    return str(first["html"]) if state_of_inputs(study) | state_of_records(study) == first["state"] else ""
