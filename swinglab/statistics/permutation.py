"""Permutation tests: flips of golfers' signs, exchanges of group labels, exchanges of blocks of one golfer's swings."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import reduce
from itertools import combinations, permutations
from math import comb

import numpy as np

from swinglab.errors import BadTable
from swinglab.statistics.rows import numbers_of

#: Largest number of values, of group assignments and of blocks for which all arrangements are used; beyond it the
#: number of random arrangements below is drawn.
_EXACT_SIGNS = 30
_EXACT_LABELS = 50_000
_EXACT_BLOCKS = 7
_DRAWN = 99_999
_DRAWN_LABELS = 19_999
_DRAWN_BLOCKS = 1_999
#: Arrangements that differ from the observed one by rounding alone count as equal to it.
_TIE = 1e-9


@dataclass(frozen=True, slots=True, eq=False)
class PermutationTest:
    """Result of a two-sided permutation test.

    estimate : the observed statistic. p : share of permutations whose statistic is at least as far from 0.
    arrangements : number of permutations used. exact : whether these are all possible permutations. n : number of
    values (golfers or swings).
    """

    estimate: float
    p: float
    arrangements: int
    exact: bool
    n: int


def permutation_test_paired(differences: Sequence[float] | np.ndarray, *, seed: int = 0) -> PermutationTest:
    """Test whether the mean of paired differences is 0, by flipping their signs; the estimate is their mean.

    There is one value for each golfer, such as a difference or a slope. The null hypothesis is that a value and its
    negative are equally likely. All patterns of signs are used for up to 30 values; otherwise 99,999 are drawn.

    Parameters
    ----------
    differences : sequence of float, (n,)
        Missing values are not used. With n values the smallest possible p is 2 / 2**n, so p below .05 needs six values.
    seed : int
        Seed of the drawn patterns.

    Returns
    -------
    PermutationTest

    Raises
    ------
    BadTable
        Fewer than two values, or an infinite one.

    References
    ----------
    Fisher 1935.

    Examples
    --------
    >>> permutation_test_paired([1.0, 2.0, 3.0, 1.5, 2.5, 0.5]).p
    0.03125
    """
    values = numbers_of(differences, "differences")
    values = values[~np.isnan(values)]
    n = len(values)
    if n < 2:
        raise BadTable(
            f"a paired permutation test needs two differences or more, but {n} is given",
            do="give more differences",
        )
    observed = abs(values.sum())
    reach = observed - _TIE * np.abs(values).sum()
    if n <= _EXACT_SIGNS:
        share = _share_reached(values, reach) if reach > 0 else 1.0
        return PermutationTest(float(values.mean()), share, 2**n, True, n)
    rng = np.random.default_rng(seed)
    reached = 0
    for size in _batches(_DRAWN, n):
        signs = rng.integers(0, 2, (size, n), dtype=np.int8) * 2.0 - 1.0
        reached += int((np.abs(signs @ values) >= reach).sum())
    return PermutationTest(float(values.mean()), (1 + reached) / (1 + _DRAWN), _DRAWN, False, n)


def _share_reached(values: np.ndarray, reach: float) -> float:
    """Share of all sign patterns whose sum is at least `reach` from 0, computed from the sums of two halves."""
    first, second = (
        reduce(lambda sums, value: np.concatenate([sums + value, sums - value]), part, np.zeros(1))
        for part in np.split(values, [len(values) // 2])
    )
    second.sort()
    over = len(second) - np.searchsorted(second, reach - first, side="left")
    under = np.searchsorted(second, -reach - first, side="right")
    return int((over + under).sum()) / 2 ** len(values)


def permute_groups(first: np.ndarray, second: np.ndarray, *, seed: int = 0) -> PermutationTest:
    """Test the difference of the means of two groups by exchanging group labels; the estimate is second - first.

    `first`, `second` : one value for each golfer of the group. All assignments of golfers to groups are used if there
    are no more than 50,000; otherwise 19,999 are drawn, with this seed. The null hypothesis is that both groups have
    the same distribution, so a difference of their SDs can also lead to a small p.
    """
    both = np.concatenate([first, second]) - np.mean([*first, *second])
    n, k = len(both), len(second)
    estimate = float(np.mean(second) - np.mean(first))

    def differences(sums: np.ndarray) -> np.ndarray:
        return np.abs(sums / k - (both.sum() - sums) / (n - k))

    reach = abs(estimate) - _TIE * np.abs(both).max()
    if comb(n, k) <= _EXACT_LABELS:
        chosen = np.fromiter((i for choice in combinations(range(n), k) for i in choice), int)
        p = np.mean(differences(both[chosen.reshape(-1, k)].sum(axis=1)) >= reach)
        return PermutationTest(estimate, float(p), comb(n, k), True, n)
    rng = np.random.default_rng(seed)
    reached = 0
    for size in _batches(_DRAWN_LABELS, n):
        chosen = np.argsort(rng.random((size, n)), axis=1)[:, :k]
        reached += int((differences(both[chosen].sum(axis=1)) >= reach).sum())
    return PermutationTest(estimate, (1 + reached) / (1 + _DRAWN_LABELS), _DRAWN_LABELS, False, n)


def permute_blocks(
    values: np.ndarray,
    statistic: Callable[[np.ndarray], np.ndarray],
    *,
    length: int,
    fitted: int = 1,
    seed: int = 0,
) -> PermutationTest:
    """Test a statistic of one golfer's series by exchanging whole blocks of neighbouring swings.

    Parameters
    ----------
    values : numpy.ndarray, (n,)
        One value for each swing, in the order of play. Under the null hypothesis, blocks must be exchangeable.
    statistic : callable
        Function that takes m series, (m, n), and returns their statistics, (m,).
    length : int
        Number of swings in a block, large enough that neighbouring blocks are nearly independent.
    fitted : int
        Number of coefficients whose fit was already subtracted from the values, including the mean. This reduces the
        variance of the blocks, so the permuted statistics are multiplied by sqrt((blocks - 1) / (blocks - fitted)).
    seed : int
        Seed of the random orders. With up to seven blocks all orders are used.

    Returns
    -------
    PermutationTest
        Its p is 1 if there are no more blocks than fitted coefficients.
    """
    n = len(values)
    number = -(-n // length)
    blocks = np.full(number * length, -1)
    blocks[:n] = np.arange(n)
    observed = float(statistic(values[None])[0])
    exact = number <= _EXACT_BLOCKS
    if exact:
        orders = np.array(list(permutations(range(number))))
    else:
        orders = np.argsort(np.random.default_rng(seed).random((_DRAWN_BLOCKS, number)), axis=1)
    places = blocks.reshape(number, length)[orders].reshape(len(orders), -1)
    # The last block may be shorter; each permutation contains every swing once.
    series = values[places[places >= 0].reshape(len(orders), n)]
    stretch = np.sqrt((number - 1) / (number - fitted)) if number > fitted else np.inf
    found = stretch * np.abs(statistic(series)) >= abs(observed) - _TIE * np.abs(values).max()
    p = found.mean() if exact else (1 + found.sum()) / (1 + len(orders))
    return PermutationTest(observed, float(p), len(orders), exact, n)


def _batches(total: int, width: int) -> list[int]:
    """Sizes of batches, `total` rows in all, so that an array of a batch takes about 20 MB."""
    size = max(1, 2_500_000 // width)
    return [min(size, total - done) for done in range(0, total, size)]
