"""Atomic writing of the results folder: a new folder is built and then replaces the old one; users' files are kept."""

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
#: Attempts to move a folder that another program, such as a virus scanner or sync client, uses for a moment.
_TRIES = 5
_PAUSE_S = 0.2

Page = Callable[[Study, Results, tuple[Finding, ...], Path], Any]


def check_writable(out: Path) -> None:
    """Raise BadRequest if results cannot be written to the folder `out`; called before anything is measured."""
    out = out.resolve()
    if out.exists() and not out.is_dir():
        raise BadRequest(
            "the place for the results is a file, not a folder", file=out, do="give a folder with --out"
        )
    if out.is_dir() and any(out.iterdir()) and not (out / RUN).exists():
        raise BadRequest(
            "the folder contains files that are not results of swinglab, so it cannot become a results folder",
            file=out,
            do="give an empty or a new folder with --out",
        )  # fmt: skip
    place = out if out.is_dir() else out.parent
    while not place.exists():
        place = place.parent
    try:
        # Permissions are not enough: a file system may be read-only or full.
        with tempfile.TemporaryDirectory(prefix=".swinglab.", dir=place) as trial:
            (Path(trial) / "trial").write_bytes(bytes(65536))
    except OSError as error:
        raise BadRequest(
            f"results cannot be written to this folder ({error.strerror or error})",
            file=out,
            do="free space on its disk, or give another folder with --out",
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
    """Write the results folder of a study, completely or not at all.

    Parameters
    ----------
    study, results, findings
        From `open_study`, `measure_study` and `answer_study`.
    out : path
        The results folder; earlier results in it are replaced. Files that a user added to it are kept. A table that was
        edited after swinglab wrote it is kept as ``<name>.edited.csv``.
    screens : tuple of ScreenAnswer
        Results of the study's screens, for screen.csv.
    also : callables
        Functions that write further files, such as the report. Each is called with (study, results, findings, folder),
        where folder is the new folder before it replaces `out`.

    Returns
    -------
    Path
        The folder.

    Raises
    ------
    BadRequest
        The folder cannot be written, contains files that are not results, or is in use by another program. In the last
        case the new results are stored in a folder next to `out`, which the message names.
    """
    out = Path(out)
    finish_interrupted(out)
    check_writable(out)
    try:
        with _whole_folder(out) as folder:
            _write_all(study, results, findings, folder, also, screens)
    except OSError as error:
        raise BadRequest(
            f"the results cannot be written ({error.strerror or error}); earlier results are unchanged",
            file=out,
            do="free space on the disk, or make the folder writable, and run the same command again",
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
    """Write the tables, the files of `also` and run.json into the folder that will replace the results."""
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
    """Return the names of files in a results folder that were edited after swinglab wrote them."""
    record = read_record(Path(out))
    return [name for name in edited_outputs(Path(out), record) if (Path(out) / name).exists()]


# --- moved into place ----------------------------------------------------------------------------------------


@contextmanager
def _whole_folder(out: Path) -> Iterator[Path]:
    """Provide a temporary folder next to `out` that replaces it on success and is removed on failure."""
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
    """Return where new results are stored while `out` is in use by another program."""
    return out.with_name(f"{out.name}.new")


def _put_in_place(beside: Path, out: Path) -> None:
    """Replace `out` by the new folder; if that fails, restore the old one."""
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
                        f"are unchanged and the new ones are in {waiting.name}", file=out,
                        do="close that program and run the same command again; the swings need not be measured again",
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
    """Return the name of the first of swinglab's files that another program keeps open, else of the folder."""
    for name in read_record(out).get("outputs", {}):
        try:
            with (out / name).open("r+b"):
                pass
        except OSError:
            return str(name)
    return out.name


def _carry_over(old: Path, new: Path) -> None:
    """Copy files that a user added to earlier results, and edited tables as ``<name>.edited.csv``."""
    if not old.is_dir():
        return
    record = read_record(old)
    written = record.get("outputs", {})
    edited = set(edited_outputs(old, record))
    # Users' own files first, so that an edited table does not take one of their names.
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
        # Targets of symbolic links are not copied into the results: they may be outside the study.
        shutil.copy2(path, target, follow_symlinks=False)


def _free_name(path: Path) -> Path:
    """Return a path next to `path` that is free: ``<name>.edited.csv``, or ``<name>.edited-2.csv`` and so on."""
    target = path.with_name(f"{path.stem}.edited{path.suffix}")
    number = 2
    while target.exists():
        target = path.with_name(f"{path.stem}.edited-{number}{path.suffix}")
        number += 1
    return target


# --- after a kill ---------------------------------------------------------------------------------------------


def finish_interrupted(out: Path) -> None:
    """Remove or complete the temporary folders that an interrupted run left next to a results folder.

    If the results folder is missing, the earlier results are restored. New results that are complete, but could
    not replace the old ones because another program used a file, replace them now. Incomplete folders are removed.

    Raises
    ------
    BadRequest
        The results folder is still in use by another program.
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
    """Return whether the process that created a temporary folder has ended."""
    number = folder.name.split(".")[-2]
    if not number.isdigit():
        return False
    if os.name == "nt" or int(number) == os.getpid():
        # On Windows a process cannot be tested without ending it, so the folder's age decides. Folders of this process
        # are in use.
        return os.name == "nt" and time.time() - folder.stat().st_mtime > 3600
    try:
        os.kill(int(number), 0)
    except ProcessLookupError:
        return True
    except OSError:
        return False
    return False
