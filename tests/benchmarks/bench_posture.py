"""How long posture takes, beside the same construction once without errors and once a frame for each coordinate.

    python tests/benchmarks/bench_posture.py [rounds]

One swing of 340 frames and 34 landmarks with noise. "plain" measures values alone; "shared noise" carries noise that
the markers share; "every frame" moves each coordinate in every frame, as the kit would without its nodes and blocks.
CPU time of one process, medians.
"""

from __future__ import annotations

import statistics
import sys
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np

sys.path[:0] = [str(Path(__file__).parents[1])]
from segments.made_body import make_events, make_trial, moving  # noqa: E402

from swinglab.conventions import EVENTS  # noqa: E402
from swinglab.segments import measure_at, measure_posture  # noqa: E402
from swinglab.segments.posture import body_of  # noqa: E402
from swinglab.segments.quantities import measure_all  # noqa: E402

LEFT_OUT = ("head", "sacrum", "club_shaft", "club_butt")


def main(rounds: int) -> None:
    """Print the medians and their ratios."""
    whole = moving(340, noise_m=0.001)
    trial = make_trial(
        {n: whole.point(n) for n in whole.landmarks if not n.startswith(LEFT_OUT)}, noise_m=0.001
    )
    size = 3 * len(trial.landmarks)
    shared = replace(trial, noise_covariance=0.5 * np.eye(size) + 0.5)
    events = make_events(dict(zip(EVENTS, np.linspace(0.05, 1.35, len(EVENTS)), strict=True)), error_s=0.001)
    posture = measure_posture(trial)

    def every_frame() -> None:
        for _ in range(3 * len(trial.landmarks) + 1):
            measure_all(body_of(trial, "harrington"))

    ways: dict[str, Callable[[], object]] = {
        "plain": lambda: measure_all(body_of(trial, "harrington")),
        "measure_posture": lambda: measure_posture(trial),
        "shared noise": lambda: measure_posture(shared),
        "measure_at": lambda: measure_at(posture, events),
        "every frame": every_frame,
    }
    taken: dict[str, list[float]] = {name: [] for name in ways}
    for _ in range(rounds):
        for name, run in ways.items():
            start = time.process_time()
            run()
            taken[name].append(time.process_time() - start)
    both = statistics.median(taken["measure_posture"]) + statistics.median(taken["measure_at"])
    print(
        f"{len(trial.time_s)} frames, {len(trial.landmarks)} landmarks, {len(posture.quantities)} quantities"
    )
    for name, times in taken.items():
        print(
            f"{name:16s} {1000 * statistics.median(times):8.1f} ms, {statistics.median(times) / both:6.2f} of both"
        )


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 5)
