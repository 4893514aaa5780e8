"""Error and power of the tests on whole curves, next to two rivals.

By hand, seeded; writes references/evidence/curves.md:

    nice python tests/calibration/curve_errors.py NULLS EFFECTS [OUT]

Curves: 101 times; smooth (Gaussian noise smoothed to a full width at half maximum of 10 or 30 times) or as a posture
near an event (noise grows over time). Rivals: the threshold of a random field in one dimension (Student's t, expected
Euler characteristic, smoothness estimated from the residuals), and the largest statistic at 6 evenly spaced events
alone, by the same flips of signs.

References: Worsley, Marrett, Neelin, Vandal, Friston & Evans 1996, Table II (densities of the t field; from memory);
Kiebel, Poline, Friston, Holmes & Worsley 1999 (smoothness from normalised residuals; from memory).
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
from scipy import ndimage, optimize, signal, stats

from swinglab.statistics.curves import compare_curves, relate_curves

OUT = (
    Path(sys.argv[3])
    if len(sys.argv) > 3
    else Path(__file__).resolve().parents[2] / "references" / "evidence" / "curves.md"
)
N, SAMPLES, ALPHA = 101, 499, 0.05
TIME = np.linspace(-0.4, 0.1, N)
EVENTS = np.linspace(8, 92, 6).round().astype(int)
#: For `relate_curves`: golfers, swings of each, heavy tails, spread of golfers' own slopes about 0 (outcome SDs).
RELATED = ((8, 20, False, 0.0), (8, 20, False, 0.5), (12, 20, False, 0.5), (12, 20, True, 0.5),
           (12, (6, 40), True, 0.5), (24, 12, False, 0.5))  # fmt: skip
RELATED_NULLS = 500
METHODS = ("max-T", "random field", "max-T at 6 events")
#: Golfers, full width at half maximum in times, heavy tails, noise that grows over time.
DESIGNS = ((8, 10, False, False), (8, 30, False, False), (12, 10, False, False), (12, 30, False, True),
           (12, 10, True, False), (8, 10, True, True))  # fmt: skip


def noise(rng: np.random.Generator, rows: int, width: float, heavy: bool, growing: bool) -> np.ndarray:
    """(rows, N) smooth curves of unit variance (before they grow)."""
    pad = int(3 * width)
    drawn = rng.normal(size=(rows, N + 2 * pad))
    made = ndimage.gaussian_filter1d(drawn, width / 2.3548, axis=1)[:, pad : pad + N]
    made *= np.sqrt(2 * np.sqrt(np.pi) * width / 2.3548)
    if heavy:
        made *= np.sqrt(3 / rng.chisquare(3, size=(rows, 1))) / np.sqrt(3)
    return made * np.linspace(0.5, 2.0, N) if growing else made


def random_field_limit(values: np.ndarray) -> float:
    """Two-sided .05 threshold of a one-sample t field over time."""
    golfers = len(values)
    df = golfers - 1.0
    rest = values - values.mean(axis=0)
    rest /= np.sqrt((rest**2).sum(axis=0))
    rough = np.sqrt((np.gradient(rest, axis=1) ** 2).sum(axis=0) * (golfers - 2) / (golfers - 1)).mean()
    resels = (values.shape[1] - 1) * rough / np.sqrt(4 * np.log(2))

    def excess(t: float) -> float:
        line = np.sqrt(4 * np.log(2)) / (2 * np.pi) * (1 + t**2 / df) ** (-(df - 1) / 2)
        return 2 * (stats.t.sf(t, df) + resels * line) - ALPHA

    return float(optimize.brentq(excess, 1.5, 60.0))


def found_by(values: np.ndarray, where: np.ndarray, seed: int) -> dict[str, tuple[bool, bool]]:
    """Whether each method finds anything, and whether it finds something among `where`."""
    t = np.abs(stats.ttest_1samp(values, 0.0).statistic)
    whole = compare_curves(TIME, values, samples=SAMPLES, seed=seed).p_adjusted < ALPHA
    field = t > random_field_limit(values)
    few = np.zeros(N, bool)
    few[EVENTS] = (
        compare_curves(TIME[EVENTS], values[:, EVENTS], samples=SAMPLES, seed=seed).p_adjusted < ALPHA
    )
    return {
        name: (bool(hit.any()), bool(hit[where].any()))
        for name, hit in zip(METHODS, (whole, field, few), strict=True)
    }


def finds_anything(
    rng: np.random.Generator, golfers: int, swings: int | tuple, heavy: bool, spread: float, seed: int
) -> bool:
    """Whether `relate_curves` finds anything in a null study: golfers' own slopes vary about 0 along a smooth curve."""
    counts = (
        np.full(golfers, swings)
        if isinstance(swings, int)
        else rng.permutation(np.linspace(*swings, golfers).round().astype(int))
    )
    own = spread * noise(rng, golfers, 30, heavy, False)
    curves, outcome = [], []
    for slopes, count in zip(own, counts, strict=True):
        x = noise(rng, count, 20, heavy, False)
        e = signal.lfilter(
            [np.sqrt(1 - 0.3**2)], [1.0, -0.3], rng.standard_t(3, count) if heavy else rng.normal(size=count)
        )
        curves.append(x)
        outcome.append((x * slopes).mean(axis=1) * np.sqrt(N / 20) + e)
    who = np.repeat(np.arange(golfers), counts)
    found = relate_curves(
        TIME, np.concatenate(curves), np.concatenate(outcome), who, samples=SAMPLES, seed=seed
    )
    return bool((found.p_adjusted < ALPHA).any())


