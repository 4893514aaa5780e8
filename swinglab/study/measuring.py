"""Measuring all swings of a study in one or several processes; unreadable captures are reported."""

from __future__ import annotations

import multiprocessing
import os
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import Executor
from dataclasses import replace
from functools import partial
from pathlib import Path

import pandas as pd

from swinglab.errors import BadRequest, MissingInput, StudyFaults, SwinglabError
from swinglab.study.cluster import measure_on_cluster, measure_with_executor
from swinglab.study.excluded_by_hand import FILE as EXCLUDED
from swinglab.study.excluded_by_hand import apply_exclusions
from swinglab.study.gate import check_same_lengths, gate_table, quality_columns
from swinglab.study.long_table import LongTable, SwingRows
from swinglab.study.opening import Study
from swinglab.study.results import LEFT_OUT_COLUMNS, Results, swing_table
from swinglab.study.run_record import measured_with
from swinglab.study.swing import Job, Measured, Reason, jobs_for, measure_job
from swinglab.study.swing_cache import SwingCache
from swinglab.study.worker_pool import UNGUARDED, measure_in_processes

#: With fewer swings than this, all are measured in this process, because starting others would take longer.
FEW_SWINGS = 12

#: Called after each swing: swings done, swings in all, the swing's name.
Progress = Callable[[int, int, str], None]


class NothingMeasured(StudyFaults):
    """Error raised if no swing of a study was measured.

    Its tables `gate` and `left_out` contain the reasons, in the columns of the same tables of `Results`.
    """

    def __init__(
        self, faults: Iterable[SwinglabError], *, file: object, gate: pd.DataFrame, left_out: pd.DataFrame
    ) -> None:
        super().__init__(faults, file=file)
        self.gate, self.left_out = gate, left_out


def measure_study(
    study: Study,
    *,
    workers: int | None = None,
    scheduler: str | None = None,
    executor: Executor | None = None,
    progress: Progress | None = None,
    cache: Path | None = None,
) -> Results:
    """Measure every swing of a study and return the tables of results.

    Parameters
    ----------
    study : Study
    workers : int, optional
        Number of processes; by default the number of cores, but fewer than 12 swings are measured in this process.
    scheduler : str, optional
        Address of a Dask scheduler on a trusted network (needs the extra ``swinglab[cluster]``).
    executor : concurrent.futures.Executor, optional
        Used instead of processes on this computer, for example on a cluster; its workers must be able to read the same
        files.
    progress : callable, optional
        Called with (swings done, swings in all, swing) after each swing.
    cache : Path, optional
        Folder in which each swing is stored as soon as it is measured. A swing stored there from the same inputs is not
        measured again, so an interrupted run continues where it stopped. By default nothing is stored.

    Returns
    -------
    Results

    Raises
    ------
    StudyFaults
        No swing could be measured, or all measured swings are excluded by hand; the message gives the reasons.
    BadRequest
        Worker processes could not start, for example in a script without ``if __name__ == "__main__":``; the scheduler
        or executor failed; or a worker has another version of swinglab or of its packages.
    """
    left = _excluded_in_the_table(study)
    out = {row[0] for row in left}
    jobs = [job for job in jobs_for(study) if job.swing not in out]
    done: dict[str, Measured] = {}
    tables = _Tables()
    for measured in _known_or_measured(
        jobs, partial(_run, workers, scheduler, executor), None if cache is None else SwingCache(cache)
    ):
        done[measured.swing] = tables.take(measured)
        if progress:
            progress(len(done), len(jobs), measured.swing)
    return _gather(study, [done[job.swing] for job in jobs], left, tables)


def _excluded_in_the_table(study: Study) -> list[Reason]:
    """Return a row of left_out.csv for each swing with a reason in the column exclude of swings.csv."""
    if "exclude" not in study.swings.columns:
        return []
    marked = study.swings[study.swings["exclude"] != ""]
    files = {swing: study.shown(path) for swing, path in study.captures.items()}
    return [
        (swing, files.get(swing, "swings.csv"), "study", f"left out by swings.csv: {why}", "")
        for swing, why in zip(marked["swing"], marked["exclude"], strict=True)
    ]


class _Tables:
    """Collects the rows of measured swings, in far less memory than separate tables for each swing."""

    def __init__(self) -> None:
        self.posture, self.events = LongTable(), LongTable()
        self.strike, self.quality, self.quantities = SwingRows(), SwingRows(), SwingRows()

    def take(self, measured: Measured) -> Measured:
        """Store the rows of a measured swing in the tables, and return `measured` without these rows."""
        if measured.posture is not None and measured.events is not None:
            self.posture.add(measured.swing, measured.posture)
            self.events.add(measured.swing, measured.events)
            self.strike.add(measured.swing, measured.strike)
            self.quality.add(measured.swing, measured.quality)
            self.quantities.add(measured.swing, measured.quantities)
        return replace(
            measured, posture=None, events=None, strike=None, quality=None, quantities=None, measured_with={}
        )


