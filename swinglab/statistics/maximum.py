"""Step-down max-T: p values of many tests, adjusted for their number by the distribution of the largest statistic."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

#: Statistics that differ from the observed one by rounding alone count as equal to it.
_TIE = 1e-9
#: Largest squared correlation with a finite score; beyond it the score is infinite.
_ONE = 1.0 - 1e-15


@dataclass(frozen=True, slots=True, eq=False)
class AdjustedP:
    """Two-sided p values of J statistics, adjusted for their number.

    p : (J,) unadjusted. single_step, step_down : (J,) adjusted by the single-step and the step-down method. critical :
    (1 - alpha) quantile of the largest absolute statistic if there is no effect, for simultaneous confidence limits.
    """

    p: np.ndarray
    single_step: np.ndarray
    step_down: np.ndarray
    critical: float


def adjust_by_maximum(
    observed: np.ndarray, resampled: np.ndarray, *, counts_itself: bool = False, alpha: float = 0.05
) -> AdjustedP:
    """Adjust p values of J tests for their number, by the distribution of the largest statistic under no effect.

    The single-step method compares each observed statistic with the maximum over all tests in each permutation. The
    step-down method takes this maximum only over the test itself and the tests with smaller observed statistics, and
    makes the adjusted p values monotone. It controls the family-wise error rate if the distribution of the statistics
    with a true null hypothesis does not depend on whether the other null hypotheses are true (subset pivotality).

    Parameters
    ----------
    observed : numpy.ndarray, (J,)
        Absolute values of the observed statistics, all on the same scale.
    resampled : numpy.ndarray, (J, B)
        Absolute values of the statistics in B permutations, one in each column.
    counts_itself : bool
        True if the observed data are one of the B permutations, because all permutations are used. If False, the
        observed data are counted as a further permutation.
    alpha : float
        Family-wise error rate for which `critical` is given.

    Returns
    -------
    AdjustedP

    References
    ----------
    Westfall & Young 1993, pp. 66-67.

    Examples
    --------
    >>> rng = np.random.default_rng(1)
    >>> found = adjust_by_maximum(np.array([5.0, 0.1]), np.abs(rng.normal(size=(2, 999))))
    >>> found.step_down[0].item(), bool(found.step_down[1] > 0.5)
    (0.001, True)
    """
    order = np.argsort(observed, kind="stable")
    reach = observed * (1 - _TIE)
    extra = 0 if counts_itself else 1
    total = resampled.shape[1] + extra
    own, stepped = np.empty(len(observed)), np.empty(len(observed))
    running = np.zeros(resampled.shape[1])
    # Go from the smallest statistic to the largest: `running` is the maximum over the current and smaller ones.
    for place in order:
        own[place] = np.count_nonzero(resampled[place] >= reach[place])
        np.maximum(running, resampled[place], out=running)
        stepped[place] = np.count_nonzero(running >= reach[place])
    maxima = np.sort(running)
    single = (len(maxima) - np.searchsorted(maxima, reach) + extra) / total
    down = order[::-1]
    adjusted = np.empty(len(observed))
    adjusted[down] = np.maximum.accumulate((stepped[down] + extra) / total)
    if extra and len(observed):
        maxima = np.sort(np.append(maxima, observed.max()))
    return AdjustedP((own + extra) / total, single, adjusted, critical_value(maxima, alpha))


def critical_value(maxima: np.ndarray, alpha: float = 0.05) -> float:
    """Return the 1 - alpha quantile of the largest statistics of B permutations, (B,).

    At most the share alpha of `maxima` is larger.
    """
    if not len(maxima):
        return 0.0
    return float(np.quantile(maxima, 1 - alpha, method="higher"))


def _scale(df: np.ndarray | float) -> np.ndarray | float:
    return df * ((8 * df + 1) / (8 * df + 3)) ** 2


def score_of_share(share: np.ndarray, df: np.ndarray | float) -> np.ndarray:
    """Return the absolute standard normal value with about the same tail probability as t = sqrt(df) r / sqrt(1 - r^2).

    `share` : r, between -1 and 1. `df` : degrees of freedom of t. On this scale, statistics with different degrees of
    freedom are comparable. For a studentised mean of G values z, df = G - 1 and r = sum(z) / sqrt(G sum(z^2)). For a
    regression slope, r is the partial correlation.

    Notes
    -----
    The formula is (8 df + 1) / (8 df + 3) sqrt(df log(1 + t^2 / df)). For df of 5 and more, it differs from the exact
    value by less than .02.

    References
    ----------
    Wallace 1959.

    Examples
    --------
    >>> round(float(score_of_share(np.sqrt(2.2281**2 / (10 + 2.2281**2)), 10.0)), 2)
    1.96
    """
    found = np.asarray(np.minimum(np.square(share), _ONE))
    np.negative(found, out=found)
    np.log1p(found, out=found)
    found *= -_scale(df)
    return np.sqrt(found, out=found)


def t_of_score(score: float, df: np.ndarray) -> np.ndarray:
    """Return the value of t, for each of the degrees of freedom `df`, with the tail probability of a normal value.

    `score` : the standard normal value. The function inverts the conversion from t in `score_of_share`.
    """
    return np.sqrt(df * np.expm1(score**2 / _scale(df)))
