"""Power of a comparison of two groups of golfers."""

from __future__ import annotations

import numpy as np
import scipy

from swinglab.errors import BadRequest


def power_between(
    *,
    golfers_per_group: int,
    swings: int,
    between_sd: float,
    within_sd: float,
    difference: float,
    alpha: float = 0.05,
) -> float:
    """Return the power of a t test on golfer means to detect a difference between two groups of golfers.

    Parameters
    ----------
    golfers_per_group, swings : int
        Number of golfers in each group, and number of swings of each golfer.
    between_sd, within_sd : float
        SD of golfers' true means in a group, and SD of a golfer's swings about that golfer's mean.
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


def _golfer_mean_variance(swings: int, between_sd: float, within_sd: float) -> float:
    _need_spread(between_sd=between_sd, within_sd=within_sd)
    variance = between_sd**2 + within_sd**2 / swings
    if not variance > 0:
        raise BadRequest(
            "between_sd and within_sd are both 0, so the groups have no variation",
            do="give one of them above 0",
        )
    return variance


def _power(effect: float, error: float, df: float, alpha: float) -> float:
    if not 0 < alpha < 1:
        raise BadRequest(
            f"alpha must be between 0 and 1, not {alpha}", do="set alpha to a value such as 0.05"
        )
    bound = scipy.stats.t.ppf(1 - alpha / 2, df)
    shift = abs(effect) / error
    if shift > bound + 30:  # beyond any doubt, and beyond the noncentral t's reach
        return 1.0
    return float(scipy.stats.nct.sf(bound, df, shift) + scipy.stats.nct.cdf(-bound, df, shift))


def _need(**given: tuple[int, int]) -> None:
    faults = [
        f"{name} must be {least} or more, not {value}"
        for name, (value, least) in given.items()
        if value < least
    ]
    if faults:
        raise BadRequest(f"the power cannot be computed: {'; '.join(faults)}", do="correct these numbers")


def _need_spread(**given: float) -> None:
    faults = [f"{name} must be 0 or more, not {value}" for name, value in given.items() if not value >= 0]
    if faults:
        raise BadRequest(f"the power cannot be computed: {'; '.join(faults)}", do="correct these numbers")
