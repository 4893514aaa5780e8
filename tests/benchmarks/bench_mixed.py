"""How much faster the kit's mixed model is than MixedLM, side by side in one run, by hand:

    OPENBLAS_NUM_THREADS=1 python tests/benchmarks/bench_mixed.py

Wanted: 10,000 resamples of a random-slope fit at 24 golfers x 40 swings at least 500 times faster than a loop
of MixedLM (its time is that of a few fits, multiplied); one fit with df at 24 x 40 and at 500 x 100 at least
15 times faster than one of MixedLM, which gives no df.
"""

from __future__ import annotations

import time
import warnings
from collections.abc import Callable

import numpy as np
import pandas as pd
import statsmodels.api as sm

from swinglab.statistics import bootstrap_golfers, fit_mixed


def made(golfers: int, swings: int, seed: int) -> pd.DataFrame:
    """Made swings with own intercepts and slopes."""
    rng = np.random.default_rng(seed)
    golfer = np.repeat(np.arange(golfers), swings)
    tilt = rng.normal(0, 3, len(golfer))
    slope, own = rng.normal(0.2, 0.1, golfers), rng.normal(0, 1, golfers)
    angle = own[golfer] + slope[golfer] * tilt + rng.normal(0, 1, len(golfer))
    return pd.DataFrame({"golfer": golfer, "tilt": tilt, "angle": angle})


def seconds(work: Callable[[], object], times: int) -> float:
    """The fastest of several runs."""
    found = []
    for _ in range(times):
        start = time.perf_counter()
        work()
        found.append(time.perf_counter() - start)
    return min(found)


def other_fit(swings: pd.DataFrame) -> object:
    """The same model by MixedLM at its defaults."""
    x = np.column_stack([np.ones(len(swings)), swings["tilt"]])
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return sm.MixedLM(swings["angle"].to_numpy(), x, swings["golfer"].to_numpy(), exog_re=x).fit()


def own_fit(swings: pd.DataFrame) -> object:
    """The kit's fit, with df."""
    return fit_mixed(swings, "angle", ["tilt"], slopes=["tilt"])


if __name__ == "__main__":
    for golfers, swings in ((24, 40), (500, 100)):
        table = made(golfers, swings, seed=1)
        ours, theirs = seconds(lambda t=table: own_fit(t), 30), seconds(lambda t=table: other_fit(t), 3)
        print(
            f"one fit, {golfers} x {swings}: {ours * 1e3:.1f} ms, MixedLM {theirs * 1e3:.0f} ms: "
            f"{theirs / ours:.0f} times"
        )
    table = made(24, 40, seed=2)
    resamples = seconds(
        lambda: bootstrap_golfers(table, "angle", ["tilt"], slopes=["tilt"], samples=10_000), 3
    )
    rng = np.random.default_rng(3)
    loop = []
    for _ in range(5):
        drawn = [table[table["golfer"] == g].assign(golfer=i) for i, g in enumerate(rng.integers(0, 24, 24))]
        again = pd.concat(drawn)
        loop.append(seconds(lambda t=again: other_fit(t), 1))
    extrapolated = 10_000 * float(np.mean(loop))
    print(
        f"10,000 resamples, 24 x 40: {resamples:.2f} s, MixedLM {extrapolated:.0f} s (five fits, multiplied): "
        f"{extrapolated / resamples:.0f} times"
    )
