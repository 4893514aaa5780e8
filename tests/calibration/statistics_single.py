"""False positives and coverage of the methods for one golfer, groups, reliability and contact. Run by hand:

    nice python tests/calibration/statistics_single.py PART RUNS

PART is series, slopes, groups, repeat, contact or all; RUNS is the number of made sets in each cell. Seeded.
Each run appends its table, with the number of runs, to statistics_single.md beside this file.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
import pandas as pd

from swinglab.errors import BadTable
from swinglab.statistics import (
    agreement,
    compare_means,
    correct_slope,
    correct_slope_by_level,
    fit_binary,
    fit_ordinal_mixed,
    fit_series,
    fit_step,
    reliability,
)

OUT = Path(__file__).with_suffix(".md")
Row = tuple[str, str, float]


def faded(n: int, autocorrelation: float, rng: np.random.Generator) -> np.ndarray:
    """A stationary AR(1) series of unit variance."""
    made = rng.normal(size=n)
    for i in range(1, n):
        made[i] = autocorrelation * made[i - 1] + np.sqrt(1 - autocorrelation**2) * made[i]
    return made


def series_cells(runs: int) -> Iterator[Row]:
    """Share of p < .05 with no effect: a step, a step beside a trend, a steady and a fading predictor."""
    for seed, (kind, n, rho) in enumerate(
        (kind, n, rho)
        for kind in ("step", "step beside a trend", "unrelated predictor", "predictor that fades (.6), trend")
        for n in (20, 40, 80)
        for rho in (0.0, 0.3, 0.6)
    ):
        rng = np.random.default_rng([1, seed])
        hits = np.zeros(2)
        for _ in range(runs):
            y = faded(n, rho, rng)
            if kind.startswith("step"):
                step = fit_step(y, np.arange(n) >= n // 2, trend="trend" in kind)
                hits += [step.p < 0.05, step.block_p < 0.05]
                continue
            x = rng.normal(size=n) if kind.startswith("unrelated") else faded(n, 0.6, rng)
            table = pd.DataFrame({"order": range(n), "x": x, "y": y})
            fit = fit_series(table, "y", ["x"], order="order", trend="trend" in kind)
            hits += [fit.coefficients["p"]["x"] < 0.05, 0]
        cell = f"{kind}, {n} swings, autocorrelation {rho}"
        yield cell, "false positives", hits[0] / runs
        if kind.startswith("step"):
            yield cell, "false positives, blocks exchanged (beside)", hits[1] / runs


def slope_cells(runs: int) -> Iterator[Row]:
    """Coverage of the corrected slope's 95 % interval, and the mean estimate beside the true .5."""
    for seed, (n, share) in enumerate((n, share) for n in (15, 30, 60, 200) for share in (0.1, 0.3, 0.5)):
        rng = np.random.default_rng([2, seed])
        held, found = 0, []  # where a correction was made; where not, it is said
        for _ in range(runs):
            true = rng.normal(0, 3, n)
            variance = 9 * share / (1 - share)
            y = 0.5 * true + rng.normal(0, 1.5, n)
            answer = correct_slope(true + rng.normal(0, variance**0.5, n), y, error_variance=variance)
            if answer.corrected:
                held += answer.ci_low <= 0.5 <= answer.ci_high
                found.append(answer.estimate)
        cell = f"one level, {n} cases, error {share:.0%} of the variance"
        yield cell, "share corrected", len(found) / runs
        yield cell, "coverage, where corrected", held / len(found)
        yield cell, "median estimate (true .5)", float(np.median(found))
    for seed, golfers in enumerate((8, 16, 24)):
        rng = np.random.default_rng([3, seed])
        held = np.zeros(2)
        for _ in range(runs // 4):
            rows = golfers * 20
            own, swing = np.repeat(rng.normal(0, 6, golfers), 20), rng.normal(0, 3, rows)
            placed = np.repeat(rng.normal(0, 3, golfers), 20)
            slope = np.repeat(rng.normal(0.5, 0.1, golfers), 20)
            y = (
                -0.8 * own
                + slope * swing
                + np.repeat(rng.normal(0, 1.5, golfers), 20)
                + rng.normal(0, 1, rows)
            )
            table = pd.DataFrame({"golfer": np.repeat(np.arange(golfers), 20), "y": y})
            table["x"] = own + swing + placed + rng.normal(0, 2, rows)
            answer = correct_slope_by_level(
                table, "y", "x", swing_error_variance=4.0, session_error_variance=9.0
            )
            held += [
                answer.within.ci_low <= 0.5 <= answer.within.ci_high,
                answer.between.ci_low <= -0.8 <= answer.between.ci_high,
            ]
        yield f"two levels, {golfers} golfers, within", "coverage", held[0] / (runs // 4)
        yield f"two levels, {golfers} golfers, between", "coverage", held[1] / (runs // 4)


def group_cells(runs: int) -> Iterator[Row]:
    """False positives of Welch and exchanged labels, coverage of the difference and of Hedges' g (true 1)."""
    designs = ((4, 4, 1.0), (6, 6, 1.0), (4, 8, 1.0), (4, 8, 2.0), (12, 12, 1.0))
    for seed, (n1, n2, ratio) in enumerate(designs):
        rng = np.random.default_rng([4, seed])
        group = np.repeat(["a", "b"], [n1 * 5, n2 * 5])
        golfer = np.repeat(np.arange(n1 + n2), 5)
        spread = np.where(np.arange(n1 + n2) < n1, ratio, 1.0)
        hits = np.zeros(4)
        for _ in range(runs):
            own = rng.normal(0, 3, n1 + n2) * spread
            y = own[golfer] + rng.normal(0, 2, len(golfer))
            table = pd.DataFrame({"golfer": golfer, "group": group, "y": y})
            null = compare_means(table, "y", between="group")
            sd = (9 + 4 / 5) ** 0.5
            moved = compare_means(table.assign(y=y + sd * (group == "b")), "y", between="group")
            hits += [
                null.p < 0.05,
                null.permutation_p < 0.05,
                moved.ci_low <= sd <= moved.ci_high,
                moved.hedges_g_low <= 1 <= moved.hedges_g_high,
            ]
        cell = f"{n1} and {n2} golfers, first group's SD x {ratio:g}"
        names = ["Welch, false positives", "labels exchanged, false positives", "coverage of the difference"]
        for name, share in zip([*names, "coverage of Hedges' g"], hits / runs, strict=True):
            if ratio == 1 or "Hedges" not in name:
                yield cell, name, share


def repeat_cells(runs: int) -> Iterator[Row]:
    """Coverage of the ICC with unequal numbers, and of the intervals of bias and limits of agreement."""
    for seed, (golfers, icc) in enumerate((g, icc) for g in (6, 12) for icc in (0.2, 0.6, 0.9)):
        rng = np.random.default_rng([5, seed])
        golfer = np.repeat(np.arange(golfers), [2 + g % 6 for g in range(golfers)])
        held = 0
        for _ in range(runs):
            y = rng.normal(0, icc**0.5, golfers)[golfer] + rng.normal(0, (1 - icc) ** 0.5, len(golfer))
            answer = reliability(pd.DataFrame({"golfer": golfer, "y": y}), "y")
            held += answer.ci_low <= icc <= answer.ci_high
        yield f"ICC {icc}, {golfers} golfers, 2 to 7 swings each", "coverage", held / runs
    for seed, n in enumerate((10, 20, 50)):
        rng = np.random.default_rng([6, seed])
        hits = np.zeros(2)
        for _ in range(runs):
            answer = agreement(rng.normal(1, 2, n), np.zeros(n))
            hits += [
                answer.bias_low <= 1 <= answer.bias_high,
                answer.upper_low <= 1 + 1.96 * 2 <= answer.upper_high,
            ]
        yield f"agreement, {n} pairs", "coverage of the bias", hits[0] / runs
        yield f"agreement, {n} pairs", "coverage of the upper limit", hits[1] / runs


def contact_cells(runs: int) -> Iterator[Row]:
    """False positives of contact models, golfers that lean one way (SD 1 in log odds), slopes that differ (SD .3)."""
    for seed, golfers in enumerate((8, 12, 24)):
        rng = np.random.default_rng([7, seed])
        golfer = np.repeat(np.arange(golfers), 20)
        hits, counted = np.zeros(4), np.zeros(4)
        for _ in range(runs):
            x = rng.normal(0, 1, len(golfer))
            own, slope = rng.normal(0, 1, golfers)[golfer], rng.normal(0, 0.3, golfers)[golfer]
            latent = own + slope * x + rng.logistic(size=len(golfer))
            table = pd.DataFrame({"golfer": golfer, "x": x, "skilled": (golfer < golfers // 2).astype(float)})
            table["contact"] = np.array(["fat", "clean", "thin"])[np.searchsorted([-1.5, 1.0], latent)]
            table["clean"] = (latent > 0).astype(float)
            for place, fit in enumerate((fit_ordinal_mixed, fit_binary)):
                try:
                    p = fit(table, "contact" if place == 0 else "clean", ["x", "skilled"]).coefficients["p"]
                except BadTable:
                    continue
                hits[2 * place : 2 * place + 2] += [p["x"] < 0.05, p["skilled"] < 0.05]
                counted[2 * place : 2 * place + 2] += 1
        names = ["ordered, within", "ordered, group", "yes or no, within", "yes or no, group"]
        for name, share in zip(names, hits / counted, strict=True):
            yield f"{golfers} golfers, 20 swings each", f"{name}, false positives", share


PARTS: dict[str, Callable[[int], Iterator[Row]]] = {
    "series": series_cells,
    "slopes": slope_cells,
    "groups": group_cells,
    "repeat": repeat_cells,
    "contact": contact_cells,
}


def main(part: str, runs: int) -> None:
    """Run one part, or all, and append its table."""
    for name in PARTS if part == "all" else [part]:
        began = time.monotonic()
        lines = [
            f"\n## {name}: {runs} made sets a cell\n",
            "| cell | measure | value |",
            "| --- | --- | --- |",
        ]
        for cell, measure, value in PARTS[name](runs):
            lines.append(f"| {cell} | {measure} | {value:.3f} |")
            print(lines[-1], flush=True)
        lines.append(f"\nMonte Carlo error of a share near .05: {(0.05 * 0.95 / runs) ** 0.5:.3f}.")
        with OUT.open("a", encoding="utf-8") as file:
            file.write("\n".join(lines) + "\n")
        print(f"{name}: {time.monotonic() - began:.0f} s", flush=True)


if __name__ == "__main__":
    main(sys.argv[1], int(sys.argv[2]))
