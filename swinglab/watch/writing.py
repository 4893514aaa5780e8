"""Writing of a study's results folder in the background while new captures are measured."""

from __future__ import annotations

import threading
from pathlib import Path

from swinglab.errors import SwinglabError
from swinglab.study import Results, Study, answer_study, measure_study, swings_folder, write_results


class _GaveWay(Exception):
    """Raised to interrupt writing because a capture arrived; results are written later."""


class ResultsWriter:
    """Writer of a study's results folder, in its own thread, during a session on the range.

    It measures and answers the whole study. Swings that the session has measured are read from the cache on disk. The
    results are the same as those of the command `study`.
    """

    def __init__(self, out: Path) -> None:
        self._out = out
        self._thread: threading.Thread | None = None
        self._gives_way = threading.Event()
        self._results: Results | None = None
        self._fault: str | None = None

    def start(self, study: Study) -> None:
        """Start to measure a study and write its results; call it only when no earlier run is active."""
        self._gives_way.clear()
        self._thread = threading.Thread(target=self._work, args=(study,), daemon=True)
        self._thread.start()

    def is_at_work(self) -> bool:
        """Return whether results are being measured or written at the moment."""
        return self._thread is not None and self._thread.is_alive()

    def give_way(self) -> None:
        """Interrupt the present run, so that a new capture can be measured without delay; return at once.

        The run ends after the swing that it is measuring; a run that already writes the results is completed. `take`
        returns "" as the fault of an interrupted run, which is not an error. The session starts a new run later.
        """
        self._gives_way.set()

    def wait(self) -> None:
        """Block until the present run has ended; return at once if there is none."""
        if self._thread is not None:
            self._thread.join()

    def take(self) -> tuple[Results | None, str | None]:
        """Return (results, fault) of the last run, once; call it only when no run is active.

        results : the measured study; None if it was not measured completely. fault : None if the run succeeded, "" if
        it was interrupted by `give_way`, otherwise the message of the error that ended it. (None, None) if there is no
        run whose results have not been taken yet.
        """
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
