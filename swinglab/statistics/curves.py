"""Permutation tests of curves over time: maximum statistic (max-T), and cluster mass as a secondary test."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy import ndimage

from swinglab.errors import BadRequest, BadTable
from swinglab.statistics.maximum import adjust_by_maximum, critical_value, score_of_share, t_of_score
from swinglab.statistics.screen_within import golfer_signs

FEWEST_GOLFERS = 6
FEWEST_IN_A_GROUP = 3
_ALPHA = 0.05
NOTE = (
    "The ends of an interval are not the times at which a difference begins and ends: the test shows only that there "
    "is a difference somewhere in the interval, and smoothing spreads it to neighbouring times."
)


@dataclass(frozen=True, slots=True, eq=False)
class CurveTest:
    """A curve of differences (or slopes) over time, with simultaneous confidence limits.

    time : (n,) as given. estimate : (n,). ci_low, ci_high : (n,) 95 % limits, simultaneous over all times. p_adjusted :
    (n,) p value at each time, adjusted for the number of times by the maximum statistic. clusters : (first time, last
    time, p) of each interval of neighbouring times at which |t| exceeds its unadjusted .05 critical value. To test an
    interval, each |t| is converted to the standard normal value with the same tail probability, and their sum is
    compared with the largest such sum in each permutation. Values are NaN at times that were left out. golfers : number
    of golfers used. samples : number of permutations; exact : whether these are all permutations. note : how the
    intervals may be interpreted.
    """

    time: np.ndarray
    estimate: np.ndarray
    ci_low: np.ndarray
    ci_high: np.ndarray
    p_adjusted: np.ndarray
    clusters: tuple[tuple[float, float, float], ...]
    golfers: int
    samples: int
    exact: bool
    note: str = NOTE

    def beyond(self, alpha: float = _ALPHA) -> list[tuple[float, float]]:
        """Return (first time, last time) of each interval in which the adjusted p is below alpha."""
        low = np.nan_to_num(self.p_adjusted, nan=1.0) < alpha
        edges = np.flatnonzero(np.diff(np.r_[False, low, False].astype(int)))
        return [(float(self.time[a]), float(self.time[b - 1])) for a, b in edges.reshape(-1, 2)]


def compare_curves(
    time: np.ndarray,
    curves: np.ndarray,
    *,
    other: np.ndarray | None = None,
    paired: bool = False,
    mask: np.ndarray | None = None,
    samples: int = 4999,
    seed: int = 1,
) -> CurveTest:
    """Compare golfers' mean curves with 0, between two conditions of the same golfers, or between two groups.

    Parameters
    ----------
    time : numpy.ndarray, (n,)
        Time from impact in s, or another scale, such as the position between two events.
    curves : numpy.ndarray, (G, n)
        One mean curve for each golfer. Without `other`, their mean is tested against 0.
    other : numpy.ndarray, (H, n), optional
        Curves of another group, or, if `paired`, of the same golfers in the same order under a second condition. The
        difference is other minus curves.
    paired : bool
        Whether row i of `other` belongs to the golfer of row i of `curves`.
    mask : numpy.ndarray of bool, (n,), optional
        True at times that are left out, for example near impact, where the filter distorts the curves.
    samples, seed : int
        Number of random permutations, and their seed. For two groups, a permutation exchanges the golfers' group
        labels. Otherwise it changes the signs of whole golfers' curves; with few golfers (13 or fewer for 4999
        samples), all patterns of signs are used instead.

    Raises
    ------
    BadRequest, BadTable
        Arrays whose shapes do not agree, missing values outside the mask, or fewer than six golfers (for two groups,
        fewer than three golfers in a group).

    Notes
    -----
    The statistic at each time is t (for two groups, with pooled variance). p is adjusted by the largest |t| over
    time; this controls the probability of one or more false positives among all times. Neighbouring times whose |t|
    exceeds its .05 critical value form an interval (see `CurveTest`, clusters). Use the p of an interval as a
    supplement to the adjusted p.

    References
    ----------
    Nichols & Holmes 2002 (from memory).

    Examples
    --------
    >>> rng = np.random.default_rng(1)
    >>> time = np.linspace(-0.3, 0.1, 41)
    >>> curves = rng.normal(size=(10, 41)).cumsum(axis=1) / 5 + 4 * (time > 0)
    >>> bool(compare_curves(time, curves).p_adjusted[-1] < 0.05)
    True
    """
    first = _checked(time, curves, mask)
    if other is None:
        return _against_zero(time, first, samples, seed)
    second = _checked(time, other, mask)
    if paired:
        if first.shape != second.shape:
            raise BadRequest(
                f"paired curves need one row for each golfer in both arrays, but curves has {len(first)} rows and "
                f"other has {len(second)}",
                do="give the curves of the same golfers in the same order",
            )
        return _against_zero(time, second - first, samples, seed)
    return _two_groups(time, first, second, samples, seed)


def relate_curves(
    time: np.ndarray,
    curves: np.ndarray,
    outcome: Sequence[float] | np.ndarray,
    golfer: Sequence | np.ndarray,
    *,
    mask: np.ndarray | None = None,
    samples: int = 4999,
    seed: int = 1,
) -> CurveTest:
    """Relate curves of swings to an outcome within golfers, at every time of the curve.

    At each time, the slope of the outcome on the curve is computed for each golfer, and the mean over golfers is
    tested against 0.

    Parameters
    ----------
    time, mask, samples, seed
        As in `compare_curves`.
    curves : numpy.ndarray, (N, n)
        One curve for each of N swings.
    outcome : sequence of float, (N,)
        One value for each swing.
    golfer : sequence, (N,)
        The golfer of each swing. Golfers with fewer than five swings are not used.

    Returns
    -------
    CurveTest
        Its estimate is the mean over golfers of their slopes, in outcome units per ten units of the curve.

    Raises
    ------
    BadRequest, BadTable
        Arrays whose shapes do not agree, missing values, or fewer than six golfers with five swings or more.
    """
    values = _checked(time, curves, mask)
    y, who = np.asarray(outcome, float), np.asarray(golfer)
    if not len(y) == len(who) == len(values) or not np.isfinite(y).all():
        raise BadRequest(
            f"outcome and golfer must have one value for each of the {len(values)} swings, without missing values",
            do="leave out swings without outcome or golfer",
        )
    slopes = []
    for name in dict.fromkeys(who.tolist()):
        own = who == name
        if own.sum() < 5:
            continue
        x = values[own] - values[own].mean(axis=0)
        spread = (x**2).sum(axis=0)
        with np.errstate(invalid="ignore", divide="ignore"):
            slopes.append(10.0 * ((y[own] - y[own].mean()) @ x) / np.where(spread > 0, spread, np.nan))
    if len(slopes) < FEWEST_GOLFERS:
        raise BadTable(
            f"{len(slopes)} golfers have five swings or more, but a test of curves needs {FEWEST_GOLFERS} such golfers",
            do="measure more golfers, or more swings of each",
        )
    return _against_zero(time, np.array(slopes), samples, seed)


def _checked(time: np.ndarray, curves: np.ndarray, mask: np.ndarray | None) -> np.ndarray:
    values = np.array(curves, float)
    if values.ndim != 2 or values.shape[1] != len(time):
        raise BadRequest(
            f"curves must be an array with one row for each curve and {len(time)} columns (one for each time), but its "
            f"shape is {values.shape}",
            do="give curves and time of the same swings",
        )
    if mask is not None:
        if np.shape(mask) != (len(time),):
            raise BadRequest(
                f"mask must have one value for each of the {len(time)} times, but its shape is {np.shape(mask)}",
                do="give one Boolean for each time",
            )
        values[:, np.asarray(mask, bool)] = np.nan
    there = ~np.isnan(values).all(axis=0)
    if not there.any() or not np.isfinite(values[:, there]).all():
        raise BadTable(
            "some curves have missing values",
            do="leave out these curves, or these times by the argument mask",
        )
    return values


def _against_zero(time: np.ndarray, values: np.ndarray, samples: int, seed: int) -> CurveTest:
    golfers = len(values)
    if golfers < FEWEST_GOLFERS:
        raise BadTable(
            f"a test of curves needs {FEWEST_GOLFERS} golfers, not {golfers}: with fewer, p cannot be below .05",
            do="measure more golfers",
        )
    exact = 2 ** (golfers - 1) <= samples + 1
    signs = golfer_signs(golfers, samples, np.random.default_rng(seed), all_patterns=exact)
    there = np.isfinite(values).all(axis=0)
    z = values[:, there]
    norm = np.sqrt(golfers * (z**2).sum(axis=0))
    unit = np.divide(z, norm, out=np.zeros_like(z), where=norm > 0)
    df = golfers - 1.0
    share, drawn = unit.sum(axis=0), unit.T @ signs
    mean = z.mean(axis=0)
    error = z.std(axis=0, ddof=1) / np.sqrt(golfers)
    about = z - mean
    norm = np.sqrt(golfers * (about**2).sum(axis=0))
    own = np.divide(about, norm, out=np.zeros_like(about), where=norm > 0).T @ signs
    widest = critical_value(score_of_share(own, df).max(axis=0))
    return _result(time, there, mean, error, df, share, drawn, widest, golfers, exact)


def _two_groups(
    time: np.ndarray, first: np.ndarray, second: np.ndarray, samples: int, seed: int
) -> CurveTest:
    if min(len(first), len(second)) < FEWEST_IN_A_GROUP:
        raise BadTable(
            f"the groups have {len(first)} and {len(second)} golfers, but each group needs {FEWEST_IN_A_GROUP} or more",
            do="measure more golfers",
        )
    both = np.vstack([first, second])
    there = np.isfinite(both).all(axis=0)
    z = both[:, there]
    golfers, df = len(both), len(both) - 2.0
    label = np.r_[np.zeros(len(first)), np.ones(len(second))]
    orders = np.argsort(np.random.default_rng(seed).random((samples, golfers)), axis=1)
    labels = label[orders].T - label.mean()
    centred = z - z.mean(axis=0)
    scale = np.sqrt((centred**2).sum(axis=0) * ((label - label.mean()) ** 2).sum())
    unit = np.divide(centred, scale, out=np.zeros_like(centred), where=scale > 0)
    share, drawn = unit.T @ (label - label.mean()), unit.T @ labels
    mean = z[label == 1].mean(axis=0) - z[label == 0].mean(axis=0)
    rest = sum(((part - part.mean(axis=0)) ** 2).sum(axis=0) for part in (z[label == 0], z[label == 1]))
    error = np.sqrt(rest / df * (1 / len(first) + 1 / len(second)))
    return _result(time, there, mean, error, df, share, drawn, 0.0, golfers, False)


def _result(
    time: np.ndarray, there: np.ndarray, mean: np.ndarray, error: np.ndarray, df: float, share: np.ndarray,
    drawn: np.ndarray, widest: float, golfers: int, exact: bool,
) -> CurveTest:  # fmt: skip
    score, resampled = score_of_share(share, df), score_of_share(drawn, df)
    found = adjust_by_maximum(score, resampled, counts_itself=exact)
    half = float(t_of_score(max(found.critical, widest), np.array(df))) * error
    clusters = _clusters(np.asarray(time, float), there, score, resampled, exact)
    return CurveTest(
        np.asarray(time, float), _spread(mean, there), _spread(mean - half, there), _spread(mean + half, there),
        _spread(found.single_step, there), clusters, golfers, drawn.shape[1], exact,
    )  # fmt: skip


def _spread(values: np.ndarray, there: np.ndarray) -> np.ndarray:
    full = np.full(len(there), np.nan)
    full[there] = values
    return full


def _clusters(
    time: np.ndarray, there: np.ndarray, score: np.ndarray, resampled: np.ndarray, exact: bool
) -> tuple[tuple[float, float, float], ...]:
    """Return intervals of neighbouring times with scores above 1.96: (first time, last time, p).

    p is the share of permutations whose largest sum of scores over an interval is at least the observed sum.
    """
    full = np.zeros(len(there))
    full[there] = score
    label, number = ndimage.label(full > 1.96)
    if not number:
        return ()
    drawn = np.zeros((len(there), resampled.shape[1]))
    drawn[there] = resampled
    largest = np.array([_largest_mass(column) for column in drawn.T])
    extra = 0 if exact else 1
    found = []
    for k in range(1, number + 1):
        own = label == k
        reached = (largest >= full[own].sum() * (1 - 1e-9)).sum()
        p = float((reached + extra) / (len(largest) + extra))
        found.append((float(time[own][0]), float(time[own][-1]), p))
    return tuple(found)


def _largest_mass(score: np.ndarray) -> float:
    label, number = ndimage.label(score > 1.96)
    return float(ndimage.sum_labels(score, label, np.arange(1, number + 1)).max()) if number else 0.0
