"""One study measured in every way, side by side in one run: one process, two, a local cluster of two, and warm.

    OPENBLAS_NUM_THREADS=1 python tests/benchmarks/bench_ways.py [swings] [study folder]

Wall time of the first swings of the demo, or of another study (all where no number is given); every way must give the
same tables. A study of 2,000 swings comes from ``swinglab simulate FOLDER --golfers 100 --swings 20``. Wanted on two
idle cores: two processes at least 1.8 times as fast as one, a cluster (needs distributed) at most 1.1 times as long as
two processes, once its workers have loaded the kit.
"""

from __future__ import annotations

import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pandas as pd

from swinglab import measure_study, open_study, shipped_folder
from swinglab.study import Results


def main(swings: int | None, folder: Path) -> None:
    """Print seconds of each way and the ratios."""
    study = open_study(folder)
    study = replace(study, swings=study.swings.iloc[:swings])
    few = replace(study, swings=study.swings.iloc[:2])
    with tempfile.TemporaryDirectory() as empty, Cluster() as address:
        measure_study(few, workers=1)
        measure_study(few, scheduler=address)  # its workers load the kit
        cache = Path(empty)
        ways: dict[str, Callable[[], Results]] = {
            "one process": lambda: measure_study(study, workers=1, cache=cache),
            "warm": lambda: measure_study(study, workers=1, cache=cache),
            "two processes": lambda: measure_study(study, workers=2),
            "cluster of two": lambda: measure_study(study, scheduler=address),
        }
        seconds, first = {}, None
        for name, way in ways.items():
            begin = time.perf_counter()
            results = way()
            seconds[name] = time.perf_counter() - begin
            first = first or results
            for table in ("swings", "posture", "events", "strike", "quality"):
                pd.testing.assert_frame_equal(
                    getattr(results, table), getattr(first, table), check_exact=True
                )
    for name, one in seconds.items():
        print(f"{name:15} {one:7.1f} s")
    print(f"one / two       {seconds['one process'] / seconds['two processes']:7.2f}")
    print(f"cluster / two   {seconds['cluster of two'] / seconds['two processes']:7.2f}")
    print(f"one / warm      {seconds['one process'] / seconds['warm']:7.2f}")


class Cluster:
    """A scheduler and two workers on this machine, for as long as they are needed."""

    def __enter__(self) -> str:
        """Its address."""
        from distributed import LocalCluster

        self._local = LocalCluster(n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None)
        return str(self._local.scheduler_address)

    def __exit__(self, *_: object) -> None:
        self._local.close()


if __name__ == "__main__":
    main(
        int(sys.argv[1]) if len(sys.argv) > 1 else None,
        Path(sys.argv[2]) if len(sys.argv) > 2 else shipped_folder("data_demo"),
    )
