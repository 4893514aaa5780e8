"""False positives and coverage of the methods for one golfer, groups, reliability and contact. Run by hand:

    nice python tests/calibration/statistics_single.py PART RUNS

PART is series, blocks, slopes, groups, repeat, contact or all; RUNS is the number of made sets in each cell. Seeded.
Each run appends its table, with the number of runs, to references/evidence/statistics_single.md.
"""

from __future__ import annotations

import itertools
import sys
import time
from collections.abc import Callable, Iterator
from functools import partial
from pathlib import Path

import numpy as np
import pandas as pd
from scipy import special

from swinglab.errors import BadTable
from swinglab.statistics import (
    agreement,
    autoregression,
    compare_means,
    correct_slope,
    fit_binary,
    fit_ordinal_mixed,
    fit_step,
    reliability,
)

OUT = Path(__file__).resolve().parents[2] / "references" / "evidence" / "statistics_single.md"
Row = tuple[str, str, float]


def faded(n: int, autocorrelation: float, rng: np.random.Generator) -> np.ndarray:
    """A stationary AR(1) series of unit variance."""
    made = rng.normal(size=n)
    for i in range(1, n):
        made[i] = autocorrelation * made[i - 1] + np.sqrt(1 - autocorrelation**2) * made[i]
    return made


