"""The answer to a hunch within golfers: swings are compared with others of the same golfer, session and club."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import NamedTuple

import numpy as np
import pandas as pd
import scipy

from swinglab.answers.drift import WithoutDrift, entangled, take_out_drift
from swinglab.answers.level import Level, depends_on, need_golfers, spread_of
from swinglab.answers.question import CELL, GOLFER, ORDER, PHASE, Asked, X, Y, with_method_term
from swinglab.answers.rules import ALPHA, FEWEST_GOLFERS
from swinglab.errors import BadTable
from swinglab.finding_words import Note
from swinglab.records import Finding
from swinglab.statistics.estimate import Estimate
from swinglab.statistics.mixed import MixedFit, fit_mixed
from swinglab.statistics.permutation import permutation_test_paired

#: Fewest swings for a golfer's own slope.
_FEWEST_SWINGS = 5
#: Share of golfers with a slope of the opposite sign from which a warning is given.
_MANY = 0.1
DEVIATION = f"{Y} deviation"


def within_slope(asked: Asked) -> Finding:
    """Return the slope within golfers by the primary method, without supplementary methods."""
    rows, adjust, ways = deviations(asked)
    need_golfers(int(rows[GOLFER].nunique()), "within")
    drift = take_out_drift(rows, [X, Y, *adjust])
    mixed, own, level, method = fit_slope(asked, drift, adjust)
    return level.line(method, own, (*ways, *drift.notes, *mixed.warnings))


def relate_within(asked: Asked) -> list[Finding]:
    """Return the answer to a hunch within golfers, one finding for each method; the primary method is first."""
    rows, adjust, ways = deviations(asked)
    need_golfers(int(rows[GOLFER].nunique()), "within")
    drift = take_out_drift(rows, [X, Y, *adjust])
    found = _lines(asked, drift, adjust, [*ways, *drift.notes])
    if drift.terms and PHASE in rows and entangled(rows, cell=CELL, order=ORDER, phase=PHASE):
        both = _default(asked, WithoutDrift(rows, 0, ()), adjust, [Note("order_and_phase")], leaves_out=False)
        found.insert(1, replace(both.line, method_key="random_slope_with_drift"))
    return found


def level_within(asked: Asked) -> Level:
    """Return the level "within" of a hunch; its rows are deviations from cell means, with linear drift removed."""
    rows, adjust, _ = deviations(asked)
    return _level(asked, take_out_drift(rows, [X, Y, *adjust]), adjust)[0]


def _level(asked: Asked, drift: WithoutDrift, adjust: list[str]) -> tuple[Level, int]:
    """Return the level "within" of a hunch, and the degrees of freedom of its rows before covariates.

    Raises BadTable if there are too few swings for a slope.
    """
    rows = drift.rows.copy()
    rows[DEVIATION] = rows[Y] - rows.groupby(CELL)[Y].transform("mean")
    adjust = [name for name in adjust if rows[name].abs().max() > 1e-9]
    free = len(rows) - rows[CELL].nunique() - drift.terms
    if free <= len(adjust):
        raise BadTable(
            f"{len(rows)} swings are too few to estimate a slope within golfers and the drift over each session",
            do="measure more swings in each session",
        )
    spread = spread_of(rows, adjust, free)
    return Level(asked, "within", rows, adjust, *spread, asked.swing_variance), free


def fit_slope(asked: Asked, drift: WithoutDrift, adjust: list[str]) -> tuple[MixedFit, Estimate, Level, Note]:
    """Fit the mixed model with random slopes to the swings of `drift` (usually after linear drift was removed).

    `adjust` : names of the covariates. Returns the fit, the estimate of the mean slope, the level "within" with
    the rows that were fitted, and the name of the method.
    """
    level, free = _level(asked, drift, adjust)
    rows, adjust = level.rows, level.adjust
    session = CELL if rows[CELL].nunique() > rows[GOLFER].nunique() else None
    mixed = fit_mixed(rows, Y, [X, *adjust], golfer=GOLFER, slopes=[X], session=session)
    # Golfers' drifts were estimated from the same swings, which costs degrees of freedom.
    cost = float(np.sqrt((free + drift.terms) / free))
    key = "random_slope_sessions" if session else "random_slope"
    method = Note(key, drift=", linear drift removed" if drift.terms else "")
    return mixed, _capped(mixed, rows, cost), level, method


class _Default(NamedTuple):
    """Primary finding within golfers, and its parts that the supplementary methods need.

    line : the finding. level : its rows and variances. plain : the slope before correction for measurement
    error. method : name of the method. own : golfers' own slopes.
    """

    line: Finding
    level: Level
    plain: Estimate
    method: Note
    own: pd.Series


def _default(
    asked: Asked, drift: WithoutDrift, adjust: list[str], notes: Sequence[Note], *, leaves_out: bool = True
) -> _Default:
    """Fit the mixed model; `leaves_out` : whether to look for golfers who decide the result."""
    mixed, plain, level, method = fit_slope(asked, drift, adjust)
    rows, adjust = level.rows, level.adjust
    session = CELL if rows[CELL].nunique() > rows[GOLFER].nunique() else None
    own = own_slopes(rows, adjust)
    warnings = (
        *notes, *mixed.warnings, *_unequal_slopes(mixed, plain), *_counts_and_slopes(rows, own),
        *(depends_on(mixed, rows, [X, *adjust], slopes=[X], session=session) if leaves_out else ()),
    )  # fmt: skip
    return _Default(level.line(method, plain, warnings), level, plain, method, own)


def _lines(asked: Asked, drift: WithoutDrift, adjust: list[str], notes: Sequence[Note]) -> list[Finding]:
    line, level, plain, method, own = _default(asked, drift, adjust, notes)
    found = [line, *level.robust(level.rows, DEVIATION, [X, *level.adjust])]
    if len(own) >= FEWEST_GOLFERS:
        mean, error = float(own.mean()), float(own.std(ddof=1) / np.sqrt(len(own)))
        by_t = Estimate.by_t(mean, error, len(own) - 1)
        test = permutation_test_paired(own.to_numpy())
        patterns = "all patterns" if test.exact else "drawn at random"
        found += [
            level.line(Note("own_slopes"), by_t, n_golfers=len(own)),
            level.stretched(
                Note("slope_signs", patterns=patterns), Estimate(mean, p=test.p), n_golfers=test.n
            ),
        ]
    if line.correction == "corrected":
        found.append(level.as_fitted(method, plain))
    return found


def _capped(mixed: MixedFit, rows: pd.DataFrame, cost: float) -> Estimate:
    """Return the slope with its df limited to the number of golfers whose posture varies, minus 1.

    Where the slope variance is estimated as 0, Satterthwaite's df are close to the number of swings, although the
    answer rests on the golfers' slopes.
    """
    row = mixed.coefficients.loc[[X]].iloc[0]
    usable = int((rows[X].abs().groupby(rows[GOLFER]).max() > 1e-12).sum())
    df = min(float(row["df"]), usable - 1.0)
    return Estimate.by_t(float(row["estimate"]), cost * float(row["standard_error"]), df)


def _unequal_slopes(mixed: MixedFit, slope: Estimate) -> list[Note]:
    """Return a note on the share of golfers with a slope of the opposite sign; empty if it is below 10 %."""
    spread = float(np.sqrt(mixed.random_covariance.to_numpy()[1, 1]))
    if not spread > 0:
        return []
    other = float(scipy.stats.norm.cdf(-abs(slope.estimate) / spread))
    if other < _MANY:
        return []
    df = mixed.n_golfers - 1
    narrow, wide = (spread * float(np.sqrt(df / scipy.stats.chi2.ppf(q, df))) for q in (0.975, 0.025))
    size = abs(slope.estimate)
    half = (slope.ci_high - slope.ci_low) / 2
    low = float(scipy.stats.norm.cdf(-(size + half) / narrow))
    high = float(scipy.stats.norm.cdf(-max(size - half, 0.0) / wide))
    return [Note("unequal_slopes", spread=spread, slope=slope.estimate, other=other, low=low, high=high)]


def _counts_and_slopes(rows: pd.DataFrame, own: pd.Series) -> list[Note]:
    """Return a note if golfers' slopes are correlated with their numbers of swings; otherwise empty."""
    number = rows.groupby(GOLFER)[X].size().reindex(own.index)
    if len(own) < FEWEST_GOLFERS or number.nunique() < 2:
        return []
    together = scipy.stats.spearmanr(number, own)
    if not together.pvalue < ALPHA:
        return []
    return [Note("counts_and_slopes", correlation=float(together.statistic))]


