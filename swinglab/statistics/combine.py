"""Random-effects meta-analysis of the slopes within golfers of several studies, suited to few studies."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd
import scipy
from scipy import optimize

from swinglab.errors import BadTable
from swinglab.statistics.candidates import read_candidates
from swinglab.statistics.screen_within import equal_weights, mean_slopes, own_slopes

FEWEST = 2


@dataclass(frozen=True, slots=True, eq=False)
class CombinedStudies:
    """Mean slope within golfers over several studies, and the heterogeneity of the studies.

    table : one row for each study, with study, estimate (slope, outcome units per ten units of posture),
    standard_error, df, ci_low, ci_high, weight (share of the total weight), n_golfers, n_swings. estimate,
    standard_error, df, p, ci_low, ci_high (95 %) : mean slope. between_sd : SD of the studies' true slopes.
    prediction_low, prediction_high : 95 % prediction limits of the slope in a further study; NaN with two studies. q,
    q_p : Cochran's Q, a test of heterogeneity, and its p.
    """

    table: pd.DataFrame
    estimate: float
    standard_error: float
    df: float
    p: float
    ci_low: float
    ci_high: float
    between_sd: float
    prediction_low: float
    prediction_high: float
    q: float
    q_p: float


def combine_studies(
    tables: Mapping[str, pd.DataFrame], outcome: str, posture: str, *, adjust: tuple[str, ...] = ()
) -> CombinedStudies:
    """Combine the slopes within golfers of several studies by a random-effects meta-analysis.

    The slope of a study is the mean of its golfers' own slopes, with limits from t. The combined slope is the
    random-effects mean of the studies' slopes.

    Parameters
    ----------
    tables : mapping
        Name of the study -> its swing table. A golfer may be in one study only.
    outcome, posture : str
        Columns that every table has.
    adjust : tuple of str
        Covariates to adjust for in each study.

    Raises
    ------
    BadTable
        Fewer than two studies, a study in which fewer than two golfers have enough swings for a slope, or a golfer in
        two studies.

    References
    ----------
    Paule & Mandel 1982 (variance between studies); Hartung & Knapp 2001 (limits, t with studies minus 1); Higgins,
    Thompson & Spiegelhalter 2009 (prediction). All from memory.
    """
    if len(tables) < FEWEST:
        raise BadTable(
            f"a meta-analysis needs {FEWEST} studies or more, not {len(tables)}",
            do="add tables of further studies",
        )
    _need_own_golfers(tables)
    rows = [_one_study(name, table, outcome, posture, adjust) for name, table in tables.items()]
    table = pd.DataFrame(rows)
    return combine_estimates(table)


def combine_estimates(table: pd.DataFrame) -> CombinedStudies:
    """Combine the estimates of several studies by a random-effects meta-analysis.

    `table` has one row for each study, with the columns estimate and standard_error.

    Examples
    --------
    >>> rows = pd.DataFrame({"estimate": [1.0, 2.0, 1.5], "standard_error": [0.5, 0.5, 0.5]})
    >>> round(combine_estimates(rows).estimate, 2)
    1.5
    """
    y, variance = table["estimate"].to_numpy(float), table["standard_error"].to_numpy(float) ** 2
    k = len(y)
    between = _between_variance(y, variance)
    weight = 1.0 / (variance + between)
    mean = float(weight @ y / weight.sum())
    # The factor is at least 1: a few studies that agree by chance would otherwise give limits that are too narrow.
    spread = max(1.0, float(weight @ (y - mean) ** 2 / (k - 1)))
    error = float(np.sqrt(spread / weight.sum()))
    df = float(k - 1)
    half = float(scipy.stats.t.ppf(0.975, df)) * error
    fixed = 1.0 / variance
    q = float(fixed @ (y - fixed @ y / fixed.sum()) ** 2)
    wide = float(scipy.stats.t.ppf(0.975, k - 2) * np.sqrt(between + error**2)) if k > 2 else np.nan
    shown = table.assign(weight=weight / weight.sum())
    return CombinedStudies(
        shown, mean, error, df, float(2 * scipy.stats.t.sf(abs(mean) / error, df)), mean - half, mean + half,
        float(np.sqrt(between)), mean - wide, mean + wide, q, float(scipy.stats.chi2.sf(q, k - 1)),
    )  # fmt: skip


def _between_variance(y: np.ndarray, variance: np.ndarray) -> float:
    """Paule and Mandel's variance between studies, at which Q equals the number of studies minus 1."""
    k = len(y)

    def excess(between: float) -> float:
        weight = 1.0 / (variance + between)
        return float(weight @ (y - weight @ y / weight.sum()) ** 2) - (k - 1)

    if excess(0.0) <= 0:
        return 0.0
    high = float(np.ptp(y)) ** 2 + float(variance.max())
    while excess(high) > 0:
        high *= 4
    return float(optimize.brentq(excess, 0.0, high, xtol=1e-14))


def _need_own_golfers(tables: Mapping[str, pd.DataFrame]) -> None:
    seen: dict[object, str] = {}
    for name, table in tables.items():
        for golfer in table["golfer"].unique():
            if golfer in seen:
                raise BadTable(
                    f"the golfer code {golfer} occurs in the studies {seen[golfer]} and {name}, but studies with the "
                    "same golfers are not independent",
                    do="if these are two golfers, change one of the codes; if it is one golfer, remove the golfer from "
                    "one study",
                )
            seen[golfer] = name


def _one_study(
    name: str, table: pd.DataFrame, outcome: str, posture: str, adjust: tuple[str, ...]
) -> dict[str, object]:
    c = read_candidates(table, outcome, [posture], golfer="golfer", adjust=adjust)
    own = own_slopes(c, np.array(sorted(set(c.golfer), key=str), dtype=object))
    there = ~np.isnan(own.slopes[:, 0])
    if there.sum() < 2:
        raise BadTable(
            f"study {name}: the number of golfers with enough swings for a slope of their own is {there.sum()}, but "
            "two are needed",
            do="leave this study out",
        )
    fit = mean_slopes(own, equal_weights(own))
    estimate, error, df = float(fit.estimate[0]), float(fit.standard_error[0]), float(there.sum() - 1)
    half = float(scipy.stats.t.ppf(0.975, df)) * error
    return {
        "study": name, "estimate": estimate, "standard_error": error, "df": df, "ci_low": estimate - half,
        "ci_high": estimate + half, "n_golfers": int(there.sum()), "n_swings": int(own.counts[there, 0].sum()),
    }  # fmt: skip
