"""run.json: what a run was made from and with, so that its numbers can be vouched for later."""

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
#: What each kind of result depends on: parts of this package's source, and packages.
STAGES = {
    "measuring": (MEASURING, MEASURING_PACKAGES),
    "answering": (ANSWERING, (*MEASURING_PACKAGES, "statsmodels")),
    "reporting": (REPORTING, ("matplotlib",)),
}


def package_versions(names: tuple[str, ...] = PACKAGES) -> dict[str, str]:
    """Installed versions, "not installed" where there is none."""
    return {name: _version(name) for name in names}


@cache
def _version(name: str) -> str:
    """Reading a package's description takes milliseconds, and every kept swing asks for it."""
    try:
        return version(name)
    except PackageNotFoundError:
        return str(swinglab.__version__) if name == "swinglab" else "not installed"


def measured_with() -> dict[str, str]:
    """What a swing's numbers depend on besides its inputs: the kit's measuring source, and packages."""
    return {"swinglab's source": source_hash(MEASURING)[:16], **package_versions(MEASURING_PACKAGES)}


def run_record(study: Study, results: Results) -> dict[str, Any]:
    """Versions, source hashes, and the sha256 of every input as it was read.

    The study's own files are hashed as it was opened, each capture as its swing was measured; names of
    captures are not written, only the swings they belong to.
    """
    return {
        "title": study.title,
        "python": platform.python_version(),
        "packages": package_versions(),
        "source": {stage: source_hash(parts) for stage, (parts, _) in STAGES.items()},
        "inputs": dict(sorted({**study.inputs, **results.inputs}.items())),
    }


def inputs_now(study: Study, names: Mapping[str, Any]) -> dict[str, str]:
    """sha256 of the same inputs as they are on disk now; a file that is gone has no entry."""
    paths = input_paths(study)
    return hash_files({name: paths.get(name, study.folder / name) for name in names})


def changed_during_run(study: Study, results: Results) -> list[str]:
    """Names of inputs that are no longer as they were read for these results."""
    read = {**study.inputs, **results.inputs}
    now = inputs_now(study, read)
    return sorted(name for name, digest in read.items() if now.get(name) != digest)


def input_paths(study: Study) -> dict[str, Path]:
    """Where the captures of a study lie, by their names in run.json."""
    paths = {capture_name(swing): path for swing, path in study.captures.items()}
    paths |= {neutral_name(golfer): path for golfer, path in (study.neutral or {}).items()}
    paths |= {static_name(golfer): path for golfer, path in study.static.items()}
    return paths


def capture_name(swing: str) -> str:
    """How results name a capture: by its swing, since file names may hold names of people."""
    return f"capture of {swing}"


def neutral_name(golfer: str) -> str:
    """How results name a neutral capture: by its golfer."""
    return f"neutral capture of {golfer}"


def static_name(golfer: str) -> str:
    """How results name a static calibration capture: by its golfer."""
    return f"static capture of {golfer}"


def column_types(table: pd.DataFrame) -> dict[str, str]:
    """number, whole, yes_no or text for each column, so that reading back does not guess from the content."""
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
    """Write run.json, sealed."""
    sealed = {**record, "seal": seal(_plain(record)).hex()}
    (folder / RUN).write_text(json.dumps(sealed, indent=1, ensure_ascii=False) + "\n", encoding="utf-8")


def read_record(folder: Path) -> dict[str, Any]:
    """A folder's run.json; empty where there is none or it is damaged."""
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
    """Whether this account wrote the record, and nothing in it has changed since."""
    found = str(record.get("seal", ""))
    rest = {name: value for name, value in record.items() if name != "seal"}
    return is_sealed(_plain(rest), bytes.fromhex(found) if _HEX.fullmatch(found) else b"")


def _plain(record: Mapping[str, Any]) -> bytes:
    """A record as the bytes that are sealed."""
    return json.dumps(record, sort_keys=True).encode()


def edited_outputs(folder: Path, record: Mapping[str, Any]) -> list[str]:
    """Files of a results folder that differ from what was written; a missing one counts."""
    written = record.get("outputs", {})
    now = hash_files({name: folder / name for name in written})
    return [name for name, digest in written.items() if now.get(name) != digest]
