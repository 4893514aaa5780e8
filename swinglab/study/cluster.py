"""Measuring swings on other computers, by a Dask scheduler or any concurrent.futures.Executor.

Use these on a trusted network only: data are sent as pickles, which can execute code when they are read.
"""

from __future__ import annotations

import re
import time
from collections.abc import Iterator, Sequence
from concurrent import futures
from concurrent.futures import Executor
from typing import Any

from swinglab.errors import BadRequest
from swinglab.study.swing import Job, Measured, measure_job

_ADDRESS = re.compile(r"((tcp|tls|ucx|ws|wss|inproc)://)?[^\s:/]+:\d+")
#: Time (s) to wait for the first worker of a scheduler.
WAIT_S = 60.0
#: Swings per batch, about one second of work: sending one swing takes as long as sending a batch.
BATCH = 8
_SAME_KIT = "install the same version of swinglab and of its packages on every worker"


def measure_batch(jobs: Sequence[Job]) -> list[Measured]:
    """Measure a batch of swings one after the other and return their results; called on a worker."""
    return [measure_job(job) for job in jobs]


def measure_with_executor(jobs: Sequence[Job], executor: Executor) -> Iterator[Measured]:
    """Measure swings with a concurrent.futures.Executor, in batches; yield the results as batches are completed.

    Raises
    ------
    BadRequest
        The executor or one of its workers failed; the message names the swings of that batch.
    """
    batch_of = {executor.submit(measure_batch, batch): batch for batch in _batches(jobs)}
    for future in futures.as_completed(batch_of):
        batch = batch_of.pop(future)
        try:
            measured = future.result()
        except Exception as error:  # whatever an executor raises; a swing's own faults are in its result
            raise BadRequest(
                f"the executor failed while it measured {_swings(batch)}: {type(error).__name__} {error}",
                do=_SAME_KIT,
            ) from error
        yield from measured


def measure_on_cluster(jobs: Sequence[Job], address: str, *, wait_s: float = WAIT_S) -> Iterator[Measured]:
    """Measure swings on the workers of a Dask scheduler, in batches; yield the results as batches are completed.

    Parameters
    ----------
    jobs : sequence of Job
    address : str
        Address of the scheduler, such as tcp://HOST:PORT.
    wait_s : float
        Time (s) to wait for the scheduler's first worker.

    Raises
    ------
    BadRequest
        The package distributed is not installed, the address is not valid, no scheduler answers there, the scheduler
        has no worker within `wait_s` seconds, a worker failed, or the connection to the scheduler is lost.
    """
    try:
        from distributed import Client, as_completed
    except ImportError as error:
        raise BadRequest(
            "a Dask scheduler needs the Python package distributed, which is not installed",
            do="run pip install 'swinglab[cluster]', or run the command without --scheduler",
        ) from error
    if not _ADDRESS.fullmatch(address):
        raise BadRequest(
            f"{address or 'an empty text'} is not the address of a Dask scheduler",
            where="--scheduler",
            do="give the address as tcp://HOST:PORT",
        )
    try:
        client = Client(address, timeout="10s", set_as_default=False)
    except (OSError, ValueError, TimeoutError, RuntimeError) as error:
        raise BadRequest(
            f"no Dask scheduler answers at {address}",
            do="start the scheduler, check its address, or run the command without --scheduler",
        ) from error
    with client:
        _await_workers(client, address, wait_s)
        batch_of = {}

        def send(batch: Sequence[Job]) -> Any:
            future = client.submit(measure_batch, batch, pure=False, retries=1)
            batch_of[future.key] = batch
            return future

        ready = as_completed([send(batch) for batch in _batches(jobs)], loop=client.loop)
        for future in ready:
            batch = batch_of.pop(future.key)
            if len(batch) > 1 and _was_killed(future):
                # One of these swings killed its worker: sent one by one, only that swing is lost.
                ready.update([send([job]) for job in batch])
            else:
                yield from _results(future, batch, address)
            future.release()  # otherwise the workers keep the result in memory


def _batches(jobs: Sequence[Job]) -> list[Sequence[Job]]:
    return [jobs[first : first + BATCH] for first in range(0, len(jobs), BATCH)]


def _swings(batch: Sequence[Job]) -> str:
    """Return the names of all swings of a batch; an error of the batch does not show which of them caused it."""
    return f"the swing{'s' if len(batch) > 1 else ''} {', '.join(job.swing for job in batch)}"


def _await_workers(client: Any, address: str, wait_s: float) -> None:
    begin = time.monotonic()
    while not client.scheduler_info()["workers"]:
        if time.monotonic() - begin > wait_s:
            raise BadRequest(
                f"the Dask scheduler at {address} has had no worker for {wait_s:.0f} s",
                do=f"start workers (dask worker {address}), or run the command without --scheduler",
            )
        time.sleep(0.2)


def _was_killed(future: Any) -> bool:
    return future.status == "error" and type(future.exception()).__name__ == "KilledWorker"


def _results(future: Any, batch: Sequence[Job], address: str) -> list[Measured]:
    if future.status == "finished":
        return future.result()
    if _was_killed(future):
        job = batch[0]
        what = (
            "the worker that measured this swing was ended by its system, which happens when memory runs out"
        )
        row = (job.swing, job.shown, "load", what, "give the workers more memory")
        return [Measured(job.swing, left_out=(row,))]
    if future.status == "error":
        error = future.exception()
        raise BadRequest(
            f"a worker failed while it measured {_swings(batch)}: {error}", do=_SAME_KIT
        ) from error
    raise BadRequest(
        f"the connection to the Dask scheduler at {address} was lost",
        do="start the scheduler and run the same command again",
    )
