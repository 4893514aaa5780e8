"""Swings measured a second on one core, next to the cost of a rival's fit; run by hand.

    PYTHONPATH=.:tests python tests/benchmarks/bench_strike.py [swings]

Processor time, since a machine that does other work stretches the clock.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable

from strike.arcs import make_trial
from strike.rivals import two_sided_conic
from strike.trials import TARGET_SHAPES, random_arcs

from swinglab.strike import measure_strike


def cost(work: Callable[[int], object], number: int) -> float:
    """Milliseconds of processor time a swing, after one to warm up."""
    work(0)
    start = time.process_time()
    for i in range(number):
        work(i)
    return 1000 * (time.process_time() - start) / number


def main() -> None:
    number = int(sys.argv[1]) if len(sys.argv) > 1 else 60
    for rate in (120.0, 240.0, 500.0, 1000.0):
        made = [make_trial(a, rate, noise=5e-4, kink=2.0, loss=0.2) for a in random_arcs(TARGET_SHAPES)]
        fit = cost(lambda i, m=made: measure_strike(*m[i % len(m)]), number)

        def rival(i: int, made: list = made) -> object:
            trial, events = made[i % len(made)]
            return two_sided_conic(
                trial.time_s, trial.point("clubhead", raw=True), events.time_s("impact"), trial.ball_m
            )

        print(
            f"{rate:5.0f} Hz: measured in {fit:.1f} ms: {1000 / fit:.0f} swings a second;"
            f" a conic alone {cost(rival, number):.1f} ms"
        )


if __name__ == "__main__":
    main()