def _known_or_measured(
    jobs: list[Job], run: Callable[[Sequence[Job]], Iterator[Measured]], cache: SwingCache | None
) -> Iterator[Measured]:
    """Yield the swings that are in the cache, then measure, store and yield the others."""
    open_jobs = {}
    for job in jobs:
        found = cache.read(job) if cache else None
        if found is not None:
            yield found
        else:
            open_jobs[job.swing] = job
    for measured in run(list(open_jobs.values())):
        _check_same_kit(measured)
        if cache:
            cache.write(open_jobs[measured.swing], measured)
        yield measured
    if cache:
        cache.prune(len(jobs))


def _check_same_kit(measured: Measured) -> None:
    """Raise BadRequest if a swing was measured by another version of swinglab or of its packages."""
    here = measured_with()
    other = [name for name, value in measured.measured_with.items() if here.get(name) != value]
    if other:
        raise BadRequest(
            f"swing {measured.swing} was measured by a worker process with another version of {', '.join(other)}",
            do="install the same swinglab and the same packages on every worker; nothing was written",
        )


def _run(
    workers: int | None, scheduler: str | None, executor: Executor | None, jobs: Sequence[Job]
) -> Iterator[Measured]:
    if executor is not None:
        yield from measure_with_executor(jobs, executor)
        return
    if scheduler:
        yield from measure_on_cluster(jobs, scheduler)
        return
    number = min(workers or os.cpu_count() or 1, len(jobs))
    if number <= 1 or (workers is None and len(jobs) < FEW_SWINGS):
        yield from map(measure_job, jobs)
        return
    if multiprocessing.current_process().name != "MainProcess":
        raise BadRequest(
            "a worker process tried to measure a study itself, probably because it imported your script",
            do=UNGUARDED,
        )
    yield from measure_in_processes(jobs, number)


def _gather(study: Study, done: list[Measured], left: list[tuple], tables: _Tables) -> Results:
    order = {swing: i for i, swing in enumerate(study.swings["swing"])}
    good = [m.swing for m in done if m.swing in tables.posture]
    reasons = [*left, *(row for m in done for row in m.left_out)]
    gate = _gate(study, done)
    left_out = pd.DataFrame(sorted(reasons, key=lambda row: order[row[0]]), columns=LEFT_OUT_COLUMNS)
    if not good:
        faults = _faults(reasons) or [
            MissingInput("the study has no swing to measure", do="add a swing with a capture to swings.csv")
        ]
        raise NothingMeasured(faults, file=study.folder.name, gate=gate, left_out=left_out)
    posture, events = tables.posture.table(good), tables.events.table(good)
    events = events.astype(dict.fromkeys(events.select_dtypes("category").columns, str))
    strike, quality, quantities = (
        rows.table(good) for rows in (tables.strike, tables.quality, tables.quantities)
    )
    quality = quality.merge(quality_columns(gate, list(quality["swing"])), on="swing", validate="1:1")
    results = Results(
        swings=swing_table(study.swings, study.golfers, posture, strike, quality, quantities),
        posture=posture, events=events, strike=strike, left_out=left_out, quality=quality, gate=gate,
        inputs={name: digest for measured in done for name, digest in measured.inputs.items()},
    )  # fmt: skip
    results = apply_exclusions(study, results)
    if results.swings.empty:
        all_out = SwinglabError(
            "all measured swings are excluded by hand", file=EXCLUDED, do="include at least one of them again"
        )
        raise StudyFaults([*_faults(reasons), all_out], file=study.folder.name)
    return results


def _gate(study: Study, done: list[Measured]) -> pd.DataFrame:
    """Return gate.csv: checks that a swing failed alone, or compared with the golfer's other swings in the session."""
    rows = study.swings.set_index("swing")
    session = rows["session"] if "session" in rows.columns else pd.Series("", index=rows.index)
    places = {m.swing: (str(rows.at[m.swing, "golfer"]), str(session[m.swing])) for m in done}
    unlike = check_same_lengths({m.swing: m.lengths for m in done if m.lengths}, places)
    doubts = {m.swing: (*m.doubts, *unlike.get(m.swing, ())) for m in done}
    return gate_table(doubts, {swing: golfer for swing, (golfer, _) in places.items()}, study.accepted)


def _faults(reasons: list[tuple]) -> list[SwinglabError]:
    """Return the reasons why swings could not be measured, each once for all files that share it."""
    files: dict[tuple[str, str, str], list[str]] = {}
    for _, file, stage, what, do in reasons:
        files.setdefault((stage, what, do), []).append(file)
    faults = []
    for (stage, what, do), names in files.items():
        shown = names[0] + (f" and {len(names) - 1} more" if len(names) > 1 else "")
        faults.append(SwinglabError(what, file=shown, where=stage, do=do or None))
    return faults