def laid_out(layout: str, n: int, rng: np.random.Generator) -> tuple[np.ndarray, np.ndarray]:
    """Places of n swings and steps since the swing before."""
    place = np.arange(float(n))
    if layout == "gaps":
        place = np.sort(rng.choice(int(1.4 * n), n, replace=False)).astype(float)
    steps = np.r_[np.inf, np.diff(place)]
    if layout == "sessions":
        steps[:: n // 2] = np.inf
    return place, steps


def faded_sets(steps: np.ndarray, autocorrelation: float, sets: int, rng: np.random.Generator) -> np.ndarray:
    """(n, sets) AR(1) series of unit variance over these steps."""
    made = rng.normal(size=(len(steps), sets))
    for i, step in enumerate(steps):
        tie = autocorrelation**step if np.isfinite(step) else 0.0
        made[i] = np.sqrt(1 - tie**2) * made[i] + (tie * made[i - 1] if tie else 0.0)
    return made


def series_p(x: np.ndarray, y: np.ndarray, steps: np.ndarray, term: int) -> np.ndarray:
    """p of a coefficient for many series y (n, sets) at once, as `fit_ar1` finds it; the first is compared."""
    n, p = x.shape
    grid = autoregression._GRID
    white = autoregression._whiten(grid, np.column_stack([x, y]), steps)
    q, r = np.linalg.qr(white[:, :, :p])
    back = np.linalg.inv(r)
    along = np.swapaxes(q, 1, 2) @ white[:, :, p:]
    variance = ((white[:, :, p:] ** 2).sum(axis=1) - (along**2).sum(axis=1)) / (n - p)
    t = (back @ along)[:, term] / np.sqrt(variance * (back[:, term] ** 2).sum(axis=1)[:, None])
    log_det = np.log1p(-(autoregression._tie(grid, steps) ** 2)).sum(axis=1)
    log_det += 2 * np.log(np.abs(np.diagonal(r, axis1=1, axis2=2))).sum(axis=1)
    criterion = (n - p) * np.log(variance) + log_det[:, None]
    weight = np.exp(-0.5 * (criterion - criterion.min(axis=0)))
    weight *= (autoregression._SHARE * autoregression._prior(grid, x, steps)[:, term])[:, None]
    below = (weight * special.stdtr(n - p, t)).sum(axis=0) / weight.sum(axis=0)
    found = 2 * np.minimum(below, 1 - below)
    np.testing.assert_allclose(found[0], autoregression.fit_ar1(x, y[:, 0], steps).p[term], rtol=1e-8)
    return found


SERIES = {
    "step": lambda n, steps, rng: (np.arange(n) >= n // 2).astype(float),
    "predictor without order": lambda n, steps, rng: rng.normal(size=n),
    "predictor that fades (.6)": lambda n, steps, rng: faded_sets(steps, 0.6, 1, rng)[:, 0],
    "predictor that alternates": lambda n, steps, rng: np.arange(n) % 2.0,
}
LAYOUTS = {
    "one": "one session",
    "sessions": "two sessions, a step between them",
    "gaps": "one session, swings missing in it",
}


def series_cells(runs: int) -> Iterator[Row]:
    """Share of p < .05 with no effect, 50 predictors and layouts in a cell where they are drawn."""
    cells = itertools.product(LAYOUTS, SERIES, (False, True), (20, 40, 80), (-0.3, 0.0, 0.3, 0.6, 0.8))
    for seed, (layout, kind, trend, n, rho) in enumerate(cells):
        rng = np.random.default_rng([1, seed])
        drawn = (
            50 if layout == "gaps" or kind.startswith(("predictor without", "predictor that fades")) else 1
        )
        hits = 0
        for _ in range(drawn):
            place, steps = laid_out(layout, n, rng)
            x = np.column_stack([np.ones(n), SERIES[kind](n, steps, rng)])
            if trend:
                x = np.column_stack([x, place - place.mean()])
            hits += int((series_p(x, faded_sets(steps, rho, runs // drawn, rng), steps, 1) < 0.05).sum())
        cell = f"{LAYOUTS[layout]} / {kind}{' beside a trend' if trend else ''} / {n} swings"
        yield cell, f"{rho:g}", hits / (runs // drawn * drawn)


def block_cells(runs: int) -> Iterator[Row]:
    """Share of p < .05 with no step, blocks of swings exchanged, which stands beside."""
    cells = itertools.product((False, True), (20, 40, 80), (0.0, 0.3, 0.6))
    for seed, (trend, n, rho) in enumerate(cells):
        rng = np.random.default_rng([8, seed])
        after = np.arange(n) >= n // 2
        hits = sum(fit_step(faded(n, rho, rng), after, trend=trend).block_p < 0.05 for _ in range(runs))
        yield f"step{' beside a trend' if trend else ''} / {n} swings", f"{rho:g}", hits / runs


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


def contact_set(golfers: int, equal: bool, rho: float, rng: np.random.Generator) -> pd.DataFrame:
    """Swings of golfers that lean one way (SD 1 in log odds), slopes that differ (SD .3), without any effect."""
    number = np.full(golfers, 20) if equal else np.round(np.linspace(6, 40, golfers)).astype(int)
    golfer = np.repeat(np.arange(golfers), number)
    start = np.r_[True, golfer[1:] != golfer[:-1]]
    x, error = faded_sets(np.where(start, np.inf, 1.0), rho, 2, rng).T
    own, slope = rng.normal(0, 1, golfers)[golfer], rng.normal(0, 0.3, golfers)[golfer]
    latent = own + slope * x + special.logit(special.ndtr(error))
    table = pd.DataFrame({"golfer": golfer, "x": x, "skilled": (golfer % 2).astype(float)})
    table["contact"] = np.array(["fat", "clean", "thin"])[np.searchsorted([-1.5, 1.0], latent)]
    return table.assign(clean=(latent > 0).astype(float))


#: The covariance that hunches on contact take.
yes_or_no = partial(fit_binary, covariance="kauermann_carroll")


def contact_cells(runs: int) -> Iterator[Row]:
    """False positives of contact models: ordered words and yes or no, a term within golfers and a group."""
    designs = ((g, equal, rho) for equal, rho in ((True, 0.0), (False, 0.5)) for g in (8, 12, 24))
    for seed, (golfers, equal, rho) in enumerate(designs):
        rng = np.random.default_rng([7, seed])
        hits, counted = np.zeros(4), np.zeros(4)
        for _ in range(runs):
            table = contact_set(golfers, equal, rho, rng)
            for place, fit in enumerate((fit_ordinal_mixed, yes_or_no)):
                try:
                    p = fit(table, "contact" if place == 0 else "clean", ["x", "skilled"]).coefficients["p"]
                except BadTable:
                    continue
                hits[2 * place : 2 * place + 2] += [p["x"] < 0.05, p["skilled"] < 0.05]
                counted[2 * place : 2 * place + 2] += 1
        names = ["ordered, within", "ordered, group", "yes or no, within", "yes or no, group"]
        cell = (
            f"{golfers} golfers, {'20 swings each' if equal else '6 to 40 swings'}, autocorrelation {rho:g}"
        )
        for name, share in zip(names, hits / counted, strict=True):
            yield cell, name, share


PARTS: dict[str, Callable[[int], Iterator[Row]]] = {
    "series": series_cells,
    "blocks": block_cells,
    "slopes": slope_cells,
    "groups": group_cells,
    "repeat": repeat_cells,
    "contact": contact_cells,
}


def wide(rows: list[Row]) -> list[str]:
    """A table with one row a cell and one column a measure."""
    measures = list(dict.fromkeys(measure for _, measure, _ in rows))
    shares = {(cell, measure): f"{value:.3f}" for cell, measure, value in rows}
    return [
        f"| cell | {' | '.join(measures)} |",
        "| --- " * (1 + len(measures)) + "|",
        *(
            f"| {cell} | {' | '.join(shares.get((cell, measure), '') for measure in measures)} |"
            for cell in dict.fromkeys(cell for cell, _, _ in rows)
        ),
    ]


def main(part: str, runs: int) -> None:
    """Run one part, or all, and append its table."""
    for name in PARTS if part == "all" else [part]:
        began = time.monotonic()
        rows = []
        for row in PARTS[name](runs):
            rows.append(row)
            print(*row[:2], f"{row[2]:.3f}", flush=True)
        error = f"Monte Carlo error of a share near .05: {(0.05 * 0.95 / runs) ** 0.5:.3f}."
        lines = ["", f"## {name}: {runs} made sets a cell", "", *wide(rows), "", error]
        with OUT.open("a", encoding="utf-8") as file:
            file.write("\n".join(lines) + "\n")
        print(f"{name}: {time.monotonic() - began:.0f} s", flush=True)


if __name__ == "__main__":
    main(sys.argv[1], int(sys.argv[2]))
