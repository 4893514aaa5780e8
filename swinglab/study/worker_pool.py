"""Swings measured in processes of this machine; a killed worker costs the one swing that it was measuring."""

from __future__ import annotations

import multiprocessing
import os
import signal
import sys
import threading
import warnings
from collections import deque
from collections.abc import Iterable, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager, suppress
from multiprocessing import connection

from swinglab.errors import BadRequest
from swinglab.study.swing import MORE_MEMORY, Job, Measured, measure_job

UNGUARDED = 'in a script call measure_study under if __name__ == "__main__":, or give workers=1'
#: Linear algebra on matrices as small as these is slower with threads of its own.
_ONE_THREAD = ("OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS", "OMP_NUM_THREADS")


def measure_in_processes(jobs: Sequence[Job], number: int) -> Iterator[Measured]:
    """Measure jobs in `number` processes, in the order in which they are done.

    A worker that is killed, as by the system when memory runs out, breaks its pool: the swings that were being
    measured are then measured one by one, each in a process of its own, and the rest go on in a new pool.

    Raises
    ------
    BadRequest
        No worker process can start.
    """
    waiting = deque(jobs)
    while waiting:
        running: dict[Future[Measured], Job] = {}
        with suppress(BrokenProcessPool), process_pool(number) as pool:
            while waiting or running:
                while waiting and len(running) < 2 * number:
                    running[pool.submit(measure_job, waiting[0])] = waiting[0]
                    waiting.popleft()
                for future in wait(running, return_when=FIRST_COMPLETED).done:
                    measured = future.result()
                    del running[future]
                    yield measured
        for job in running.values():
            yield _measure_alone(job)


def _measure_alone(job: Job) -> Measured:
    with suppress(BrokenProcessPool), process_pool(1) as pool:
        return pool.submit(measure_job, job).result()
    what = "the process that measured it was ended by the system, as happens when memory runs out"
    return Measured(job.swing, left_out=((job.swing, job.shown, "load", what, MORE_MEMORY),))


@contextmanager
def process_pool(number: int) -> Iterator[ProcessPoolExecutor]:
    """A pool whose workers have started; on any fault what waits is cancelled."""
    # spawn, not fork: a notebook's process has threads, which a fork would copy in the middle of their work.
    context = multiprocessing.get_context("spawn")
    pool = ProcessPoolExecutor(number, mp_context=context, initializer=_begin)
    try:
        with _as_workers_start():
            # A worker is started for each call that finds none idle: here all of them.
            started = [pool.submit(os.getpid) for _ in range(number)]
        try:
            for call in started:
                call.result()
        except BrokenProcessPool as error:
            raise BadRequest("no worker process can start", do=_advice()) from error
        yield pool
    except BaseException:
        pool.shutdown(wait=False, cancel_futures=True)
        raise
    pool.shutdown()


def _advice() -> str:
    """What to do where no worker starts: a script is read by each worker once more, a command is not."""
    is_command = getattr(sys.modules.get("__main__"), "__spec__", None) is not None
    return "give --workers 1, or close other programs: memory may be short" if is_command else UNGUARDED


@contextmanager
def _as_workers_start() -> Iterator[None]:
    """What workers inherit: one thread for linear algebra, and an interrupt that reaches the parent alone."""
    before = {name: os.environ.get(name) for name in _ONE_THREAD}
    os.environ.update({name: "1" for name, value in before.items() if value is None})
    main_thread = threading.current_thread() is threading.main_thread()
    handler = signal.signal(signal.SIGINT, signal.SIG_IGN) if main_thread else None
    try:
        yield
    finally:
        if handler is not None:
            signal.signal(signal.SIGINT, handler)
        for name, value in before.items():
            if value is None:
                os.environ.pop(name, None)


def _begin() -> None:
    """In a worker, first: leave interrupts to the parent, end when it ends, keep library warnings short."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    parent = multiprocessing.parent_process()
    if parent is not None:
        threading.Thread(target=_end_with, args=([parent.sentinel],), daemon=True).start()
    warnings.simplefilter("ignore")


def _end_with(sentinels: Iterable[int]) -> None:
    connection.wait(list(sentinels))
    os._exit(1)
