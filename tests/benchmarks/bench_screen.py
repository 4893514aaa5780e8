"""How long a search and the answer under every choice take, beside the same computation one statistic at a time.

    python tests/benchmarks/bench_screen.py [rounds]

Search: 800 candidates, 4,999 resamplings, 14 golfers of 30 swings (one golfer: 80 swings). One at a time: the same
statistics computed anew for each resampling, timed on a few and scaled. Every choice: 256 specifications (8 ways of
processing, 2 sets of covariates, all golfers and each of 15 left out) with 500 flips of signs, beside fitting every
specification anew for each flip. Wall and CPU time of one process, medians.
"""

from __future__ import annotations

import statistics
import sys
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pandas as pd

sys.path.insert(0, str(Path(__file__).parents[2]))
from swinglab.answers.specification import specification_curve
from swinglab.records import Hunch
from swinglab.statistics.candidates import read_candidates
from swinglab.statistics.screen import screen_postures
from swinglab.statistics.screen_within import mean_slopes, own_slopes, spread_weights
from tests.made_swing_table import COLUMN, EVENT, POSTURE, swing_table

CANDIDATES, SAMPLES, FEW = 800, 4999, 5
FLIPS, WAYS = 500, 8


def searched_table(golfers: int, swings: int) -> tuple[pd.DataFrame, list[str]]:
    """Candidates in groups of ten, as postures at neighbouring events are."""
    rng = np.random.default_rng(1)
    n = golfers * swings
    x = np.repeat(rng.normal(size=(n, CANDIDATES // 10)), 10, axis=1) + 0.7 * rng.normal(size=(n, CANDIDATES))
    names = [f"c{j:03d}" for j in range(CANDIDATES)]
    table = pd.DataFrame(10 * x, columns=names)
    table["golfer"] = np.repeat([f"G{g:02d}" for g in range(golfers)], swings)
    table["order"] = np.tile(np.arange(swings), golfers)
    table["y"] = 0.3 * x[:, 0] + rng.normal(size=n)
    return table, names


def taken(run: Callable[[], object], rounds: int) -> tuple[float, float]:
    """Median wall and CPU seconds."""
    wall, cpu = [], []
    for _ in range(rounds):
        begun, used = time.perf_counter(), time.process_time()
        run()
        wall.append(time.perf_counter() - begun)
        cpu.append(time.process_time() - used)
    return statistics.median(wall), statistics.median(cpu)


def one_at_a_time(table: pd.DataFrame, names: list[str]) -> float:
    """CPU seconds of all resamplings within golfers, each statistic from its golfers' slopes anew; scaled."""
    c = read_candidates(table, "y", names, golfer="golfer", adjust=())
    own = own_slopes(c, np.array(sorted(set(table["golfer"])), dtype=object))
    weights = spread_weights(own)
    rng, used = np.random.default_rng(1), time.process_time()
    for _ in range(FEW):
        signs = rng.choice([-1.0, 1.0], len(own.golfers))
        for j in range(len(names)):
            w, b = weights[:, j], signs * own.slopes[:, j]
            mean = np.average(b, weights=w)
            _ = mean / np.sqrt((w**2 * (b - mean) ** 2).sum())
    return (time.process_time() - used) * SAMPLES / FEW


def every_fit_anew(tables: dict[str, pd.DataFrame], flips: int) -> float:
    """CPU seconds of fitting 256 specifications for every flip; one flip of each way timed, scaled."""
    used = time.process_time()
    for table in tables.values():
        golfers = np.array(sorted(set(table["golfer"])), dtype=object)
        for adjust in ((), ("stature_m",)):
            for _ in range(len(golfers) + 1):
                c = read_candidates(table, "attack_angle_deg", [COLUMN], golfer="golfer", adjust=adjust)
                own = own_slopes(c, golfers)
                mean_slopes(own, spread_weights(own))
    return (time.process_time() - used) * flips


def main(rounds: int) -> None:
    """Print times and ratios."""
    table, names = searched_table(14, 30)
    series, _ = searched_table(1, 80)
    searches: dict[str, Callable[[], object]] = {
        "within": lambda: screen_postures(table, "y", candidates=names, samples=SAMPLES),
        "between": lambda: screen_postures(table, "y", candidates=names, level="between", samples=SAMPLES),
        "golfer": lambda: screen_postures(
            series, "y", candidates=names, level="golfer", golfer="G00", samples=SAMPLES
        ),
    }
    for name, run in searches.items():
        wall, cpu = taken(run, rounds)
        print(f"search {name}: {wall:.2f} s (CPU {cpu:.2f} s)", flush=True)
        if name == "within":
            print(f"  one statistic at a time: {one_at_a_time(table, names) / cpu:.0f} times as long")
    tables = {}
    rng = np.random.default_rng(2)
    for k in range(WAYS):
        made = swing_table(golfers=15, swings=30, seed=3)
        made["stature_m"] = rng.normal(1.8, 0.1, len(made))
        made[COLUMN] += rng.normal(0, 0.3, len(made))
        tables[f"way {k}"] = made
    hunch = Hunch("tilt", "attack_angle_deg", POSTURE, EVENT, adjust=("stature_m",))
    made = specification_curve(tables, hunch, samples=FLIPS)
    wall, cpu = taken(lambda: specification_curve(tables, hunch, samples=FLIPS), rounds)
    anew = every_fit_anew(tables, FLIPS) / cpu
    print(f"{len(made.table)} specifications, {made.samples} flips: {wall:.2f} s (CPU {cpu:.2f} s)")
    print(f"  every specification fitted anew for each flip: {anew:.0f} times as long")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 5)