def deviations(asked: Asked) -> tuple[pd.DataFrame, list[str], list[Note]]:
    """Return rows in which posture and covariates are deviations from their cell means.

    The second result lists the covariates that vary within cells; the third contains notes on measurement methods.
    Raises BadTable if no golfer has two swings with different values of the posture.
    """
    rows, adjust, ways = with_method_term(asked.rows, asked.adjust)
    rows = rows.loc[rows.groupby(CELL)[X].transform("size") >= 2].copy()
    cells = rows.groupby(CELL)
    if rows.empty or not (cells[X].max() > cells[X].min()).any():
        where = " of the same session, club and shot" if asked.sessions else ""
        more = "session and club" if asked.sessions else "golfer"
        raise BadTable(
            f"no golfer has two swings{where} with different values of the posture, so a slope within golfers cannot "
            "be estimated",
            do=f"choose another posture, or measure more swings of each {more}",
        )
    names = [X, *adjust]
    rows[names] = rows[names] - cells[names].transform("mean")
    moving = [name for name in adjust if rows[name].abs().max() > 1e-12]
    return rows, moving, ways if set(moving) - set(asked.adjust) else []


def own_slopes(rows: pd.DataFrame, adjust: Sequence[str]) -> pd.Series:
    """Return each golfer's own slope (index: golfer), adjusted for covariates.

    Golfers with fewer than five swings, or whose posture does not vary, are left out.
    """
    others = rows[list(adjust)].to_numpy()

    def left(name: str) -> np.ndarray:
        values = rows[name].to_numpy()
        return values - others @ np.linalg.lstsq(others, values, rcond=None)[0] if adjust else values

    x, y = left(X), left(DEVIATION)
    sums = pd.DataFrame({GOLFER: rows[GOLFER], "xy": x * y, "xx": x * x, "n": 1.0}).groupby(GOLFER).sum()
    enough = (sums["n"] >= _FEWEST_SWINGS) & (sums["xx"] > 1e-12)
    return (sums["xy"] / sums["xx"])[enough]
