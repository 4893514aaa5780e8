"""Swings measured on a Dask cluster, on a trusted network: what it sends is pickled, which a receiver executes."""

from __future__ import annotations

import re
import time
from collections.abc import Iterator, Sequence
from typing import Any

from swinglab.errors import BadRequest
from swinglab.study.swing import Job, Measured, measure_job

_ADDRESS = re.compile(r"((tcp|tls|ucx|ws|wss|inproc)://)?[^\s:/]+:\d+")
#: How long to wait for a first worker.
WAIT_S = 60.0


def measure_on_cluster(jobs: Sequence[Job], address: str, *, wait_s: float = WAIT_S) -> Iterator[Measured]:
    """Measure jobs on the workers of a Dask scheduler, in the order in which they are done.

    Raises
    ------
    BadRequest
        The package distributed is not installed, no scheduler answers, it has no worker for a minute, or it is
        lost on the way.
    """
    try:
        from distributed import Client, as_completed
    except ImportError as error:
        raise BadRequest(
            "a scheduler needs the package distributed, which is not installed",
            do="pip install 'swinglab[cluster]', or run without --scheduler",
        ) from error
    if not _ADDRESS.fullmatch(address):
        raise BadRequest(
            f"{address or 'an empty text'} is no address of a scheduler", do="give one as tcp://HOST:PORT"
        )
    try:
        client = Client(address, timeout="10s", set_as_default=False)
    except (OSError, ValueError, TimeoutError, RuntimeError) as error:
        raise BadRequest(
            f"no scheduler answers at {address}", do="start it, check the address, or run without --scheduler"
        ) from error
    with client:
        _await_workers(client, address, wait_s)
        futures = client.map(measure_job, jobs, pure=False, retries=1)
        job_of = dict(zip((future.key for future in futures), jobs, strict=True))
        for future in as_completed(futures):
            yield _result(future, job_of[future.key], address)


def _await_workers(client: Any, address: str, wait_s: float) -> None:
    begin = time.monotonic()
    while not client.scheduler_info()["workers"]:
        if time.monotonic() - begin > wait_s:
            raise BadRequest(
                f"the scheduler at {address} has had no worker for {wait_s:.0f} s",
                do=f"start workers there (dask worker {address}), or run without --scheduler",
            )
        time.sleep(0.2)


def _result(future: Any, job: Job, address: str) -> Measured:
    if future.status == "finished":
        return future.result()
    error = future.exception() if future.status == "error" else None
    if type(error).__name__ == "KilledWorker":
        what = "the worker that measured it was ended, as happens when memory runs out"
        row = (job.swing, job.shown, "load", what, "give the workers more memory")
        return Measured(job.swing, left_out=(row,))
    if error is not None:
        raise BadRequest(
            f"a worker cannot measure {job.swing}: {error}", do="install the same swinglab on every worker"
        ) from error
    raise BadRequest(f"the scheduler at {address} was lost", do="start it and run the same command again")
