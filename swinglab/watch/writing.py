"""Writing the results folder in the background, without delaying new swings."""

from __future__ import annotations

import threading
from pathlib import Path

from swinglab.errors import SwinglabError
from swinglab.study import Results, Study, answer_study, measure_study, swings_folder, write_results


class _GaveWay(Exception):
    """Raised to interrupt writing because a capture arrived; results are written later."""


class ResultsWriter:
    """Measures and answers the whole study and writes its results, in its own thread.

    Swings that the session measured are read from the cache, so the results equal those of the command `study`.
    """

    def __init__(self, out: Path) -> None:
        self._out = out
        self._thread: threading.Thread | None = None
        self._gives_way = threading.Event()
        self._results: Results | None = None
        self._fault: str | None = None

    def start(self, study: Study) -> None:
        """Start writing; only one run is allowed at a time."""
        self._gives_way.clear()
        self._thread = threading.Thread(target=self._work, args=(study,), daemon=True)
        self._thread.start()

    def is_at_work(self) -> bool:
        """Return whether results are being written."""
        return self._thread is not None and self._thread.is_alive()

    def give_way(self) -> None:
        """Interrupt before the next swing; `take` then returns the fault "", and writing starts again later."""
        self._gives_way.set()

    def wait(self) -> None:
        """Wait until the current run has ended."""
        if self._thread is not None:
            self._thread.join()

    def take(self) -> tuple[Results | None, str | None]:
        """Return (measured study, fault) of a finished run, once; fault is "" where it was interrupted."""
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
