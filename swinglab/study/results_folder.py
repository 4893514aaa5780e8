"""The results folder on disk: written beside and moved into place whole; nothing of a person's is lost."""

from __future__ import annotations

import contextlib
import os
import shutil
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pandas as pd

from swinglab.answers.screen import ScreenAnswer
from swinglab.answers.screen_table import screen_table
from swinglab.answers.validation import validate_setup
from swinglab.errors import BadRequest
from swinglab.records import Finding, findings_table
from swinglab.study.csv_tables import table_path, write_table
from swinglab.study.file_hashes import hash_file, hash_files
from swinglab.study.opening import Study
from swinglab.study.results import Results, without_capture_names, without_posture_errors
from swinglab.study.run_options import code_commit, run_options
from swinglab.study.run_record import RUN, column_types, edited_outputs, read_record, run_record, write_record

TABLES = ("swing_table", "posture", "events", "strike", "left_out", "quality", "gate", "excluded_swings")
#: Tries to move a folder that another program holds for a moment, as a virus scanner or a sync client does.
_TRIES = 5
_PAUSE_S = 0.2

Page = Callable[[Study, Results, tuple[Finding, ...], Path], Any]


def check_writable(out: Path) -> None:
    """BadRequest where results cannot be written to this folder; called before anything is measured."""
    out = out.resolve()
    if out.exists() and not out.is_dir():
        raise BadRequest("this is a file, not a folder", file=out, do="name a folder with --out")
    if out.is_dir() and any(out.iterdir()) and not (out / RUN).exists():
        raise BadRequest(
            "the folder holds other files, which the results would replace", file=out,
            do="name an empty or a new folder with --out",
        )  # fmt: skip
    place = out if out.is_dir() else out.parent
    while not place.exists():
        place = place.parent
    try:
        # The rights alone do not show it: a file system may be read-only, full, or hold no files at all.
        with tempfile.TemporaryDirectory(prefix=".swinglab.", dir=place) as trial:
            (Path(trial) / "trial").write_bytes(bytes(65536))
    except OSError as error:
        raise BadRequest(
            f"results cannot be written here ({error.strerror or error})", file=out,
            do="free space there, or name another folder with --out",
        ) from error  # fmt: skip


def write_results(
    study: Study,
    results: Results,
    findings: tuple[Finding, ...],
    out: Path,
    *,
    also: tuple[Page, ...] = (),
    screens: tuple[ScreenAnswer, ...] = (),
) -> Path:
    """Write the results folder of a study, whole or not at all.

    Parameters
    ----------
    study, results, findings
        As measured and answered.
    out : path
        The folder; one that holds earlier results is replaced. Files that are not the kit's are kept, and a
        table that was edited since it was written is kept as ``<name>.edited.csv``.
    screens : tuple of ScreenAnswer
        What the study's screens found, for screen.csv.
    also : callables
        Called with (study, results, findings, folder) before the folder is moved into place: the report.

    Returns
    -------
    Path
        The folder.

    Raises
    ------
    BadRequest
        The folder cannot be written, holds files of another kind, or is in use by another program; then the
        new results stand beside it, and the message names the place.
    """
    out = Path(out)
    finish_interrupted(out)
    check_writable(out)
    try:
        with _whole_folder(out) as folder:
            _write_all(study, results, findings, folder, also, screens)
    except OSError as error:
        raise BadRequest(
            f"the results cannot be written ({error.strerror or error}); earlier ones are unchanged", file=out,
            do="free space there, or make the folder writable, and run the same command again",
        ) from error  # fmt: skip
    return out


def _write_all(
    study: Study,
    results: Results,
    findings: tuple[Finding, ...],
    folder: Path,
    also: tuple[Page, ...],
    screens: tuple[ScreenAnswer, ...],
) -> None:
    """Tables, pages and run.json, into a folder beside the one they will replace."""
    tables = {**_tables(study, results), "findings": findings_table(findings)}
    if screens:
        tables["screen"] = screen_table(screens, study.errors)
    if study.validation is not None:
        validated = validate_setup(results.swings, study.validation).table
        tables |= {} if validated.empty else {"validation": validated}
    for name, table in tables.items():
        write_table(table, table_path(folder, name, len(table)))
    left_out, quality = (without_capture_names(one, study) for one in (results.left_out, results.quality))
    named = replace(results, left_out=left_out, quality=quality)
    for page in also:
        page(study, named, findings, folder)
    files = {p.relative_to(folder).as_posix(): p for p in sorted(folder.rglob("*")) if p.is_file()}
    record = run_record(study, results) | {
        "outputs": hash_files(files),
        "types": {name: column_types(table) for name, table in tables.items()},
        "questions": len(study.questions),
        "options": run_options(study),
        "commit": code_commit(),
        # The one value that differs between two runs on the same inputs.
        "written": datetime.now(UTC).isoformat(timespec="seconds"),
    }
    write_record(folder, record)


def _tables(study: Study, results: Results) -> dict[str, pd.DataFrame]:
    tables = {
        "swing_table": without_posture_errors(results.swings),
        "excluded_swings": without_posture_errors(results.excluded),
        **{name: getattr(results, name) for name in TABLES[1:-1]},
    }
    return {name: without_capture_names(table, study) for name, table in tables.items()}


