"""Random-effects meta-analysis of the slopes of several studies, with limits suited to few studies."""

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
    """The slope within golfers over several studies.

    table : a row for each study: study, estimate (outcome per ten units), standard_error, df, ci_low, ci_high,
    weight (share), n_golfers, n_swings. estimate, standard_error, df, p, ci_low, ci_high (95 %) : combined.
    between_sd : SD of the studies' true slopes. prediction_low, prediction_high : 95 % prediction limits of the
    slope in a further study; NaN with two studies. q, q_p : Cochran's Q, a test of heterogeneity, and its p.
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
    """Combine the slopes within golfers of several studies, in two stages.

    The first stage gives each study's mean of golfers' own slopes with t limits. The second is a random-effects
    mean over studies.

    Parameters
    ----------
    tables : mapping
        Name of the study -> its swing table. A golfer takes part in one study only.
    outcome, posture : str
        Columns that every table has.
    adjust : tuple of str
        Covariates to adjust for in each study.

    Raises
    ------
    BadTable
        Fewer than two studies, a study with fewer than two golfers who have a slope, or a golfer in two studies.

    References
    ----------
    Paule & Mandel 1982 (variance between studies); Hartung & Knapp 2001 (limits, t with studies minus 1); Higgins,
    Thompson & Spiegelhalter 2009 (prediction). All from memory.
    """
    if len(tables) < FEWEST:
        raise BadTable(f"{len(tables)} study: combining needs {FEWEST} or more")
    _need_own_golfers(tables)
    rows = [_one_study(name, table, outcome, posture, adjust) for name, table in tables.items()]
    table = pd.DataFrame(rows)
    return combine_estimates(table)


def combine_estimates(table: pd.DataFrame) -> CombinedStudies:
    """Combine rows of estimate and standard_error, one a study; the second stage of `combine_studies`.

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
                    f"golfer {golfer} is in {seen[golfer]} and in {name}: studies that share golfers are not "
                    "independent",
                    do="give golfers of different studies codes of their own, and take a shared golfer out of one",
                )
            seen[golfer] = name


def _one_study(
    name: str, table: pd.DataFrame, outcome: str, posture: str, adjust: tuple[str, ...]
) -> dict[str, object]:
    c = read_candidates(table, outcome, [posture], golfer="golfer", adjust=adjust)
    own = own_slopes(c, np.array(sorted(set(c.golfer), key=str), dtype=object))
    there = ~np.isnan(own.slopes[:, 0])
    if there.sum() < 2:
        raise BadTable(f"{name}: {there.sum()} golfers have a slope of their own, two are needed")
    fit = mean_slopes(own, equal_weights(own))
    estimate, error, df = float(fit.estimate[0]), float(fit.standard_error[0]), float(there.sum() - 1)
    half = float(scipy.stats.t.ppf(0.975, df)) * error
    return {
        "study": name, "estimate": estimate, "standard_error": error, "df": df, "ci_low": estimate - half,
        "ci_high": estimate + half, "n_golfers": int(there.sum()), "n_swings": int(own.counts[there, 0].sum()),
    }  # fmt: skip
