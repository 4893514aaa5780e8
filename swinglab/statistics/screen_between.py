"""Search between golfers: regression on golfer means for each candidate, tested by permuting golfers' residuals."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from swinglab.statistics.candidates import Candidates, indicator, moving_columns, without
from swinglab.statistics.maximum import score_of_share, t_of_score


@dataclass(frozen=True, slots=True, eq=False)
class _Part:
    """Candidates that are available for the same golfers.

    places : (k,) positions of the candidates. golfers : (g,) positions of the golfers among all golfers. x, y :
    (g, k) and (g,) golfer means after regression on the covariates; x is scaled to length 1. basis : (g, q)
    orthonormal basis of intercept and covariates. df : residual degrees of freedom.
    """

    places: np.ndarray
    golfers: np.ndarray
    x: np.ndarray
    y: np.ndarray
    basis: np.ndarray
    df: float


@dataclass(frozen=True, slots=True, eq=False)
class MeansSlopes:
    """Slopes of golfers' mean outcome on the golfer means of J candidates.

    estimate, standard_error (outcome units per ten units of the candidate), score (standard normal value with the tail
    probability of |t|), df (number of golfers minus number of coefficients), golfers, swings (numbers used), same_sign
    (number of golfers for whom the product of the deviations of outcome and candidate from their means has the sign of
    the slope) : arrays (J,). correlation : (J, J) of the candidates' golfer means. parts : data for resampling.
    """

    estimate: np.ndarray
    standard_error: np.ndarray
    score: np.ndarray
    df: np.ndarray
    golfers: np.ndarray
    swings: np.ndarray
    same_sign: np.ndarray
    correlation: np.ndarray
    parts: tuple[_Part, ...]

    def resampled(self, orders: np.ndarray) -> np.ndarray:
        """Return the `score` of each of J candidates in B permutations of the golfers' residuals, (J, B).

        The residuals are those of the model without the candidate. `orders` : (B, G) permutations of the G golfers.
        """
        scores = np.zeros((len(self.estimate), len(orders)))
        for part in self.parts:
            rank = np.argsort(np.argsort(orders[:, part.golfers], axis=1), axis=1)
            mixed = part.y[rank]
            # Regress the permuted outcome on the covariates again (Freedman and Lane).
            mixed = mixed - (mixed @ part.basis) @ part.basis.T
            norm = np.sqrt((mixed**2).sum(axis=1))
            share = np.divide(
                part.x.T @ mixed.T, norm, out=np.zeros((part.x.shape[1], len(mixed))), where=norm > 0
            )
            scores[part.places] = score_of_share(share, part.df)
        return scores

    def limits(self, critical: float) -> tuple[np.ndarray, np.ndarray]:
        """Return simultaneous lower and upper limits, each (J,): estimate -/+ t times the standard error.

        t is the value whose `score` equals `critical`, the critical value of the largest score over all candidates.
        """
        half = t_of_score(critical, self.df) * self.standard_error
        return self.estimate - half, self.estimate + half


def between_slopes(c: Candidates, golfers: np.ndarray, fewest: int) -> MeansSlopes:
    """Regress golfers' mean outcome on the golfer means of each candidate, adjusted for the means of the covariates.

    `golfers` : labels. Candidates with fewer than `fewest` golfers, or whose means do not vary, have the estimate NaN.
    """
    code = pd.Index(golfers).get_indexer(pd.Index(c.golfer))
    J = len(c.names)
    estimate, error, score, df = np.full(J, np.nan), np.full(J, np.nan), np.zeros(J), np.ones(J)
    number, swings, same = np.zeros(J, int), np.zeros(J, int), np.zeros(J, int)
    rest = np.zeros((len(golfers), J))
    parts = []
    for rows, places in c.patterns():
        present, own = np.unique(code[rows], return_inverse=True)
        number[places], swings[places] = len(present), rows.sum()
        if len(present) < fewest:
            continue
        sums = indicator(np.ravel(own), len(present))
        size = np.asarray(sums.sum(axis=1)).ravel()
        means = (sums @ np.column_stack([c.y[rows], c.x[np.ix_(rows, places)], c.z[rows]])) / size[:, None]
        means = means - means.mean(axis=0)
        k = len(places)
        z = moving_columns(means[:, k + 1 :])
        basis = np.linalg.qr(np.column_stack([np.ones(len(means)), z]))[0]
        left = len(present) - basis.shape[1] - 1.0
        values = without(z, means[:, : k + 1])
        y, x = values[:, 0], values[:, 1:]
        norm = np.sqrt((x**2).sum(axis=0))
        moves = norm > 1e-9 * np.sqrt((means[:, 1 : k + 1] ** 2).sum(axis=0)) + 1e-12
        if left < 2 or not moves.any() or not (y**2).sum() > 0:
            continue
        places, x, norm = places[moves], x[:, moves], norm[moves]
        unit = x / norm
        share = (y @ unit) / np.sqrt(y @ y)
        estimate[places] = (y @ unit) / norm
        error[places] = np.sqrt(np.maximum(1 - share**2, 0.0) * (y @ y) / left) / norm
        score[places], df[places] = score_of_share(share, left), left
        same[places] = ((y[:, None] * unit * np.sign(share)) > 0).sum(axis=0)
        rest[np.ix_(present, places)] = unit
        parts.append(_Part(places, present, unit, y, basis, left))
    norm = np.sqrt((rest**2).sum(axis=0))
    rest = np.divide(rest, norm, out=rest, where=norm > 0)
    return MeansSlopes(
        estimate, error, score, df, number, swings, same, np.clip(rest.T @ rest, -1, 1), tuple(parts)
    )


def golfer_orders(golfers: int, samples: int, rng: np.random.Generator) -> np.ndarray:
    """Return random permutations of the golfers' indices, (samples, golfers)."""
    return np.argsort(rng.random((samples, golfers)), axis=1)
