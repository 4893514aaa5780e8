"""Search within golfers: mean of golfers' own slopes for each candidate, tested by flipping the signs of golfers."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
import scipy
from scipy import sparse

from swinglab.statistics.candidates import (
    SWINGS_FOR_DRIFT,
    Candidates,
    indicator,
    moving_columns,
    without,
)
from swinglab.statistics.maximum import score_of_share, t_of_score

#: Fewest swings for a golfer's own slope, and fewest golfers for a candidate.
FEWEST_SWINGS = 5
FEWEST_GOLFERS = 6
#: Number of candidates that are resampled together.
_AT_ONCE = 32
#: A candidate counts as constant if adjustment leaves less than this share of its sum of squares (rounding).
_LEFT = 1e-12


@dataclass(frozen=True, slots=True, eq=False)
class OwnSlopes:
    """Slopes of G golfers' outcomes on J candidates, adjusted for covariates and drift.

    golfers : (G,) labels. slopes : (G, J) outcome units per ten units of the candidate. spreads : (G, J) sums of
    squares of the candidate after adjustment. Both are NaN if a golfer has too few swings. counts : (G, J) numbers of
    swings. spent : (G, J) numbers of coefficients estimated from these swings: one mean for each cell, and the
    golfer's drift. correlation : (J, J) of the candidates after adjustment, with 0 in place of a missing value.
    """

    golfers: np.ndarray
    slopes: np.ndarray
    spreads: np.ndarray
    counts: np.ndarray
    spent: np.ndarray
    correlation: np.ndarray


def own_slopes(c: Candidates, golfers: np.ndarray) -> OwnSlopes:
    """Return each golfer's slope of the outcome on each candidate, from deviations from the means of cells.

    The adjustment for covariates uses one slope for all golfers. A drift over the order of swings is removed with one
    slope for each golfer with at least eight swings in known order; it is not removed for the other golfers.
    `golfers` : labels, (G,).
    """
    code = pd.Index(golfers).get_indexer(pd.Index(c.golfer))
    cells = pd.factorize(c.cell)[0]
    shape = (len(golfers), len(c.names))
    slopes, spreads = np.full(shape, np.nan), np.full(shape, np.nan)
    counts, spent = np.zeros(shape, int), np.zeros(shape, int)
    rest = np.zeros_like(c.x)
    for rows, places in c.patterns():
        if not rows.any():
            continue
        y, x, number = _movement(c, rows, places, code, cells)
        per_golfer = indicator(code[rows], len(golfers))
        swings = (per_golfer @ number).astype(int)
        sxx, sxy = per_golfer @ x**2, per_golfer @ (x * y)
        raw = per_golfer @ c.x[np.ix_(rows, places)] ** 2
        enough = (swings >= FEWEST_SWINGS)[:, None] & (sxx > _LEFT * raw)
        counts[:, places] = swings[:, None]
        spent[:, places] = _spent(c, rows, number, code, cells, len(golfers))[:, None]
        spreads[:, places] = np.where(enough, sxx, np.nan)
        slopes[:, places] = np.divide(sxy, sxx, out=np.full(sxx.shape, np.nan), where=enough)
        rest[np.ix_(rows, places)] = x
    return OwnSlopes(golfers, slopes, spreads, counts, spent, _correlation(rest))


def _movement(
    c: Candidates, rows: np.ndarray, places: np.ndarray, code: np.ndarray, cells: np.ndarray
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Outcome (n, 1) and candidates (n, k) about their cell means, adjusted for drift and covariates.

    The third result is 1 for a swing whose cell contains another swing, else 0.
    """
    k = len(places)
    values = np.column_stack([c.x[np.ix_(rows, places)], c.y[rows], c.z[rows], c.order[rows]])
    cell = pd.factorize(cells[rows])[0]
    sums = indicator(cell, cell.max() + 1)
    size = np.asarray(sums.sum(axis=1)).ravel()
    values = values - ((sums @ values) / size[:, None])[cell]
    values, order = values[:, :-1], values[:, -1]
    golfer = pd.factorize(code[rows])[0]
    per_golfer = indicator(golfer, golfer.max() + 1)
    order = _drift(order, golfer, per_golfer)
    spread = per_golfer @ order**2
    slope = np.divide(
        per_golfer @ (values * order[:, None]), spread[:, None],
        out=np.zeros((len(spread), values.shape[1])), where=spread[:, None] > 0,
    )  # fmt: skip
    values = values - order[:, None] * slope[golfer]
    values = np.column_stack(
        [without(moving_columns(values[:, k + 1 :]), values[:, : k + 1]), size[cell] > 1]
    )
    return values[:, k : k + 1], values[:, :k], values[:, -1]


