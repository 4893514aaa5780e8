"""How often the several-golfer methods claim something where nothing is, and how often they find what is there.

By hand, seeded (runs a cell, power or not):

    python tests/calibration/statistics_multi.py 2000
    python tests/calibration/statistics_multi.py 2000 power
    python tests/calibration/statistics_multi.py 2000 corrected

Made swings: golfers' own intercepts (SD 1), own slopes (SD 0.3), posture within golfers (SD 1) and golfers'
mean posture (SD 2), errors (SD 1); with `rho` both posture and errors of one golfer are AR(1). Equal numbers:
20 swings each; unequal: 6 to 40. The default methods are marked *. Intervals are the tests turned round, and
moving the true value moves estimates and limits with it, so coverage is 1 less the rate given.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator

import numpy as np
from scipy import stats

from swinglab.statistics.attenuation import correct_observed_slope
from swinglab.statistics.cluster_robust import robust_fit
from swinglab.statistics.mixed import best_of_starts, degrees_of_freedom
from swinglab.statistics.variance import evaluate, moments_from
from swinglab.statistics.wild import sign_patterns, term_scores

GOLFERS = (6, 8, 12, 24)
BATCH = 250
COLUMNS = (
    "within: mixed*", "within: CR2", "within: wild", "within: own slopes", "within: swings pooled",
    "between: means*", "between: CR2", "between: wild", "between: mixed",
    "group: means*", "group: CR2", "group: wild", "group: mixed", "group: swings pooled",
)  # fmt: skip


def numbers(golfers: int, equal: bool) -> np.ndarray:
    """Swings of each golfer."""
    return np.full(golfers, 20) if equal else np.round(np.linspace(6, 40, golfers)).astype(int)


def series(rng: np.random.Generator, n: int, sets: int, rho: float) -> np.ndarray:
    """(n, sets) AR(1) with variance 1."""
    found = rng.normal(size=(n, sets))
    for i in range(1, n):
        found[i] = rho * found[i - 1] + np.sqrt(1 - rho**2) * found[i]
    return found


class Made:
    """Sets of made swings side by side: codes (n,), deviation, y (n, sets), mean posture (G, sets), group (G,)."""

    def __init__(
        self, rng: np.random.Generator, count: np.ndarray, rho: float, sets: int, effects: tuple[float, ...]
    ):
        golfers = len(count)
        self.codes, self.count = np.repeat(np.arange(golfers), count), count
        self.starts = np.concatenate([[0], np.cumsum(count)[:-1]])
        self.group = np.arange(golfers) % 2.0
        self.mean = rng.normal(0, 2, (golfers, sets))
        deviation = np.vstack([series(rng, n, sets, rho) for n in count])
        self.deviation = deviation - self.means(deviation)[self.codes]
        slope = effects[0] + rng.normal(0, 0.3, (golfers, sets))
        own = rng.normal(0, 1, (golfers, sets)) + effects[1] * self.mean
        error = np.vstack([series(rng, n, sets, rho) for n in count])
        self.y = own[self.codes] + slope[self.codes] * self.deviation + error
        self.grouped = (rng.normal(0, 1, (golfers, sets)) + effects[2] * self.group[:, None])[
            self.codes
        ] + np.vstack([series(rng, n, sets, rho) for n in count])

    def means(self, values: np.ndarray) -> np.ndarray:
        """Means of (n, sets) by golfer."""
        return np.add.reduceat(values, self.starts, axis=0) / self.count[:, None]


def mixed_line(
    made: Made, x: list[np.ndarray], slope: np.ndarray | None, y: np.ndarray, term: int
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Estimate, standard error and df of a coefficient by the kit's mixed model, all sets side by side."""
    ones = np.ones_like(y)
    z = [ones] if slope is None else [ones, slope]
    stack = np.stack([*z, *x, y], axis=1)  # (n, k, sets)
    cross = np.stack(
        [np.einsum("nkr,nlr->klr", block, block) for block in np.split(stack, made.starts[1:])], axis=2
    )
    moments = moments_from(cross, len(z), 0, np.full(y.shape[1], float(len(y))))
    theta, done = best_of_starts(moments, reml=True)
    if not done.all():
        print(f"not reached: {(~done).sum()}", file=sys.stderr)
    at = evaluate(moments, theta)
    contrast = np.eye(len(x))[[term]]
    df = degrees_of_freedom(at, contrast, theta, moments.pattern)[0]
    return at.beta[term], np.sqrt(at.inverse[term, term] * at.rss / at.nu), df


def mixed_p(
    made: Made, x: list[np.ndarray], slope: np.ndarray | None, y: np.ndarray, term: int
) -> np.ndarray:
    """p of a coefficient by the kit's mixed model."""
    estimate, error, df = mixed_line(made, x, slope, y, term)
    return 2 * stats.t.sf(np.abs(estimate / error), df)


def means_p(x: np.ndarray, y: np.ndarray) -> np.ndarray:
    """p of the slope of y on x, (G, sets), by regression on golfer means."""
    golfers = len(y)
    xd, yd = x - x.mean(axis=0), y - y.mean(axis=0)
    slope = (xd * yd).sum(axis=0) / (xd**2).sum(axis=0)
    rest = ((yd - slope * xd) ** 2).sum(axis=0) / (golfers - 2)
    return 2 * stats.t.sf(np.abs(slope / np.sqrt(rest / (xd**2).sum(axis=0))), golfers - 2)