def related(nulls: int) -> list[str]:
    """A line for each design of `relate_curves`."""
    lines = []
    for place, (golfers, swings, heavy, spread) in enumerate(RELATED):
        rng = np.random.default_rng([22, place])
        error = np.mean([finds_anything(rng, golfers, swings, heavy, spread, k) for k in range(nulls)])
        words = f"{swings}" if isinstance(swings, int) else f"{swings[0]} to {swings[1]}"
        lines.append(
            f"| {golfers} | {words} | {'t, 3 df' if heavy else 'normal'} | {spread:g} | {error:.3f} |"
        )
        print(lines[-1], flush=True, file=sys.stderr)
    return lines


RELATED_HEAD = """
## Swings' curves against their outcome

`relate_curves` in {nulls} null studies of each design (Monte Carlo error {error:.3f} near .05): golfers' own slopes
differ by a smooth curve about 0, outcomes of successive swings are correlated (.3). Error: share of studies in which
anything was found at any time.

| golfers | swings of each | tails | SD of golfers' own slopes | error |
|---|---|---|---|---|
"""


HEAD = """# Error and power of the tests on whole curves

Simulated curves, seeded, by `tests/calibration/curve_errors.py {nulls} {effects}`: {n} times, golfers' curves
against 0, {samples} flips of signs, alpha .05. {nulls} null studies of each design (Monte Carlo error {error:.3f}
near .05), {effects} with an effect on a stretch of 15 times, between the 6 events or on one of them (error {other:.3f}
near .5). Error: share of null studies in which anything was found at any time looked at. Power: share of studies in
which the stretch was found. The threshold of a random field assumes normal curves; flips of signs do not. Six events
cannot show what happens between them; where it happens at an event they show more, because they look at less.
With normal curves a random field finds as much as flips of signs or a little more (up to .10, with 8 golfers, of whose
signs there are 128 patterns); with heavy tails it is strict and finds less.

| golfers | curves | error: {methods} | power between events: {methods} | power at an event: {methods} |
|---|---|---|---|---|
"""


def main(nulls: int, effects: int) -> None:
    head = HEAD.format(
        nulls=nulls, effects=effects, n=N, samples=SAMPLES, error=np.sqrt(0.05 * 0.95 / nulls),
        other=np.sqrt(0.25 / effects), methods=" / ".join(METHODS),
    )  # fmt: skip
    lines = []
    for place, (golfers, width, heavy, growing) in enumerate(DESIGNS):
        rng = np.random.default_rng([21, place])
        every = np.arange(N)
        null = [found_by(noise(rng, golfers, width, heavy, growing), every, k) for k in range(nulls)]
        errors = " / ".join(f"{np.mean([one[m][0] for one in null]):.3f}" for m in METHODS)
        cells = []
        for centre in ((EVENTS[2] + EVENTS[3]) // 2, EVENTS[3]):
            where = np.arange(centre - 7, centre + 8)
            bump = (
                np.exp(-0.5 * ((every - centre) / 2.5) ** 2)
                * 3.4
                / np.sqrt(golfers)
                * (1.25 if growing else 1.0)
            )
            hit = [
                found_by(noise(rng, golfers, width, heavy, growing) + bump, where, k) for k in range(effects)
            ]
            cells.append(" / ".join(f"{np.mean([one[m][1] for one in hit]):.2f}" for m in METHODS))
        words = f"width {width}" + (", heavy tails" if heavy else "") + (", growing" if growing else "")
        lines.append(f"| {golfers} | {words} | {errors} | {cells[0]} | {cells[1]} |")
        print(lines[-1], flush=True, file=sys.stderr)
    more = RELATED_HEAD.format(nulls=RELATED_NULLS, error=np.sqrt(0.05 * 0.95 / RELATED_NULLS))
    OUT.write_text(
        "\n".join([head + "\n".join(lines), more + "\n".join(related(RELATED_NULLS))]) + "\n",
        encoding="utf-8",
    )


if __name__ == "__main__":
    main(int(sys.argv[1]), int(sys.argv[2]))
