"""Search among the swings of one golfer: regression with AR(1) errors, tested by permuting blocks of swings."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from swinglab.errors import BadTable
from swinglab.statistics.autoregression import estimate_autocorrelation, whiten
from swinglab.statistics.candidates import Candidates, moving_columns, without
from swinglab.statistics.maximum import score_of_share, t_of_score

#: Fewest swings; with fewer there are too few blocks to permute.
FEWEST_SWINGS = 15


@dataclass(frozen=True, slots=True, eq=False)
class _Part:
    """Candidates that are available for the same swings, whitened and adjusted for session means, trend and covariates.

    places : (k,) positions of the candidates. rows : (m,) positions of the swings in the series. x, y : (m, k) and (m,)
    candidates, scaled to length 1, and outcome. basis : (m, q) orthonormal basis of the adjustment. df : residual
    degrees of freedom.
    """

    places: np.ndarray
    rows: np.ndarray
    x: np.ndarray
    y: np.ndarray
    basis: np.ndarray
    df: float


@dataclass(frozen=True, slots=True, eq=False)
class SeriesSlopes:
    """Slopes of one golfer's outcome on J candidates.

    estimate, standard_error (outcome units per ten units of the candidate), score (standard normal value with the tail
    probability of |t|), df, swings (number used) : arrays (J,). correlation : (J, J) of the candidates after
    adjustment. parts : data for resampling. autocorrelation : of the outcome after adjustment for trend and covariates.
    length : number of swings in a block that is permuted. number : number of swings in the series.
    """

    estimate: np.ndarray
    standard_error: np.ndarray
    score: np.ndarray
    df: np.ndarray
    swings: np.ndarray
    correlation: np.ndarray
    parts: tuple[_Part, ...]
    autocorrelation: float
    length: int
    number: int

    @property
    def golfers(self) -> np.ndarray:
        """Number of golfers, (J,): 1 for every candidate, because the series is of one golfer."""
        return np.ones(len(self.estimate), int)

    @property
    def same_sign(self) -> np.ndarray:
        """Number of golfers whose slope has the sign of the estimate, (J,): 1, the golfer of the series."""
        return self.golfers

    def resampled(self, samples: int, rng: np.random.Generator) -> np.ndarray:
        """Return the `score` of each of J candidates after permuting blocks of the outcome's residuals, (J, samples).

        The permutations are the same for all candidates.
        """
        orders = _block_orders(self.number, self.length, samples, rng)
        scores = np.zeros((len(self.estimate), samples))
        for part in self.parts:
            # Swings without this candidate are dropped; the others keep their permuted order.
            rank = np.argsort(np.argsort(orders[:, part.rows], axis=1), axis=1)
            mixed = part.y[rank]
            mixed = mixed - (mixed @ part.basis) @ part.basis.T
            norm = np.sqrt((mixed**2).sum(axis=1))
            share = np.divide(
                part.x.T @ mixed.T, norm, out=np.zeros((part.x.shape[1], samples)), where=norm > 0
            )
            scores[part.places] = score_of_share(share, part.df)
        return scores

    def limits(self, critical: float) -> tuple[np.ndarray, np.ndarray]:
        """Return simultaneous lower and upper limits, each (J,): estimate -/+ t times the standard error.

        t is the value whose `score` equals `critical`, the critical value of the largest score over all candidates.
        """
        half = t_of_score(critical, self.df) * self.standard_error
        return self.estimate - half, self.estimate + half


def series_slopes(c: Candidates) -> SeriesSlopes:
    """Regress one golfer's outcome on each candidate by generalised least squares, with cell means and a trend.

    The autocorrelation is estimated by REML in the model without the candidate; it is the same for all candidates with
    the same missing values.

    Raises
    ------
    BadTable
        Too few swings, or swings without a known order.
    """
    n, J = c.x.shape
    if n < FEWEST_SWINGS:
        raise BadTable(
            f"a search among one golfer's swings needs at least {FEWEST_SWINGS} swings with an outcome, not {n}",
            do="measure more swings, or ask a single question that was chosen before the data were seen",
        )
    if np.isnan(c.order).any():
        raise BadTable(
            "a search among one golfer's swings needs the order of all swings, because neighbouring swings are "
            "correlated",
            do="fill in the column order in swings.csv",
        )
    visit = pd.factorize(c.cell)[0]
    by = np.lexsort((c.order, visit))
    estimate, error, score, df = np.full(J, np.nan), np.full(J, np.nan), np.zeros(J), np.ones(J)
    swings, rest, parts, memory = np.zeros(J, int), np.zeros((n, J)), [], 0.0
    for held, places in c.patterns():
        rows = by[held[by]]
        swings[places] = len(rows)
        if len(rows) < FEWEST_SWINGS:
            continue
        nuisance, steps = _nuisance(c, rows, visit)
        left = len(rows) - nuisance.shape[1] - 1.0
        if left < 5:
            continue
        phi = estimate_autocorrelation(nuisance, c.y[rows], steps)
        memory = phi if len(rows) >= swings.max() else memory
        white = whiten(phi, np.column_stack([c.y[rows], c.x[np.ix_(rows, places)], nuisance]), steps)
        k = len(places)
        basis = np.linalg.qr(white[:, k + 1 :])[0]
        values = white[:, : k + 1] - basis @ (basis.T @ white[:, : k + 1])
        y, x = values[:, 0], values[:, 1:]
        norm = np.sqrt((x**2).sum(axis=0))
        moves = norm > 1e-9 * np.sqrt((white[:, 1 : k + 1] ** 2).sum(axis=0)) + 1e-12
        if not moves.any() or not (y @ y) > 0:
            continue
        places, norm = places[moves], norm[moves]
        unit = x[:, moves] / norm
        share = (y @ unit) / np.sqrt(y @ y)
        estimate[places] = (y @ unit) / norm
        error[places] = np.sqrt(np.maximum(1 - share**2, 0.0) * (y @ y) / left) / norm
        score[places], df[places] = score_of_share(share, left), left
        rest[np.ix_(np.flatnonzero(held[by]), places)] = unit
        parts.append(_Part(places, np.flatnonzero(held[by]), unit, y, basis, left))
    length = int(np.ceil(n ** (1 / 3)))
    return SeriesSlopes(
        estimate, error, score, df, swings, np.clip(rest.T @ rest, -1, 1), tuple(parts), memory, length, n
    )


def _nuisance(c: Candidates, rows: np.ndarray, visit: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Columns for session means, a trend within sessions and the covariates; and steps since the previous swing."""
    own = pd.factorize(visit[rows])[0]
    means = (own[:, None] == np.arange(own.max() + 1)).astype(float)
    order = c.order[rows]
    gap = np.r_[np.nan, np.diff(order)]
    new = np.r_[True, own[1:] != own[:-1]]
    if (gap[~new] <= 0).any():
        raise BadTable(
            "two swings of one session have the same number in the column order",
            do="give each swing of a session its own number in the column order of swings.csv",
        )
    unit = float(np.median(gap[~new])) if (~new).any() else 1.0
    trend = without(means, np.column_stack([order / unit, c.z[rows]]))
    trend = moving_columns(trend)
    # Linearly dependent columns would leave the least squares without a unique solution.
    _, r = np.linalg.qr(trend) if trend.shape[1] else (None, np.zeros((0, 0)))
    free = np.abs(np.diag(r)) > 1e-9 * np.abs(np.diag(r)).max() if len(r) else np.zeros(0, bool)
    return np.column_stack([means, trend[:, free]]), np.where(new, np.inf, gap / unit)


def _block_orders(n: int, length: int, samples: int, rng: np.random.Generator) -> np.ndarray:
    """Orders (samples, n) of the swings, with blocks permuted at random; the start of the blocks is random too."""
    start = rng.integers(0, length, samples)
    block = (np.arange(n) + start[:, None]) // length
    keys = rng.random((samples, int(block.max()) + 1))
    return np.argsort(np.take_along_axis(keys, block, axis=1), axis=1, kind="stable")
