"""Measuring every swing of a study, one process or many; one bad file never stops it and is never silent."""

from __future__ import annotations

import multiprocessing
import os
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from pathlib import Path

import pandas as pd

from swinglab.errors import BadRequest, MissingInput, StudyFaults, SwinglabError
from swinglab.study.opening import Study
from swinglab.study.results import LEFT_OUT_COLUMNS, Results, swing_table
from swinglab.study.swing import Job, Measured, job_for, measure_job
from swinglab.study.swing_cache import SwingCache

#: Fewer swings than this are measured in this process: starting others would take longer.
FEW_SWINGS = 12

UNGUARDED = 'in a script call measure_study under if __name__ == "__main__":, or give workers=1'

#: Told after each swing: swings done, swings in all, the swing's name.
Progress = Callable[[int, int, str], None]


def measure_study(
    study: Study,
    *,
    workers: int | None = None,
    scheduler: str | None = None,
    progress: Progress | None = None,
    cache: Path | None = None,
) -> Results:
    """Measure every swing of a study; one that is kept in `cache` from the same inputs is not measured again.

    Parameters
    ----------
    study : Study
    workers : int, optional
        Processes to use; the number of cores where not given, and this one alone for a few swings.
    scheduler : str, optional
        Address of a Dask scheduler on a trusted network (needs the extra ``swinglab[cluster]``).
    progress : callable, optional
        Called with (swings done, swings in all, swing) after each swing.
    cache : Path, optional
        Folder in which measured swings are kept as they come, so that an interrupted run goes on where it stopped.
        None keeps nothing.

    Returns
    -------
    Results

    Raises
    ------
    StudyFaults
        Not one swing could be measured; the reasons, swing by swing.
    BadRequest
        Worker processes could not work, as in a script without ``if __name__ == "__main__":``.
    """
    jobs, left = [], []
    for swing in study.swings["swing"]:
        why = str(study.swings.set_index("swing").get("exclude", pd.Series(dtype=str)).get(swing, ""))
        job = job_for(study, swing)
        if why:
            left.append((swing, job.shown, "study", f"left out by swings.csv: {why}", ""))
        else:
            jobs.append(job)
    done: dict[str, Measured] = {}

    def note(measured: Measured) -> None:
        done[measured.swing] = measured
        if progress:
            progress(len(done), len(jobs), measured.swing)

    kept = SwingCache(cache) if cache is not None else None
    keys = {job.swing: kept.key(job) for job in jobs} if kept else {}
    for key in keys.values():
        found = kept.read(key) if kept and key else None
        if found:
            note(found)
    for measured in _run([job for job in jobs if job.swing not in done], workers, scheduler):
        key = keys.get(measured.swing)
        if kept and key:
            kept.write(key, measured)
        note(measured)
    if kept:
        kept.prune(len(jobs))
    return _gather(study, [done[job.swing] for job in jobs], left)


def _run(jobs: list[Job], workers: int | None, scheduler: str | None) -> Iterator[Measured]:
    if scheduler:
        yield from _run_on_cluster(jobs, scheduler)
        return
    number = min(workers or os.cpu_count() or 1, len(jobs))
    if number <= 1 or (workers is None and len(jobs) < FEW_SWINGS):
        yield from map(measure_job, jobs)
        return
    if multiprocessing.current_process().name != "MainProcess":
        raise BadRequest("a worker process cannot start others; it may have read your script", do=UNGUARDED)
    # spawn, not fork: a notebook's process has threads, which a fork would copy in the middle of their work.
    # A spawned process reads the script that it was started from once more.
    try:
        with ProcessPoolExecutor(number, mp_context=multiprocessing.get_context("spawn")) as pool:
            yield from pool.map(measure_job, jobs, chunksize=max(1, min(8, len(jobs) // (4 * number))))
    except BrokenProcessPool as error:
        raise BadRequest("a worker process stopped, so the swings were not measured", do=UNGUARDED) from error


def _run_on_cluster(jobs: list[Job], address: str) -> Iterator[Measured]:
    try:
        from distributed import Client
    except ImportError as error:
        raise BadRequest(
            "a scheduler needs the package distributed, which is not installed",
            do="pip install 'swinglab[cluster]', or leave --scheduler away",
        ) from error
    try:
        with Client(address, timeout="10s") as client:
            for future in client.map(measure_job, jobs, pure=False):
                yield future.result()
    except OSError as error:
        raise BadRequest(
            f"no scheduler answers at {address}", do="start it, or leave --scheduler away"
        ) from error


def _gather(study: Study, done: Iterable[Measured], left: list[tuple]) -> Results:
    done = list(done)
    good = [m for m in done if m.posture is not None]
    reasons = [*left, *(row for m in done for row in m.left_out)]
    if not good:
        faults = [
            SwinglabError(what, file=file, where=stage, do=do or None) for _, file, stage, what, do in reasons
        ]
        raise StudyFaults(faults or [MissingInput("there is no swing to measure")], file=study.folder.name)
    posture = pd.concat([m.posture for m in good], ignore_index=True)
    events = pd.concat([m.events for m in good], ignore_index=True)
    strike = pd.DataFrame([m.strike if m.strike else {"swing": m.swing} for m in good])
    quality = pd.DataFrame([m.quality for m in good])
    quantities = pd.DataFrame([{"swing": m.swing, **(m.quantities or {})} for m in good])
    order = {swing: i for i, swing in enumerate(study.swings["swing"])}
    left_out = pd.DataFrame(sorted(reasons, key=lambda row: order[row[0]]), columns=LEFT_OUT_COLUMNS)
    return Results(
        swings=swing_table(study.swings, study.golfers, posture, strike, quality, quantities),
        posture=posture, events=events, strike=strike, left_out=left_out, quality=quality,
    )  # fmt: skip
