"""The results folder written in the background, without keeping a new swing waiting."""

from __future__ import annotations

import threading
from pathlib import Path

from swinglab.errors import SwinglabError
from swinglab.study import Results, Study, answer_study, measure_study, swings_folder, write_results


class _GaveWay(Exception):
    """A capture arrived: the results are written after it."""


class ResultsWriter:
    """Measures and answers a study as a whole and writes its results, in a thread of its own.

    Swings that the session measured come from the cache, so the tables are those of the finished folder measured at
    once.
    """

    def __init__(self, out: Path) -> None:
        self._out = out
        self._thread: threading.Thread | None = None
        self._gives_way = threading.Event()
        self._results: Results | None = None
        self._fault: str | None = None

    def start(self, study: Study) -> None:
        """Begin; nothing may be at work."""
        self._gives_way.clear()
        self._thread = threading.Thread(target=self._work, args=(study,), daemon=True)
        self._thread.start()

    def is_at_work(self) -> bool:
        """Whether results are being written."""
        return self._thread is not None and self._thread.is_alive()

    def give_way(self) -> None:
        """Stop before the next swing of the study; `take` then has an empty fault, so it is begun again later."""
        self._gives_way.set()

    def wait(self) -> None:
        """Until the work under way has ended."""
        if self._thread is not None:
            self._thread.join()

    def take(self) -> tuple[Results | None, str | None]:
        """(measured study, fault) of the work that has ended, once; fault is "" where it gave way."""
        found = self._results, self._fault
        self._results = self._fault = None
        return found

    def _work(self, study: Study) -> None:
        try:
            results = measure_study(study, workers=1, progress=self._look_aside, cache=swings_folder(study))
            self._results = results
            findings = answer_study(study, results)
            self._look_aside()
            write_results(study, results, findings, self._out)
        except _GaveWay:
            self._fault = ""
        except (SwinglabError, OSError) as fault:
            self._fault = str(fault)

    def _look_aside(self, *_: object) -> None:
        if self._gives_way.is_set():
            raise _GaveWay
