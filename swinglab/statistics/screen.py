"""A search among many postures for one that goes with the strike, honest about how many were looked at."""

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
    """Search many columns for those that go with an outcome, with one family-wise error for the whole search.

    Within golfers the statistic is the studentised mean of golfers' own slopes, and one sign per golfer is
    flipped for all candidates at once; between golfers it is the regression on golfer means, and golfers'
    residuals are permuted; for one golfer the series is whitened for its autocorrelation, and blocks of
    neighbouring swings are permuted. What a screen finds is to be confirmed on data it has not seen.

    Parameters
    ----------
    table : pandas.DataFrame
        One row a swing: golfer, the outcome, the candidates; session, club, shot and order where known.
    outcome : str
        A numeric column.
    candidates : sequence of str
        Numeric columns: every one that is looked at.
    level : {"within", "between", "golfer"}
    golfer : optional
        Whose swings, for the level "golfer".
    adjust : sequence of str
        Covariates, taken out of outcome and candidates.
    samples : int
        Resamplings; within golfers all patterns of signs are listed where there are no more than that.
    seed : int

    Returns
    -------
    Screen

    Raises
    ------
    BadRequest
        An unknown level, or a golfer who is not in the table.
    BadTable
        A table that cannot carry the search: too few golfers (six, within and between) or swings.

    Notes
    -----
    Two-sided. Weights of golfers' slopes come from the candidate's spread and count alone
    (`screen_within.spread_weights`); where golfers' slopes go with their counts the equal weights are judged,
    with the larger of both p. Estimates are not corrected for measurement error. The signs of six golfers allow no p
    below 2 / 64: with six or seven the smaller of max-T and Holm's p on Student's t is given.

    References
    ----------
    Westfall & Young 1993; Freedman & Lane 1983.

    Examples
    --------
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
