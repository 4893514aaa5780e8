"""Two supplementary analyses of one golfer's series, which make other assumptions than AR(1) errors."""

from __future__ import annotations

from itertools import product

import numpy as np

from swinglab.errors import BadTable
from swinglab.statistics.autoregression import fit_ar1
from swinglab.statistics.estimate import Estimate

#: Fewest blocks; with fewer than six, p cannot be below .05.
FEWEST_BLOCKS = 8
#: Largest number of blocks for which all patterns of signs are used; with more, _DRAWN patterns are drawn.
_ALL_PATTERNS = 12
_DRAWN = 4_999
#: A block has so many swings that the correlation of scores one block apart is below this.
_FORGOTTEN = 0.2


def flip_block_signs(x: np.ndarray, y: np.ndarray, others: np.ndarray, *, seed: int = 0) -> tuple[float, int]:
    """Test a slope by flipping signs of blocks of neighbouring swings; return p and the number of swings in a block.

    x and y are replaced by their residuals after regression on the other terms. The null hypothesis is that the sum of
    x y over a block and its negative are equally likely. The correlation of errors within a block may have any form.

    Parameters
    ----------
    x, y : numpy.ndarray, (n,)
        Predictor and outcome in the order of play.
    others : numpy.ndarray, (n, k)
        The other terms: intercept, trend, covariates.
    seed : int
        Seed of the random patterns; with up to 12 blocks all patterns of signs are used.

    Raises
    ------
    BadTable
        Fewer than eight swings.
    """
    n = len(y)
    if n < FEWEST_BLOCKS:
        raise BadTable(
            f"{n} swings are too few for a test by sign flips of blocks, which needs {FEWEST_BLOCKS} blocks of swings",
            do="give more swings",
        )
    both = np.column_stack([x, y])
    rest = both - others @ np.linalg.lstsq(others, both, rcond=None)[0]
    score = rest[:, 0] * rest[:, 1]
    about = score - score.mean()
    tie = float(about[1:] @ about[:-1]) / max(float(about @ about), 1e-300)
    length = 1 if tie <= 0 else int(np.ceil(np.log(_FORGOTTEN) / np.log(min(tie, 0.99))))
    length = max(1, min(length, n // FEWEST_BLOCKS))
    sums = np.add.reduceat(score, np.arange(0, n - length + 1, length))
    observed = abs(sums.sum())
    if len(sums) <= _ALL_PATTERNS:
        signs = np.array(list(product((1.0, -1.0), repeat=len(sums))))
        return float(np.mean(np.abs(signs @ sums) >= observed * (1 - 1e-9))), length
    signs = np.random.default_rng(seed).choice((1.0, -1.0), size=(_DRAWN, len(sums)))
    reached = int((np.abs(signs @ sums) >= observed * (1 - 1e-9)).sum())
    return (1 + reached) / (1 + _DRAWN), length


def fit_differences(
    x: np.ndarray, y: np.ndarray, others: np.ndarray, starts: np.ndarray
) -> tuple[Estimate, float, float]:
    """Estimate a slope from the differences of neighbouring swings; a slow drift of any shape does not bias it.

    Parameters
    ----------
    x, y : numpy.ndarray, (n,)
        Predictor and outcome in the order of play.
    others : numpy.ndarray, (n, k)
        The other terms, without the intercept.
    starts : numpy.ndarray, (n,)
        True where a session begins.

    Returns
    -------
    Estimate, variance, df
        The slope by AR(1) regression of the differences; the residual variance of the differences of x on the
        other terms, and its degrees of freedom.

    Raises
    ------
    BadTable
        Too few differences, or differences of x that depend linearly on the other terms.
    """
    inside = ~starts[1:]
    dx, dy = np.diff(x)[inside], np.diff(y)[inside]
    more = np.diff(others, axis=0)[inside]
    more = more[:, np.ptp(more, axis=0) > 1e-12] if more.shape[1] else more
    more = np.column_stack([np.ones(len(dx)), more])
    steps = np.where(starts[:-1][inside], np.inf, 1.0)
    steps[0] = np.inf
    n, p = len(dx), 1 + more.shape[1]
    rest = dx - more @ np.linalg.lstsq(more, dx, rcond=None)[0]
    if n < p + 3 or not rest @ rest > 1e-12 * max(float(dx @ dx), 1e-300):
        raise BadTable(
            f"{n} differences of neighbouring swings are too few to estimate a slope", do="give more swings"
        )
    fit = fit_ar1(np.column_stack([dx, more]), dy, steps)
    own = Estimate.by_t(fit.b[0], fit.standard_error[0], fit.df[0], p=float(fit.p[0]))
    return own, float(rest @ rest) / (n - more.shape[1]), float(n - more.shape[1])