def _spent(
    c: Candidates, rows: np.ndarray, number: np.ndarray, code: np.ndarray, cells: np.ndarray, golfers: int
) -> np.ndarray:
    """Return the number of coefficients of each golfer, (golfers,): cells with several swings, and 1 for a drift.

    `number` : third result of `_movement`.
    """
    code, order = code[rows], pd.Series(c.order[rows])
    about = (order - order.groupby(cells[rows]).transform("mean")).to_numpy()
    drift = _drift(about, code, indicator(code, golfers)) != 0
    seen = pd.DataFrame({"golfer": code, "cell": cells[rows]})[number > 0]
    used = np.bincount(seen.drop_duplicates()["golfer"], minlength=golfers)
    return used + (np.bincount(code, drift, golfers) > 0)


def _drift(order: np.ndarray, golfer: np.ndarray, per_golfer: sparse.csr_matrix) -> np.ndarray:
    """Order of the swings about its cell means; 0 for golfers with few swings or an unknown order."""
    swings = np.asarray(per_golfer.sum(axis=1)).ravel()
    unknown = (per_golfer @ np.isnan(order).astype(float)) > 0
    used = (swings >= SWINGS_FOR_DRIFT) & ~unknown
    return np.where(used[golfer], np.nan_to_num(order), 0.0)


def _correlation(rest: np.ndarray) -> np.ndarray:
    norm = np.sqrt((rest**2).sum(axis=0))
    scaled = np.divide(rest, norm, out=np.zeros_like(rest), where=norm > 0)
    return np.clip(scaled.T @ scaled, -1.0, 1.0)


def spread_weights(own: OwnSlopes) -> np.ndarray:
    """Return weights of the slopes of G golfers for J candidates, (G, J); they do not depend on the outcome.

    A weight is proportional to 1 / (1 / median + 1 / own), where own is the golfer's sum of squares of the candidate
    after adjustment (`OwnSlopes.spreads`) and median is the median of own over golfers. Weights are scaled to mean 1
    over the golfers with a slope for the candidate, and are 0 for the others. They are optimal if the variance of
    slopes between golfers equals the error variance of the slope of a golfer with the median sum of squares. No golfer
    has more than twice the weight of a golfer with the median sum of squares.
    """
    with np.errstate(invalid="ignore", divide="ignore"):
        some = ~np.isnan(own.spreads).all(axis=0)
        middle = np.full(own.spreads.shape[1], np.nan)
        middle[some] = np.nanmedian(own.spreads[:, some], axis=0)
        weight = np.nan_to_num(1.0 / (1.0 / middle + 1.0 / own.spreads))
        return np.nan_to_num(weight * (weight > 0).sum(axis=0) / weight.sum(axis=0))


def equal_weights(own: OwnSlopes) -> np.ndarray:
    """Return equal weights of golfers' slopes, (G, J): 1 for a golfer with a slope, otherwise 0."""
    return (~np.isnan(own.slopes)).astype(float)


