"""Results on disk: written beside, moved into place whole, and read back while they still hold."""

from __future__ import annotations

import hashlib
import json
import platform
import shutil
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import Any

import pandas as pd

import swinglab
from swinglab.errors import BadRequest
from swinglab.records import Finding, findings_table
from swinglab.study.csv_tables import write_table
from swinglab.study.events_by_hand import FILE as BY_HAND
from swinglab.study.opening import Study
from swinglab.study.results import Results, without_posture_errors

RUN = "run.json"
PACKAGES = ("swinglab", "numpy", "scipy", "pandas", "statsmodels", "matplotlib", "seaborn", "c3d")
TABLES = ("swing_table", "posture", "events", "strike", "left_out", "quality")

Page = Callable[[Study, Results, tuple[Finding, ...], Path], Any]


def check_writable(out: Path) -> None:
    """BadRequest where results cannot be written to this folder; called before anything is measured."""
    out = out.resolve()
    if out.exists() and not out.is_dir():
        raise BadRequest("this is a file, not a folder", file=out, do="name a folder with --out")
    if out.is_dir() and any(out.iterdir()) and not (out / RUN).exists():
        raise BadRequest(
            "the folder holds other files, which results would displace", file=out,
            do="name an empty or a new folder with --out",
        )  # fmt: skip
    place = out if out.is_dir() else out.parent
    while not place.exists():
        place = place.parent
    try:
        # The rights alone do not tell: a file system may be read-only, full, or none for files at all.
        tempfile.TemporaryDirectory(prefix=".swinglab.", dir=place).cleanup()
    except OSError as error:
        raise BadRequest(
            f"results cannot be written here ({error.strerror or error})", file=out,
            do="name another folder with --out",
        ) from error  # fmt: skip


def run_record(study: Study) -> dict[str, Any]:
    """Versions, and the sha256 of every input file, by its name in the study folder."""
    packages: dict[str, str] = {}
    for name in PACKAGES:
        try:
            packages[name] = version(name)
        except PackageNotFoundError:
            packages[name] = str(swinglab.__version__) if name == "swinglab" else "not installed"
    files = [study.folder / name for name in ("study.toml", "golfers.csv", "swings.csv", BY_HAND)]
    files += [*study.captures.values(), *(study.neutral or {}).values()]
    inputs = {study.shown(path): _sha256(path) for path in dict.fromkeys(files) if path.exists()}
    return {
        "title": study.title,
        "python": platform.python_version(),
        "packages": packages,
        "inputs": dict(sorted(inputs.items())),
    }


def _sha256(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def write_results(
    study: Study,
    results: Results,
    findings: tuple[Finding, ...],
    out: Path,
    *,
    also: tuple[Page, ...] = (),
) -> Path:
    """Write the results folder of a study, whole or not at all.

    Parameters
    ----------
    study, results, findings
        As measured and answered.
    out : path
        The folder; one that holds earlier results is replaced, files that are not the kit's are kept.
    also : callables
        Called with (study, results, findings, folder) before the folder is moved into place: the report.

    Returns
    -------
    Path
        The folder.

    Raises
    ------
    BadRequest
        The folder cannot be written, or holds files of another kind.
    """
    out = Path(out)
    check_writable(out)
    with _whole_folder(out) as folder:
        tables = {**_tables(results), "findings": findings_table(findings)}
        for name, table in tables.items():
            write_table(table, folder / f"{name}.csv")
        for page in also:
            page(study, results, findings, folder)
        files = sorted(p.relative_to(folder).as_posix() for p in folder.rglob("*") if p.is_file())
        record = run_record(study) | {"files": [*files, RUN]}
        text = json.dumps(record, indent=1, ensure_ascii=False) + "\n"
        (folder / RUN).write_text(text, encoding="utf-8")
    return out


def _tables(results: Results) -> dict[str, pd.DataFrame]:
    return {
        "swing_table": without_posture_errors(results.swings),
        **{name: getattr(results, name) for name in TABLES[1:]},
    }


@contextmanager
def _whole_folder(out: Path) -> Iterator[Path]:
    """A folder beside `out` that takes its place when all is written, and vanishes if anything fails."""
    out.parent.mkdir(parents=True, exist_ok=True)
    beside = Path(tempfile.mkdtemp(prefix=f".{out.name}.new.", dir=out.parent))
    try:
        yield beside
        _keep_foreign_files(out, beside)
        beside.chmod(0o755)
        if out.exists():
            old = Path(tempfile.mkdtemp(prefix=f".{out.name}.old.", dir=out.parent))
            out.replace(old / "results")
            beside.replace(out)
            shutil.rmtree(old)
        else:
            beside.replace(out)
    except BaseException:
        shutil.rmtree(beside, ignore_errors=True)
        raise


def _keep_foreign_files(old: Path, new: Path) -> None:
    """Carry over what a user put among earlier results."""
    if not (old / RUN).exists():
        return
    own = set(json.loads((old / RUN).read_text(encoding="utf-8")).get("files", []))
    for path in old.rglob("*"):
        name = path.relative_to(old).as_posix()
        if path.is_file() and name not in own and not (new / name).exists():
            (new / name).parent.mkdir(parents=True, exist_ok=True)
            shutil.copy2(path, new / name)
