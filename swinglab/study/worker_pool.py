"""Measuring of swings in several processes; if a process is killed, only the swing that it was measuring is lost."""

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

UNGUARDED = 'in a script, call measure_study under the line if __name__ == "__main__": or with workers=1'
#: Limits linear algebra to one thread: on matrices as small as these, several threads are slower.
_ONE_THREAD = ("OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS", "OMP_NUM_THREADS")


def measure_in_processes(jobs: Sequence[Job], number: int) -> Iterator[Measured]:
    """Measure swings in `number` processes; yield the results in the order in which they are completed.

    If a process is killed, for example because memory ran out, all processes end. The swings that were being measured
    are then measured one by one, each in its own process, and the others in new processes.

    Raises
    ------
    BadRequest
        No worker process could start.
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
    what = "the process that measured this swing was ended by the system, which happens when memory runs out"
    return Measured(job.swing, left_out=((job.swing, job.shown, "load", what, MORE_MEMORY),))


@contextmanager
def process_pool(number: int) -> Iterator[ProcessPoolExecutor]:
    """Context manager that provides a pool of `number` processes; on an exception, waiting jobs are cancelled.

    Raises
    ------
    BadRequest
        No worker process could start.
    """
    # spawn, not fork: a notebook's process has threads, whose state a fork would copy halfway.
    context = multiprocessing.get_context("spawn")
    pool = ProcessPoolExecutor(number, mp_context=context, initializer=_begin)
    try:
        with _as_workers_start():
            # The pool starts a worker for each call that finds none idle, so these calls start all of them.
            started = [pool.submit(os.getpid) for _ in range(number)]
        try:
            for call in started:
                call.result()
        except BrokenProcessPool as error:
            raise BadRequest("no worker process could be started", do=_advice()) from error
        yield pool
    except BaseException:
        pool.shutdown(wait=False, cancel_futures=True)
        raise
    pool.shutdown()


def _advice() -> str:
    """Return the advice for the error that no worker process starts.

    A script needs the guard ``if __name__ == "__main__":``, because each worker imports it again.
    """
    is_command = getattr(sys.modules.get("__main__"), "__spec__", None) is not None
    return (
        "use --workers 1, or close other programs, because memory may be short" if is_command else UNGUARDED
    )


@contextmanager
def _as_workers_start() -> Iterator[None]:
    """Context manager in which workers are started: each uses one thread for linear algebra and ignores Ctrl-C.

    Settings of this process are restored at the end.
    """
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
    """Initialise a worker: ignore Ctrl-C, end with the parent process, show no Python warnings."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    parent = multiprocessing.parent_process()
    if parent is not None:
        threading.Thread(target=_end_with, args=([parent.sentinel],), daemon=True).start()
    warnings.simplefilter("ignore")


def _end_with(sentinels: Iterable[int]) -> None:
    connection.wait(list(sentinels))
    os._exit(1)