@dataclass(frozen=True, slots=True, eq=False)
class MeanSlopes:
    """Weighted means of the slopes of G golfers for J candidates.

    estimate, standard_error, score (standard normal value with the tail probability of |t|), golfers (number with a
    slope) : arrays (J,). weights, slopes : (G, J).
    """

    estimate: np.ndarray
    standard_error: np.ndarray
    score: np.ndarray
    golfers: np.ndarray
    weights: np.ndarray
    slopes: np.ndarray

    def resampled(self, signs: np.ndarray) -> np.ndarray:
        """Return the `score` of each of J candidates after multiplying golfers' slopes by B sets of signs, (J, B).

        `signs` : (G, B), +1 or -1 for each of G golfers.
        """
        return self._scores(self.slopes, signs)

    def largest_about_estimates(self, signs: np.ndarray, used: np.ndarray) -> np.ndarray:
        """Return the largest `score` over candidates in each of B sign flips of the slopes minus their mean, (B,).

        Its quantile gives simultaneous confidence limits. `signs` : (G, B), +1 or -1 for each of G golfers. `used` :
        mask or indices of the candidates over which the largest score is taken.
        """
        about = MeanSlopes(
            self.estimate[used], self.standard_error[used], self.score[used], self.golfers[used],
            self.weights[:, used], self.slopes[:, used] - self.estimate[used],
        )  # fmt: skip
        return about.resampled(signs).max(axis=0)

    def _scores(self, slopes: np.ndarray, signs: np.ndarray) -> np.ndarray:
        """Scores of weighted mean / standard error, both recomputed from the sign-flipped slopes."""
        once, twice = self.weights * slopes, self.weights**2 * slopes
        total, squares = (once**2).sum(axis=0), (self.weights**2).sum(axis=0)
        number, weight = self.golfers, np.maximum(self.weights.sum(axis=0), 1e-300)
        scores = np.empty((slopes.shape[1], signs.shape[1]))
        # A few candidates at a time, so that the numbers stay in the processor's cache.
        for start in range(0, len(scores), _AT_ONCE):
            own = slice(start, start + _AT_ONCE)
            sums = once[:, own].T @ signs
            off = twice[:, own].T @ signs
            mean = sums / weight[own, None]
            off *= -2.0
            off += mean * squares[own, None]
            off *= mean
            off += total[own, None]
            np.square(sums, out=sums)
            off *= number[own, None]
            off += sums
            share = np.divide(sums, off, out=np.zeros_like(sums), where=off > 0)
            scores[own] = score_of_share(np.sqrt(share, out=share), self.df[own, None])
        return scores

    @property
    def df(self) -> np.ndarray:
        """Degrees of freedom, (J,): number of golfers with a slope minus 1, at least 1."""
        return np.maximum(self.golfers - 1.0, 1.0)

    def limits(self, critical: float) -> tuple[np.ndarray, np.ndarray]:
        """Return simultaneous lower and upper limits, each (J,): estimate -/+ t times the standard error.

        t is the value whose `score` equals `critical`, the critical value of the largest score over all candidates.
        """
        half = t_of_score(critical, self.df) * self.standard_error
        return self.estimate - half, self.estimate + half


def mean_slopes(own: OwnSlopes, weights: np.ndarray) -> MeanSlopes:
    """Return the weighted mean of the slopes of G golfers for each of J candidates; `weights` : (G, J)."""
    slopes = np.nan_to_num(own.slopes)
    number = (weights > 0).sum(axis=0)
    total = weights.sum(axis=0)
    with np.errstate(invalid="ignore", divide="ignore"):
        estimate = (weights * slopes).sum(axis=0) / total
        off = (weights**2 * (slopes - estimate) ** 2).sum(axis=0)
        error = np.sqrt(off * number / (number - 1)) / total
        t = np.nan_to_num(estimate / error)
    df = np.maximum(number - 1.0, 1.0)
    return MeanSlopes(estimate, error, score_of_share(t / np.sqrt(df + t**2), df), number, weights, slopes)


