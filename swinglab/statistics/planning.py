"""Power of a planned study of a slope within golfers, for given numbers of golfers, sessions and swings."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cache

import numpy as np
import pandas as pd
import scipy
from scipy import special

from swinglab.errors import BadRequest, BadTable
from swinglab.statistics.design import check_columns
from swinglab.statistics.mixed import fit_mixed

#: A study is large enough if the chance of a clear answer reaches this, both without an effect and with an effect of
#: twice the smallest that matters.
WANTED = 0.8
#: Quantiles of the uncertainty of a variance for which the chance is also computed.
_RANGE = (0.1, 0.9)
_NODES = np.linspace(0.0005, 0.9995, 400)


@dataclass(frozen=True, slots=True)
class SlopeSpread:
    """Standard deviations and autocorrelations from which the power of a planned study is computed.

    slope_sd : SD of golfers' true slopes, outcome units per unit of posture. residual_sd : SD of the outcome about a
    golfer's regression line, in outcome units. posture_sd : SD of a golfer's posture about the mean of the session.
    posture_memory, outcome_memory : autocorrelation of posture, and of the residuals of the outcome, between
    neighbouring swings. df : degrees of freedom of the SDs, from which their uncertainty is computed; infinite if they
    are known exactly.
    """

    slope_sd: float
    residual_sd: float
    posture_sd: float
    posture_memory: float = 0.0
    outcome_memory: float = 0.0
    df: float = np.inf

    def __post_init__(self) -> None:
        good = self.slope_sd >= 0 and self.residual_sd > 0 and self.posture_sd > 0 and self.df > 0
        if not (good and abs(self.posture_memory) < 1 and abs(self.outcome_memory) < 1):
            raise BadRequest(
                "a plan needs residual_sd, posture_sd and df above 0, slope_sd of 0 or more, and autocorrelations "
                f"between -1 and 1, but the values are {self}",
                do="correct these values",
            )


@dataclass(frozen=True, slots=True)
class Plan:
    """Probabilities that a planned study gives a clear answer.

    golfers, sessions, swings : numbers of golfers, of sessions of each golfer, and of swings in a session. at_zero :
    probability of the conclusion "too small to matter" if there is no effect (90 % interval inside +/- the smallest
    effect that matters). at_twice : probability of the conclusion "borne out" (p below .05, in the right direction) if
    the effect is twice the smallest effect. low, high : range of the smaller of these two probabilities, from an 80 %
    interval of the assumed variances. standard_error : expected standard error of the slope.
    """

    golfers: int
    sessions: int
    swings: int
    at_zero: float
    at_twice: float
    low: float
    high: float
    standard_error: float

    @property
    def chance(self) -> float:
        """Probability of a clear answer in the less favourable case: the smaller of `at_zero` and `at_twice`."""
        return min(self.at_zero, self.at_twice)


def plan_within(
    spread: SlopeSpread, *, golfers: int, sessions: int = 1, swings: int, smallest_effect: float
) -> Plan:
    """Return the probabilities that a planned study of a slope within golfers gives a clear answer.

    The answer is that of the t test of golfers' own slopes.

    Parameters
    ----------
    spread : SlopeSpread
    golfers, sessions, swings : int
        Numbers of golfers, of sessions of each golfer, and of swings in a session. With one golfer, the answer is valid
        for that player only.
    smallest_effect : float
        Smallest slope that matters, in the units of `spread`.

    Raises
    ------
    BadRequest
        Numbers too small for a study, or a smallest effect that is not above 0.

    Notes
    -----
    The error variance of one golfer's slope is residual_sd^2 / (posture_sd^2 (sessions (swings - 1) - 2)), the
    expectation over normally distributed postures, times (1 + a b) / (1 - a b) for autocorrelations a of posture and
    b of residuals. The degrees of freedom are the number of golfers minus 1; for one golfer,
    sessions (swings - 1) - 2, divided by the same factor, but at least 1.

    Examples
    --------
    >>> spread = SlopeSpread(slope_sd=0.05, residual_sd=0.6, posture_sd=2.0)
    >>> plan = plan_within(spread, golfers=12, swings=24, smallest_effect=0.05)
    >>> plan.at_zero < plan.at_twice, round(plan.standard_error, 3)
    (True, 0.024)
    """
    _check(golfers, sessions, swings, smallest_effect)
    variance, df = _variance_and_df(spread, golfers, sessions, swings)
    at_zero, at_twice = _chances(np.sqrt(variance), df, smallest_effect)
    ends = []
    for share in _RANGE:
        wider = np.sqrt(variance * _factor(share, spread.df))
        ends.append(min(_chances(wider, df, smallest_effect)))
    low, high = min(ends), max(ends)
    return Plan(golfers, sessions, swings, at_zero, at_twice, low, high, float(np.sqrt(variance)))


def _check(golfers: int, sessions: int, swings: int, smallest_effect: float) -> None:
    faults = [
        f"{name} must be {least} or more, not {value}"
        for name, value, least in (("golfers", golfers, 1), ("sessions", sessions, 1), ("swings", swings, 3))
        if value < least
    ]
    faults += [] if smallest_effect > 0 else [f"smallest_effect must be above 0, not {smallest_effect}"]
    faults += ["with one golfer, swings must be 6 or more"] if golfers == 1 and sessions * swings < 6 else []
    if faults:
        raise BadRequest(f"no plan can be computed: {'; '.join(faults)}", do="correct these numbers")


def _variance_and_df(spread: SlopeSpread, golfers: int, sessions: int, swings: int) -> tuple[float, float]:
    memory = spread.posture_memory * spread.outcome_memory
    inflation = (1 + memory) / (1 - memory)
    own = (spread.residual_sd / spread.posture_sd) ** 2 / max(sessions * (swings - 1) - 2, 1) * inflation
    if golfers == 1:
        return own, max((sessions * (swings - 1) - 2) / inflation, 1.0)
    return (spread.slope_sd**2 + own) / golfers, golfers - 1.0


def _chances(error: float, df: float, smallest: float) -> tuple[float, float]:
    """Chances of a clear answer at a slope of 0 and at twice the smallest effect.

    At 0: the 90 % interval lies inside +/- smallest. At twice the smallest: p is below .05, the sign is correct and
    the 90 % interval does not lie inside +/- smallest.
    """
    ratio, t90, t95 = _seen(df)
    seen = error * ratio  # standard errors that the study may estimate
    room = np.maximum(smallest - t90 * seen, 0.0)
    at_zero = float(np.mean(2 * special.ndtr(room / error) - 1))
    needed = np.maximum(t95 * seen, room)
    return at_zero, float(np.mean(special.ndtr((2 * smallest - needed) / error)))


@cache
def _seen(df: float) -> tuple[np.ndarray, float, float]:
    """Equally likely ratios of an estimated standard error to the true one, and t for 90 and 95 % intervals."""
    ratio = np.sqrt(scipy.stats.chi2.ppf(_NODES, df) / df)
    return ratio, float(scipy.stats.t.ppf(0.95, df)), float(scipy.stats.t.ppf(0.975, df))


@cache
def _factor(share: float, df: float) -> float:
    """Ratio of the true to the estimated variance at a quantile of its chi-squared distribution."""
    return 1.0 if np.isinf(df) else float(df / scipy.stats.chi2.ppf(share, df))


def spread_of_slopes(
    table: pd.DataFrame, outcome: str, posture: str, *, golfer: str = "golfer", session: str = "session"
) -> SlopeSpread:
    """Estimate, from the swing table of an existing study, the SDs and autocorrelations that a plan needs.

    The SDs are those of a mixed model with random slopes. `outcome`, `posture`, `golfer`, `session` : columns.
    Posture and outcome are centred on golfer and `session`; if golfers swung several clubs, `session` must name a
    column that differs between clubs as well.

    Raises
    ------
    BadTable
        Fewer than three golfers, or a posture that does not vary within golfers.
    """
    check_columns(table, [golfer, outcome, posture])
    rows = table[table[outcome].notna() & table[posture].notna()].copy()
    cell = [golfer, session] if session in rows else [golfer]
    if "order" in rows:
        rows = rows.sort_values([*cell, "order"], kind="stable")
    means = rows.groupby(cell)[[posture, outcome]].transform("mean")
    rows["posture deviation"] = rows[posture] - means[posture]
    number = int(rows[golfer].nunique())
    if number < 3 or not rows["posture deviation"].abs().max() > 0:
        raise BadTable(
            f"the posture {posture} varies within {number} golfers, but three or more are needed to estimate the SDs "
            "of a plan",
            do="use a study with more golfers",
        )
    fit = fit_mixed(rows, outcome, ["posture deviation"], golfer=golfer, slopes=["posture deviation"])
    slope = float(fit.coefficients.loc["posture deviation", "estimate"])  # type: ignore[arg-type]
    rest = rows[outcome] - means[outcome] - slope * rows["posture deviation"]
    left = len(rows) - len(rows.groupby(cell))
    return SlopeSpread(
        slope_sd=float(np.sqrt(max(fit.random_covariance.to_numpy()[1, 1], 0.0))),
        residual_sd=float(np.sqrt((rest**2).sum() / (left - 1))),
        posture_sd=float(np.sqrt((rows["posture deviation"] ** 2).sum() / left)),
        posture_memory=_memory(rows["posture deviation"], rows, cell),
        outcome_memory=_memory(rest, rows, cell),
        df=float(number - 1),
    )


def _memory(values: pd.Series, rows: pd.DataFrame, cell: Sequence[str]) -> float:
    """Autocorrelation of neighbouring swings in a cell, corrected for the bias from subtracting the cell's mean."""
    before = values.groupby([rows[name] for name in cell]).shift()
    size = values.groupby([rows[name] for name in cell]).transform("size")
    there = before.notna() & (size >= 8)
    if there.sum() < 20:
        return 0.0
    found = float((values * before)[there].sum() / (before[there] ** 2).sum())
    found += (1 + 3 * found) / float(size[there].mean())
    return float(np.clip(found, 0.0, 0.9))


def least_golfers(
    spread: SlopeSpread, *, sessions: int, swings: int, smallest_effect: float, most: int = 200
) -> Plan | None:
    """Return the plan with the fewest golfers (two or more) whose probability of a clear answer is at least 0.8.

    This probability is `Plan.chance`. `sessions`, `swings` : numbers of sessions of each golfer and of swings in a
    session. Other arguments as in `plan_within`. The result is None if `most` golfers are not enough.
    """
    for golfers in range(2, most + 1):
        plan = plan_within(
            spread, golfers=golfers, sessions=sessions, swings=swings, smallest_effect=smallest_effect
        )
        if plan.chance >= WANTED:
            return plan
    return None


def for_one_player(spread: SlopeSpread) -> SlopeSpread:
    """Return a copy with slope_sd 0, for a plan of one player, which needs no spread of slopes between golfers."""
    return replace(spread, slope_sd=0.0)