def edited_files(out: Path) -> list[str]:
    """Files of a results folder that a person changed since they were written, by their names in it."""
    record = read_record(Path(out))
    return [name for name in edited_outputs(Path(out), record) if (Path(out) / name).exists()]


# --- moved into place ----------------------------------------------------------------------------------------


@contextmanager
def _whole_folder(out: Path) -> Iterator[Path]:
    """A folder beside `out` that takes its place when all is written, and vanishes if anything fails."""
    out.parent.mkdir(parents=True, exist_ok=True)
    beside = Path(tempfile.mkdtemp(prefix=f".{out.name}.new.{os.getpid()}.", dir=out.parent))
    try:
        yield beside
        beside.chmod(0o755)
        _put_in_place(beside, out)
    except BaseException:
        shutil.rmtree(beside, ignore_errors=True)
        raise


def _waiting(out: Path) -> Path:
    """Where new results stand while the folder itself cannot be replaced."""
    return out.with_name(f"{out.name}.new")


def _put_in_place(beside: Path, out: Path) -> None:
    """Replace `out` by the folder beside it; where that fails the old one is there again."""
    _carry_over(out, beside)
    if not out.exists():
        beside.replace(out)
        return
    old = Path(tempfile.mkdtemp(prefix=f".{out.name}.old.{os.getpid()}.", dir=out.parent))
    try:
        _move(out, old / "results")
        try:
            _move(beside, out)
        except OSError:
            _move(old / "results", out)
            raise
    except OSError as error:
        with contextlib.suppress(OSError):
            old.rmdir()
        waiting = _waiting(out)
        if beside != waiting:
            if waiting.exists():
                shutil.rmtree(waiting)
            beside.replace(waiting)
        raise BadRequest(
            f"{_open_elsewhere(out)} is in use by another program ({error.strerror or error}), so the earlier results "
            f"stand and the new ones are in {waiting.name}", file=out,
            do="close it and run the same command again; nothing is measured twice",
        ) from error  # fmt: skip
    shutil.rmtree(old, ignore_errors=True)


def _move(source: Path, target: Path) -> None:
    for trial in range(_TRIES):
        try:
            source.replace(target)
            return
        except OSError:
            if trial == _TRIES - 1:
                raise
            time.sleep(_PAUSE_S)


def _open_elsewhere(out: Path) -> str:
    """The first of the kit's files that another program does not let go of; else the folder."""
    for name in read_record(out).get("outputs", {}):
        try:
            with (out / name).open("r+b"):
                pass
        except OSError:
            return str(name)
    return out.name


def _carry_over(old: Path, new: Path) -> None:
    """Keep what a person put among earlier results, and what they changed, as ``<name>.edited.csv``."""
    if not old.is_dir():
        return
    record = read_record(old)
    written = record.get("outputs", {})
    edited = set(edited_outputs(old, record))
    # What a person put there first, so that a table edited now gets a name of its own.
    for path in sorted(old.rglob("*"), key=lambda one: one.relative_to(old).as_posix() in edited):
        name = path.relative_to(old).as_posix()
        if not path.is_file() or name == RUN or (name in written and name not in edited):
            continue
        target = new / name
        if target.exists():
            if hash_file(target) == hash_file(path):
                continue
            target = _free_name(target)
        target.parent.mkdir(parents=True, exist_ok=True)
        # What a link leads to is not taken into the results: it may lie outside the study.
        shutil.copy2(path, target, follow_symlinks=False)


def _free_name(path: Path) -> Path:
    """<name>.edited.csv, or the next free number."""
    target = path.with_name(f"{path.stem}.edited{path.suffix}")
    number = 2
    while target.exists():
        target = path.with_name(f"{path.stem}.edited-{number}{path.suffix}")
        number += 1
    return target


# --- after a kill ---------------------------------------------------------------------------------------------


def finish_interrupted(out: Path) -> None:
    """Finish what a killed run left beside a results folder.

    Earlier results that were moved aside are moved back where none are in place; whole new results that
    waited for another program to close a file are put in place; half-written folders are removed.
    """
    out = Path(out)
    if not out.parent.is_dir():
        return
    for old in sorted(out.parent.glob(f".{out.name}.old.*")):
        if _is_abandoned(old):
            if not out.exists() and (old / "results").is_dir():
                (old / "results").replace(out)
            shutil.rmtree(old, ignore_errors=True)
    for beside in out.parent.glob(f".{out.name}.new.*"):
        if _is_abandoned(beside):
            shutil.rmtree(beside, ignore_errors=True)
    for trial in out.parent.glob(".swinglab.*"):
        if trial.is_dir() and time.time() - trial.stat().st_mtime > 3600:
            shutil.rmtree(trial, ignore_errors=True)
    waiting = _waiting(out)
    if read_record(waiting):
        _put_in_place(waiting, out)


def _is_abandoned(folder: Path) -> bool:
    """Whether the process that made a folder beside the results has ended."""
    number = folder.name.split(".")[-2]
    if not number.isdigit():
        return False
    if os.name == "nt" or int(number) == os.getpid():
        # Windows has no harmless way to ask for a process; this one's own folders are in use.
        return os.name == "nt" and time.time() - folder.stat().st_mtime > 3600
    try:
        os.kill(int(number), 0)
    except ProcessLookupError:
        return True
    except OSError:
        return False
    return False