@dataclass(frozen=True, slots=True, eq=False)
class WithinFit:
    """Mean slopes within golfers for J candidates, with two choices of weights.

    own : golfers' slopes. weighted : means with the weights of `spread_weights`. equal : means with equal weights.
    related : (J,) whether golfers' slopes are correlated with their numbers of swings; equal weights are then used.
    """

    own: OwnSlopes
    weighted: MeanSlopes
    equal: MeanSlopes
    related: np.ndarray

    @property
    def estimate(self) -> np.ndarray:
        """Mean slope of each candidate, (J,), with the weights that are used for it."""
        return np.where(self.related, self.equal.estimate, self.weighted.estimate)

    @property
    def standard_error(self) -> np.ndarray:
        """Standard error of `estimate`, (J,)."""
        return np.where(self.related, self.equal.standard_error, self.weighted.standard_error)

    @property
    def score(self) -> np.ndarray:
        """Score of each candidate's mean slope with the weights of `spread_weights`, (J,); see `MeanSlopes`."""
        return self.weighted.score

    @property
    def golfers(self) -> np.ndarray:
        """Number of golfers with a slope, (J,)."""
        return self.weighted.golfers

    @property
    def swings(self) -> np.ndarray:
        """Number of swings of the golfers with a slope, (J,)."""
        return np.where(np.isnan(self.own.slopes), 0, self.own.counts).sum(axis=0)

    @property
    def same_sign(self) -> np.ndarray:
        """Number of golfers whose slope has the sign of the estimate, (J,)."""
        return (np.sign(np.nan_to_num(self.own.slopes)) == np.sign(self.estimate)).sum(axis=0)

    @property
    def correlation(self) -> np.ndarray:
        """Correlation (J, J) of the candidates within golfers."""
        return self.own.correlation

    def limits(self, critical: float) -> tuple[np.ndarray, np.ndarray]:
        """Return simultaneous lower and upper limits of `estimate`, (J,) each; `critical` as in `MeanSlopes.limits`."""
        one, other = self.weighted.limits(critical), self.equal.limits(critical)
        return np.where(self.related, other[0], one[0]), np.where(self.related, other[1], one[1])


def within_fit(c: Candidates, golfers: np.ndarray) -> WithinFit:
    """Return the mean slope within golfers of every candidate; `golfers` are the labels, (G,)."""
    own = own_slopes(c, golfers)
    return WithinFit(
        own, mean_slopes(own, spread_weights(own)), mean_slopes(own, equal_weights(own)), counts_related(own)
    )


def golfer_signs(golfers: int, samples: int, rng: np.random.Generator, *, all_patterns: bool) -> np.ndarray:
    """Return B patterns of the signs +1 and -1 of golfers, (golfers, B).

    If `all_patterns` is True, these are all patterns; of a pattern and its negative only one is given, because the test
    is two-sided. Otherwise they are `samples` random patterns.
    """
    if not all_patterns:
        return rng.integers(0, 2, (golfers, samples), dtype=np.int8) * 2.0 - 1.0
    bits = (np.arange(2 ** (golfers - 1)) >> np.arange(golfers)[:, None]) & 1
    return 1.0 - 2.0 * bits


def counts_related(own: OwnSlopes, *, alpha: float = 0.05) -> np.ndarray:
    """Return, for each of J candidates, whether golfers' slopes are correlated with their numbers of swings, (J,).

    The test is a t test of Spearman's rank correlation at the level alpha. With fewer than six golfers the result is
    False.
    """
    related = np.zeros(own.slopes.shape[1], bool)
    there = ~np.isnan(own.slopes)
    patterns, which = np.unique(there, axis=1, return_inverse=True)
    for number, golfers in enumerate(patterns.T):
        places = np.flatnonzero(np.ravel(which) == number)
        n = int(golfers.sum())
        if n < FEWEST_GOLFERS:
            continue
        ranks = [scipy.stats.rankdata(v[np.ix_(golfers, places)], axis=0) for v in (own.slopes, own.counts)]
        slope, count = (rank - rank.mean(axis=0) for rank in ranks)
        norm = np.sqrt((slope**2).sum(axis=0) * (count**2).sum(axis=0))
        r = np.divide((slope * count).sum(axis=0), norm, out=np.zeros(len(places)), where=norm > 0)
        limit = scipy.stats.t.isf(alpha / 2, n - 2)
        related[places] = np.abs(r) > limit / np.sqrt(n - 2 + limit**2)
    return related
