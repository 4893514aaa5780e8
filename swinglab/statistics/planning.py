"""How likely a planned study settles a hunch: golfers, sessions and swings, from golfers' own slopes."""

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

#: A study is large enough where the chance to settle reaches this, both at no effect and at twice the smallest.
WANTED = 0.8
#: Quantiles of a variance's own uncertainty for which the chance is shown as well.
_RANGE = (0.1, 0.9)
_NODES = np.linspace(0.0005, 0.9995, 400)


@dataclass(frozen=True, slots=True)
class SlopeSpread:
    """What a plan rests on, all within golfers; per unit of posture, as the posture is given.

    slope_sd : SD of golfers' true slopes. residual_sd : SD of the outcome about a golfer's line. posture_sd : SD
    of a golfer's posture about the session's mean. posture_memory, outcome_memory : autocorrelation of
    successive swings. df : degrees of freedom behind the variances, for their uncertainty.
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
                "a plan needs SDs above 0 (slope_sd from 0) and autocorrelations between -1 and 1"
            )


@dataclass(frozen=True, slots=True)
class Plan:
    """Chances that a study settles the question, and a range for them.

    at_zero : chance of "too small to matter" where there is no effect (90 % interval inside +/- the smallest
    effect). at_twice : chance of "borne out" where the effect is twice the smallest. low, high : the smaller of
    both where the variances are as large, or as small, as the data leave open (80 %). standard_error : of the
    slope, expected.
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
        """The smaller of both chances: a plan must serve whichever is true."""
        return min(self.at_zero, self.at_twice)


def plan_within(
    spread: SlopeSpread, *, golfers: int, sessions: int = 1, swings: int, smallest_effect: float
) -> Plan:
    """Chance that a study within golfers settles, by the t test of golfers' own slopes.

    Parameters
    ----------
    spread : SlopeSpread
    golfers, sessions, swings : int
        Golfers; sessions of each; swings in a session. One golfer: the answer is for that player.
    smallest_effect : float
        Smallest slope that matters, in the units of `spread`.

    Raises
    ------
    BadRequest
        Counts or a smallest effect that make no study.

    Notes
    -----
    The error of one golfer's slope is residual_sd^2 / (posture_sd^2 (sessions (swings - 1) - 2)), the mean over
    normal postures, times (1 + a b) / (1 - a b) for autocorrelations a and b of posture and residual. df are
    golfers minus 1; for one golfer the swings minus sessions minus 2, divided by the same factor.

    Examples
    --------
    >>> spread = SlopeSpread(slope_sd=0.05, residual_sd=0.6, posture_sd=2.0)
    >>> plan = plan_within(spread, golfers=12, swings=24, smallest_effect=0.05)
    >>> plan.at_zero < plan.at_twice, round(plan.standard_error, 3)
    (True, 0.023)
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
    faults += [] if smallest_effect > 0 else [f"a smallest effect is above 0, not {smallest_effect}"]
    faults += ["one golfer needs 6 swings or more"] if golfers == 1 and sessions * swings < 6 else []
    if faults:
        raise BadRequest("; ".join(faults))


def _variance_and_df(spread: SlopeSpread, golfers: int, sessions: int, swings: int) -> tuple[float, float]:
    memory = spread.posture_memory * spread.outcome_memory
    inflation = (1 + memory) / (1 - memory)
    own = (spread.residual_sd / spread.posture_sd) ** 2 / max(sessions * (swings - 1) - 2, 1) * inflation
    if golfers == 1:
        return own, max((sessions * (swings - 1) - 2) / inflation, 1.0)
    return (spread.slope_sd**2 + own) / golfers, golfers - 1.0


def _chances(error: float, df: float, smallest: float) -> tuple[float, float]:
    """At a slope of 0: the 90 % interval inside +/- smallest; at twice the smallest: p below .05, that sign, and
    not too small."""
    ratio, t90, t95 = _seen(df)
    seen = error * ratio  # the standard error as the study will see it
    room = np.maximum(smallest - t90 * seen, 0.0)
    at_zero = float(np.mean(2 * special.ndtr(room / error) - 1))
    needed = np.maximum(t95 * seen, room)
    return at_zero, float(np.mean(special.ndtr((2 * smallest - needed) / error)))


@cache
def _seen(df: float) -> tuple[np.ndarray, float, float]:
    """Ratios of a standard error seen with df to the true one, at even shares; t of 90 and 95 % intervals."""
    ratio = np.sqrt(scipy.stats.chi2.ppf(_NODES, df) / df)
    return ratio, float(scipy.stats.t.ppf(0.95, df)), float(scipy.stats.t.ppf(0.975, df))


@cache
def _factor(share: float, df: float) -> float:
    """How much larger a variance may be than it was found, at a quantile of its own distribution."""
    return 1.0 if np.isinf(df) else float(df / scipy.stats.chi2.ppf(share, df))


def spread_of_slopes(
    table: pd.DataFrame, outcome: str, posture: str, *, golfer: str = "golfer", session: str = "session"
) -> SlopeSpread:
    """What a plan rests on, from a study: variances of a random-slope fit, autocorrelations of its swings.

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
        raise BadTable(f"{number} golfers whose posture varies: a plan needs three or more")
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
    """Autocorrelation of neighbours in a cell, minus the part that taking out the mean takes away."""
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
    """The smallest number of golfers (two or more) with the wanted chance; None where `most` do not reach it."""
    for golfers in range(2, most + 1):
        plan = plan_within(
            spread, golfers=golfers, sessions=sessions, swings=swings, smallest_effect=smallest_effect
        )
        if plan.chance >= WANTED:
            return plan
    return None


def for_one_player(spread: SlopeSpread) -> SlopeSpread:
    """The spread of a plan for one player: golfers' differences play no part."""
    return replace(spread, slope_sd=0.0)
