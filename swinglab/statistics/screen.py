"""Search among many posture quantities for those related to an outcome, with p adjusted for their number."""

from __future__ import annotations

from collections.abc import Sequence

import pandas as pd

from swinglab.statistics.screen_family import Screen, ScreenRequest, screen_family


def screen_postures(
    table: pd.DataFrame,
    outcome: str,
    *,
    candidates: Sequence[str],
    level: str = "within",
    golfer: object = None,
    adjust: Sequence[str] = (),
    samples: int = 4999,
    seed: int = 1,
) -> Screen:
    """Search many columns (candidates) for those related to an outcome, with p adjusted for all of them.

    The adjusted p values control the family-wise error rate (max-T method). Within golfers, the statistic is the
    studentised mean of golfers' own slopes; for each resample, the signs of golfers are flipped at random, the same for
    all candidates. Between golfers, the statistic is the slope of a regression on golfer means, and the golfers'
    residuals are permuted. For one golfer, the series is first transformed to uncorrelated errors, and blocks of
    neighbouring swings are permuted. Confirm the findings of a search on new data.

    Parameters
    ----------
    table : pandas.DataFrame
        One row for each swing: golfer, the outcome, the candidates; session, club, shot and order where known.
    outcome : str
        A numeric column.
    candidates : sequence of str
        Numeric columns that are searched.
    level : {"within", "between", "golfer"}
        Whether relations within golfers, between golfers, or in the swings of one golfer are searched.
    golfer : optional
        The golfer whose swings are used, for the level "golfer".
    adjust : sequence of str
        Covariates by which outcome and candidates are adjusted.
    samples : int
        Number of random resamples. Within golfers, all patterns of signs are used if their number is not larger.
    seed : int
        Seed of the random numbers.

    Returns
    -------
    Screen

    Raises
    ------
    BadRequest
        An unknown level, or a golfer who is not in the table.
    BadTable
        Too few golfers (six are needed within and between golfers) or swings for a search.

    Notes
    -----
    Tests are two-sided. The weights of golfers' slopes depend only on the variance of the candidate and the number of
    swings (`screen_within.spread_weights`). If golfers' slopes are correlated with their numbers of swings, the
    estimate uses equal weights, and p is the larger of the p values with either kind of weights. Estimates are
    not corrected for measurement error. With six golfers the smallest p from sign flips is 2 / 64; therefore, with six
    or seven golfers, the smaller of the max-T p and Holm's p from Student's t is reported.

    References
    ----------
    Westfall & Young 1993; Freedman & Lane 1983.

    Examples
    --------
    >>> import numpy as np
    >>> rng = np.random.default_rng(1)
    >>> swings = pd.DataFrame(rng.normal(size=(160, 3)), columns=["tilt", "bend", "angle"])
    >>> swings["golfer"] = np.repeat(list("ABCDEFGH"), 20)
    >>> swings["angle"] += 0.8 * swings["tilt"]
    >>> found = screen_postures(swings, "angle", candidates=["tilt", "bend"]).table
    >>> found.loc[found["p_adjusted"] < 0.05, "column"].tolist()
    ['tilt']
    """
    request = ScreenRequest(table, outcome, candidates, level, golfer, adjust)
    return screen_family([request], samples=samples, seed=seed)[0]