def robust_p(made: Made, x: np.ndarray, y: np.ndarray, patterns: np.ndarray) -> tuple[float, float, float]:
    """p by CR2, by wild bootstrap and by pooled least squares, of one set."""
    design = np.column_stack([np.ones(len(y)), x])
    estimate, covariance, df = robust_fit(design, y, made.codes)
    robust = 2 * stats.t.sf(abs(estimate[1]) / np.sqrt(covariance[1, 1]), df[1])
    scores = term_scores(design, y, made.codes, 1)
    pooled = stats.linregress(x, y).pvalue
    return float(robust), scores.p_of(0.0, patterns), float(pooled)


def cell(
    count: np.ndarray, rho: float, runs: int, seed: int, effects: tuple[float, ...]
) -> Iterator[np.ndarray]:
    """p values of every method, (methods, sets), batch after batch."""
    rng = np.random.default_rng(seed)
    patterns, _ = sign_patterns(len(count), 999, seed)
    for _ in range(runs // BATCH):
        made = Made(rng, count, rho, BATCH, effects)
        ones, group = np.ones_like(made.y), np.repeat(made.group[made.codes][:, None], BATCH, axis=1)
        mean, d, y = made.mean[made.codes], made.deviation, made.y
        centred = y - made.means(y)[made.codes]
        own = np.add.reduceat(d * y, made.starts, axis=0) / np.add.reduceat(d * d, made.starts, axis=0)
        robust = [
            np.array([robust_p(made, x[:, r], z[:, r], patterns) for r in range(BATCH)]).T
            for x, z in ((d, centred), (mean, y), (group, made.grouped))
        ]
        yield np.array([
            mixed_p(made, [ones, d], d, y, 1), *robust[0][:2], stats.ttest_1samp(own, 0.0, axis=0).pvalue,
            robust[0][2], means_p(made.mean, made.means(y)), *robust[1][:2], mixed_p(made, [ones, mean, d], d, y, 1),
            means_p(np.repeat(made.group[:, None], BATCH, axis=1), made.means(made.grouped)), *robust[2][:2],
            mixed_p(made, [ones, group], None, made.grouped, 1), robust[2][2],
        ])  # fmt: skip


def corrected(golfers: int, share: float, runs: int) -> tuple[float, float, float]:
    """Coverage of the corrected within line, of the uncorrected, and the mean corrected estimate (true .5).

    `share` of the variance of the posture's deviations is error of single swings.
    """
    rng = np.random.default_rng(golfers)
    count, covered, seen, estimates = numbers(golfers, True), 0, 0, []
    noise = share / (1 - share)
    for _ in range(runs // BATCH):
        made = Made(rng, count, 0.0, BATCH, (0.5, 0.0, 0.0))
        x = made.deviation + rng.normal(0, np.sqrt(noise), made.deviation.shape)
        x = x - made.means(x)[made.codes]
        left = float(len(x) - golfers)
        variance = (x**2).sum(axis=0) / left
        lines = mixed_line(made, [np.ones_like(x), x], x, made.y, 1)
        for b, error, df, observed in zip(*lines, variance, strict=True):
            answer = correct_observed_slope(
                b, error, df, predictor_variance=observed, predictor_df=left, error_variance=noise
            )
            estimates.append(answer.estimate)
            covered += answer.ci_low <= 0.5 <= answer.ci_high
            half = stats.t.ppf(0.975, df) * error
            seen += b - half <= 0.5 <= b + half
    return covered / len(estimates), seen / len(estimates), float(np.mean(estimates))


def corrected_table(runs: int) -> None:
    """Print coverage of the within line with and without correction, one row a cell."""
    print(
        "| golfers | share of error | coverage, corrected* | coverage, as fitted | mean corrected (true .5) |"
    )
    print("|---|---|---|---|---|")
    for golfers in GOLFERS:
        for share in (0.1, 0.3, 0.5):
            covered, seen, mean = corrected(golfers, share, runs)
            print(f"| {golfers} | {share} | {covered:.3f} | {seen:.3f} | {mean:.3f} |", flush=True)


def main(runs: int, power: bool) -> None:
    """Print a table of rejection rates at .05, one row a cell."""
    print("| golfers | swings | rho | " + " | ".join(COLUMNS) + " |")
    print("|" + "---|" * (3 + len(COLUMNS)))
    for golfers in GOLFERS:
        effects = tuple(e / np.sqrt(golfers) for e in (1.2, 1.5, 6.0)) if power else (0.0, 0.0, 0.0)
        for equal in (True, False):
            for rho in (0.0, 0.5):
                seed = 1000 * golfers + 10 * equal + int(2 * rho)
                p = np.hstack(list(cell(numbers(golfers, equal), rho, runs, seed, effects)))
                rates = " | ".join(f"{rate:.3f}" for rate in (p < 0.05).mean(axis=1))
                print(f"| {golfers} | {'equal' if equal else 'unequal'} | {rho} | {rates} |", flush=True)


if __name__ == "__main__":
    wanted = int(sys.argv[1]) if len(sys.argv) > 1 else 2000
    if "corrected" in sys.argv:
        corrected_table(wanted)
    else:
        main(wanted, "power" in sys.argv)
