"""The record of a run, run.json: hashes of inputs and software versions, so that numbers can be verified later."""

from __future__ import annotations

import json
import platform
import re
from collections.abc import Mapping
from functools import cache
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import Any

import pandas as pd

import swinglab
from swinglab.study.file_hashes import ANSWERING, MEASURING, REPORTING, hash_files, source_hash
from swinglab.study.opening import Study
from swinglab.study.results import Results
from swinglab.study.seal import is_sealed, seal

RUN, PAGE = "run.json", "report.html"
_HEX = re.compile("([0-9a-f]{2})*")
PACKAGES = ("swinglab", "numpy", "scipy", "pandas", "statsmodels", "matplotlib", "c3d")
#: Packages that measured numbers depend on.
MEASURING_PACKAGES = ("numpy", "scipy", "pandas", "c3d")
#: Parts of this package's source, and packages, that each kind of result depends on.
STAGES = {
    "measuring": (MEASURING, MEASURING_PACKAGES),
    "answering": (ANSWERING, (*MEASURING_PACKAGES, "statsmodels")),
    "reporting": (REPORTING, ("matplotlib",)),
}


def package_versions(names: tuple[str, ...] = PACKAGES) -> dict[str, str]:
    """Return package -> installed version, or "not installed"."""
    return {name: _version(name) for name in names}


@cache
def _version(name: str) -> str:
    """Return a package's version; cached, because reading it takes milliseconds and every stored swing needs it."""
    try:
        return version(name)
    except PackageNotFoundError:
        return str(swinglab.__version__) if name == "swinglab" else "not installed"


def measured_with() -> dict[str, str]:
    """Return the hash of the source code that measures swings, and the versions of the packages that it uses.

    A swing's numbers depend on these and on its inputs.
    """
    return {"swinglab's source": source_hash(MEASURING)[:16], **package_versions(MEASURING_PACKAGES)}


def run_record(study: Study, results: Results) -> dict[str, Any]:
    """Return the record of a run: versions, hashes of source code, and the SHA-256 of every input when it was read.

    The study's own files are hashed when it is opened, each capture when its swing is measured. Captures are named
    by their swing, because their file names may contain people's names.
    """
    return {
        "title": study.title,
        "python": platform.python_version(),
        "packages": package_versions(),
        "source": {stage: source_hash(parts) for stage, (parts, _) in STAGES.items()},
        "inputs": dict(sorted({**study.inputs, **results.inputs}.items())),
    }


def inputs_now(study: Study, names: Mapping[str, Any]) -> dict[str, str]:
    """Return input -> SHA-256 of the file as it is now; an input whose file no longer exists is left out.

    names : inputs by their names in run.json, such as swings.csv or "capture of SWING".
    """
    paths = input_paths(study)
    return hash_files({name: paths.get(name, study.folder / name) for name in names})


def changed_during_run(study: Study, results: Results) -> list[str]:
    """Return the names of inputs that have changed since they were read for these results."""
    read = {**study.inputs, **results.inputs}
    now = inputs_now(study, read)
    return sorted(name for name, digest in read.items() if now.get(name) != digest)


def input_paths(study: Study) -> dict[str, Path]:
    """Return name in run.json -> path, for each capture of a study."""
    paths = {capture_name(swing): path for swing, path in study.captures.items()}
    paths |= {neutral_name(golfer): path for golfer, path in (study.neutral or {}).items()}
    paths |= {static_name(golfer): path for golfer, path in study.static.items()}
    return paths


def capture_name(swing: str) -> str:
    """Return the name of a swing's capture in the results, "capture of SWING".

    Names of files are not used, because they may contain people's names.
    """
    return f"capture of {swing}"


def neutral_name(golfer: str) -> str:
    """Return the name of a golfer's neutral capture in the results, "neutral capture of GOLFER"."""
    return f"neutral capture of {golfer}"


def static_name(golfer: str) -> str:
    """Return the name of a golfer's static calibration capture in the results, "static capture of GOLFER"."""
    return f"static capture of {golfer}"


def column_types(table: pd.DataFrame) -> dict[str, str]:
    """Return column -> type of its values: number (float), whole (integer), yes_no (true or false) or text.

    They are stored, so that types need not be guessed when the table is read again.
    """
    types = {}
    for name, kind in table.dtypes.items():
        if pd.api.types.is_bool_dtype(kind):
            types[str(name)] = "yes_no"
        elif pd.api.types.is_integer_dtype(kind):
            types[str(name)] = "whole"
        else:
            types[str(name)] = "number" if pd.api.types.is_numeric_dtype(kind) else "text"
    return types


def write_record(folder: Path, record: Mapping[str, Any]) -> None:
    """Write the record of a run to run.json in a folder, with a seal that shows later edits."""
    sealed = {**record, "seal": seal(_plain(record)).hex()}
    (folder / RUN).write_text(json.dumps(sealed, indent=1, ensure_ascii=False) + "\n", encoding="utf-8")


def read_record(folder: Path) -> dict[str, Any]:
    """Return the record in a folder's run.json; an empty dict if there is no file or it is damaged."""
    if not (folder / RUN).is_file():
        return {}
    try:
        found = json.loads((folder / RUN).read_text(encoding="utf-8"))
    except (OSError, ValueError, RecursionError):
        return {}
    parts = ("inputs", "outputs", "packages", "source", "types")
    whole = isinstance(found, dict) and all(isinstance(found.get(part), dict) for part in parts)
    return found if whole else {}


def is_own_record(record: Mapping[str, Any]) -> bool:
    """Return whether a record was written by this user account and has not been edited since."""
    found = str(record.get("seal", ""))
    rest = {name: value for name, value in record.items() if name != "seal"}
    return is_sealed(_plain(rest), bytes.fromhex(found) if _HEX.fullmatch(found) else b"")


def _plain(record: Mapping[str, Any]) -> bytes:
    """Return a record as the bytes to seal."""
    return json.dumps(record, sort_keys=True).encode()


def edited_outputs(folder: Path, record: Mapping[str, Any]) -> list[str]:
    """Return the names of files in a results folder that were edited or removed after they were written.

    record : the folder's run.json.
    """
    written = record.get("outputs", {})
    now = hash_files({name: folder / name for name in written})
    return [name for name, digest in written.items() if now.get(name) != digest]
