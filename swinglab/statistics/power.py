"""How likely a study finds what it looks for, and how many golfers or swings an interval needs."""

from __future__ import annotations

from collections.abc import Callable
from math import inf

import numpy as np
from scipy import stats

from swinglab.errors import BadRequest

_MOST = 100_000


def power_between(
    *,
    golfers_per_group: int,
    swings: int,
    between_sd: float,
    within_sd: float,
    difference: float,
    alpha: float = 0.05,
) -> float:
    """Chance that two groups of golfers are found to differ, by a t test on golfer means.

    Parameters
    ----------
    golfers_per_group, swings : int
        Golfers in each group; swings of each golfer.
    between_sd, within_sd : float
        SD of golfers' true means in a group; SD of a golfer's swings about their own mean.
    difference : float
        True difference of the groups, in the same unit.
    alpha : float
        Two-sided level.

    Returns
    -------
    float
        Between alpha and 1.

    Examples
    --------
    >>> round(power_between(golfers_per_group=64, swings=1, between_sd=1, within_sd=0, difference=0.5), 3)
    0.801
    """
    _need(golfers_per_group=(golfers_per_group, 2), swings=(swings, 1))
    variance = _golfer_mean_variance(swings, between_sd, within_sd)
    error = np.sqrt(2 * variance / golfers_per_group)
    return _power(difference, error, 2 * golfers_per_group - 2, alpha)


def power_within(
    *,
    golfers: int,
    swings: int,
    slope: float,
    slope_sd: float,
    residual_sd: float,
    predictor_sd: float,
    alpha: float = 0.05,
) -> float:
    """Chance that a within-golfer slope is found, by a t test on golfers' own slopes (golfers - 1 df).

    Parameters
    ----------
    golfers, swings : int
        Golfers; swings of each.
    slope, slope_sd : float
        Mean of golfers' true slopes and their SD, outcome units per predictor unit.
    residual_sd, predictor_sd : float
        SD of the outcome about a golfer's own line; SD of the predictor within a golfer.

    Examples
    --------
    >>> power = power_within(golfers=12, swings=30, slope=0.2, slope_sd=0.15, residual_sd=1.5, predictor_sd=2)
    >>> round(power, 2)
    0.87
    """
    _need(golfers=(golfers, 2), swings=(swings, 3))
    error = _slope_error(golfers, swings, slope_sd, residual_sd, predictor_sd)
    return _power(slope, error, golfers - 1, alpha)


def golfers_needed(
    *, width: float, swings: int, between_sd: float, within_sd: float, level: float = 0.95
) -> float:
    """Golfers in each of two groups for an interval of their difference no wider than `width` in all.

    Examples
    --------
    >>> golfers_needed(width=6.0, swings=10, between_sd=5.0, within_sd=3.0)
    24
    """
    _need_width(width)
    _need(swings=(swings, 1))
    variance = _golfer_mean_variance(swings, between_sd, within_sd)
    return _least(lambda n: _width(np.sqrt(2 * variance / n), 2 * n - 2, level), width, least=2)


def golfers_needed_within(
    *,
    width: float,
    swings: int,
    slope_sd: float,
    residual_sd: float,
    predictor_sd: float,
    level: float = 0.95,
) -> float:
    """Golfers for an interval of the mean within-golfer slope no wider than `width` in all.

    Examples
    --------
    >>> golfers_needed_within(width=0.2, swings=30, slope_sd=0.15, residual_sd=1.5, predictor_sd=2.0)
    19
    """
    _need_width(width)
    _need(swings=(swings, 3))

    def wide(golfers: int) -> float:
        error = _slope_error(golfers, swings, slope_sd, residual_sd, predictor_sd)
        return _width(error, golfers - 1, level)

    return _least(wide, width, least=2)


def swings_needed(
    *,
    width: float,
    golfers: int = 1,
    slope_sd: float = 0.0,
    residual_sd: float,
    predictor_sd: float,
    level: float = 0.95,
) -> float:
    """Swings of each golfer for an interval of the within slope no wider than `width` in all.

    One golfer: the interval of that player's own slope, t on swings - 2, swings unrelated in time. Several:
    that of the mean slope, t on golfers - 1; infinite where golfers' slopes differ too much for any number
    of swings to do, so that only more golfers help.

    Examples
    --------
    >>> swings_needed(width=0.5, residual_sd=1.5, predictor_sd=2.0)
    39
    >>> swings_needed(width=0.05, golfers=8, slope_sd=0.2, residual_sd=1.5, predictor_sd=2.0)
    inf
    """
    _need_width(width)
    _need(golfers=(golfers, 1))

    def wide(swings: int) -> float:
        error = _slope_error(golfers, swings, slope_sd if golfers > 1 else 0.0, residual_sd, predictor_sd)
        return _width(error, golfers - 1 if golfers > 1 else swings - 2, level)

    return _least(wide, width, least=3)


def _golfer_mean_variance(swings: int, between_sd: float, within_sd: float) -> float:
    _need_spread(between_sd=between_sd, within_sd=within_sd)
    variance = between_sd**2 + within_sd**2 / swings
    if not variance > 0:
        raise BadRequest("between_sd and within_sd cannot both be 0")
    return variance


def _slope_error(
    golfers: int, swings: int, slope_sd: float, residual_sd: float, predictor_sd: float
) -> float:
    _need_spread(slope_sd=slope_sd, residual_sd=residual_sd, predictor_sd=predictor_sd)
    if not predictor_sd > 0 or not slope_sd + residual_sd > 0:
        raise BadRequest("predictor_sd, and one of slope_sd and residual_sd, must be above 0")
    own = residual_sd**2 / (predictor_sd**2 * (swings - 1))
    return float(np.sqrt((slope_sd**2 + own) / golfers))


def _power(effect: float, error: float, df: float, alpha: float) -> float:
    if not 0 < alpha < 1:
        raise BadRequest(f"alpha lies between 0 and 1, not {alpha}")
    bound = stats.t.ppf(1 - alpha / 2, df)
    shift = abs(effect) / error
    if shift > bound + 30:  # beyond any doubt, and beyond the noncentral t's reach
        return 1.0
    return float(stats.nct.sf(bound, df, shift) + stats.nct.cdf(-bound, df, shift))


def _width(error: float, df: float, level: float) -> float:
    return float(2 * stats.t.ppf((1 + level) / 2, df) * error)


def _least(wide: Callable[[int], float], width: float, *, least: int) -> float:
    """Smallest number whose interval is no wider than wanted (the width falls with the number)."""
    if wide(_MOST) > width:
        return inf
    low, high = least - 1, _MOST
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if wide(middle) <= width else (middle, high)
    return high


def _need(**given: tuple[int, int]) -> None:
    faults = [
        f"{name} must be {least} or more, not {value}"
        for name, (value, least) in given.items()
        if value < least
    ]
    if faults:
        raise BadRequest("; ".join(faults))


def _need_spread(**given: float) -> None:
    faults = [f"{name} must be 0 or more, not {value}" for name, value in given.items() if not value >= 0]
    if faults:
        raise BadRequest("; ".join(faults))


def _need_width(width: float) -> None:
    if not width > 0:
        raise BadRequest(f"a width is a number above 0, not {width}")
