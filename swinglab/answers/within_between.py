"""The two answers to a hunch: within golfers, and between golfers, each with its companions."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pandas as pd
from scipy import stats

from swinglab.answers.question import (
    CELL,
    GOLFER,
    STEP,
    WAY,
    Asked,
    X,
    Y,
    with_method_term,
)
from swinglab.answers.rules import ALPHA, ASSUMED_PLACEMENT_DEG, FEWEST_GOLFERS
from swinglab.errors import BadTable
from swinglab.finding_words import Note
from swinglab.records import Finding
from swinglab.statistics.attenuation import MOST_ERROR, CorrectedSlope, correct_observed_slope
from swinglab.statistics.cluster_robust import fit_cluster_robust
from swinglab.statistics.estimate import Estimate
from swinglab.statistics.golfer_means import GolferMeansFit, fit_golfer_means
from swinglab.statistics.influence import influence
from swinglab.statistics.mixed import MixedFit, fit_mixed
from swinglab.statistics.permutation import permutation_test_paired
from swinglab.statistics.wild import wild_bootstrap

_FEWEST_SWINGS = 5
#: Share of golfers with the other sign from which on the reader is warned.
_MANY = 0.1
#: With more golfers none is left out in turn.
_MOST_LEFT_OUT = 60
_MEANS = Note("golfer_means")


@dataclass(frozen=True, slots=True, eq=False)
class _Level:
    """One level of a hunch: its rows, and how much of the posture's spread at this level is error."""

    asked: Asked
    name: str
    rows: pd.DataFrame
    adjust: list[str]
    variance: float
    variance_df: float
    error: float

    def corrected(
        self, coefficients: pd.DataFrame, term: str, *, error: float | None = None
    ) -> CorrectedSlope:
        """A fitted slope, corrected for measurement error."""
        row = coefficients.loc[[term]].iloc[0]
        return correct_observed_slope(
            float(row["estimate"]), float(row["standard_error"]), float(row["df"]),
            predictor_variance=self.variance, predictor_df=self.variance_df,
            error_variance=self.error if error is None else error,
        )  # fmt: skip

    def line(
        self, method: Note, answer: CorrectedSlope, warnings: Sequence[Note] = (), **more: Any
    ) -> Finding:
        """A beside line of a corrected slope."""
        estimate = Estimate.by_t(answer.estimate, answer.standard_error, answer.df)
        notes = (*warnings, *answer.warnings)
        correction = "corrected" if answer.corrected and answer.reliability < 1.0 else ""
        return self._line(method, estimate, warnings=notes, correction=correction, **more)

    def plain(self, method: Note, coefficients: pd.DataFrame, term: str) -> Finding:
        """A beside line of a slope as fitted."""
        return self._line(method, Estimate.of_term(coefficients, term), correction="as_fitted")

    def wild(self, outcome: str) -> Finding:
        """A beside line by wild cluster bootstrap; correction moves estimate and limits alike, p stays."""
        found = wild_bootstrap(self.rows, outcome, [X, *self.adjust], golfer=GOLFER, term=X)
        method = Note("wild_bootstrap", weights=found.weights)
        return self._line(
            method,
            found.as_estimate().stretched(self.stretch()),
            warnings=found.warnings,
            correction=self.correction(),
        )

    def stretch(self) -> float:
        """Factor by which the correction moves a slope; 1 where none is made."""
        share = self.error / self.variance
        return 1.0 / (1.0 - share) if share < MOST_ERROR else 1.0

    def correction(self) -> str:
        """Key of the correction of a line whose limits are stretched."""
        return "corrected" if self.stretch() > 1.0 else ""

    def flips(self, own: pd.Series) -> Finding:
        """A beside line by flipping the signs of golfers' own slopes; its estimate is their plain mean."""
        test = permutation_test_paired(own.to_numpy())
        method = Note("slope_signs", patterns="all patterns" if test.exact else "drawn at random")
        estimate = Estimate(test.estimate * self.stretch(), p=test.p)
        return replace(self._line(method, estimate, correction=self.correction()), n_golfers=test.n)

    def _line(self, method: Note, estimate: Estimate, **more: Any) -> Finding:
        golfers, swings = int(self.rows[GOLFER].nunique()), len(self.rows)
        return self.asked.line(self.name, method, estimate, n_golfers=golfers, n_swings=swings, **more)


def within_slope(asked: Asked) -> Finding:
    """The default line of the within level, without its companions."""
    rows, adjust, ways = _deviations(asked)
    need_golfers(int(rows[GOLFER].nunique()), "within")
    spread = _spread_of(rows, adjust, len(rows) - rows[CELL].nunique())
    level = _Level(asked, "within", rows, adjust, *spread, asked.swing_variance)
    session = CELL if rows[CELL].nunique() > rows[GOLFER].nunique() else None
    mixed = fit_mixed(rows, Y, [X, *adjust], golfer=GOLFER, slopes=[X], session=session)
    method = Note("random_slope_sessions" if session else "random_slope")
    return level.line(method, level.corrected(mixed.coefficients, X), (*ways, *mixed.warnings))


def relate_within(asked: Asked) -> list[Finding]:
    """Lines of the within level, the default method first."""
    rows, adjust, ways = _deviations(asked)
    need_golfers(int(rows[GOLFER].nunique()), "within")
    spread = _spread_of(rows, adjust, len(rows) - rows[CELL].nunique())
    level = _Level(asked, "within", rows, adjust, *spread, asked.swing_variance)
    session = CELL if rows[CELL].nunique() > rows[GOLFER].nunique() else None
    mixed = fit_mixed(rows, Y, [X, *adjust], golfer=GOLFER, slopes=[X], session=session)
    robust = fit_cluster_robust(rows, f"{Y} deviation", [X, *adjust], golfer=GOLFER)
    method = Note("random_slope_sessions" if session else "random_slope")
    answer = level.corrected(mixed.coefficients, X)
    said = (*ways, *mixed.warnings, *_unequal_slopes(mixed), *_depends_on(
        mixed, rows, Y, [X, *adjust], fit=fit_mixed, slopes=[X], session=session))  # fmt: skip
    found = [
        level.line(method, answer, said),
        level.line(Note("cluster_robust"), level.corrected(robust.coefficients, X), robust.warnings),
        level.wild(f"{Y} deviation"),
    ]
    own = _own_slopes(rows, adjust)
    if len(own) >= FEWEST_GOLFERS:
        found.append(level.flips(own))
    if answer.corrected and answer.reliability < 1.0:
        found.append(level.plain(method, mixed.coefficients, X))
    return found


def relate_between(asked: Asked) -> list[Finding]:
    """Lines of the between level, the default method first."""
    rows, apart = _comparable(asked)
    need_golfers(int(rows[GOLFER].nunique()), "between")
    rows, adjust, ways = with_method_term(rows, asked.adjust)
    golfers = rows.groupby(GOLFER)
    rows["posture deviation"] = rows[X]
    rows[[X, *adjust]] = golfers[[X, *adjust]].transform("mean")
    rows["posture deviation"] -= rows[X]
    fit = fit_golfer_means(rows, Y, [X, *adjust], golfer=GOLFER)
    swing = asked.swing_variance * float((1.0 / golfers.size()).mean())
    session = float((1.0 / golfers[CELL].nunique()).mean())
    unknown = asked.placement_variance is None
    spread = _spread_of(fit.means.reset_index(), adjust, fit.n_golfers - 1)
    level = _Level(
        asked, "between", rows, adjust, *spread, swing + (asked.placement_variance or 0.0) * session
    )
    answer = level.corrected(fit.coefficients, X)
    notes = [*ways, *apart, *fit.warnings, *_depends_on(fit, rows, Y, [X, *adjust], fit=fit_golfer_means)]
    if unknown:
        listed = " and ".join(f"{degrees:g}" for degrees in ASSUMED_PLACEMENT_DEG)
        notes.append(Note("placement_unknown", assumed=listed))
    found = [level.line(_MEANS, answer, notes, placement_deg=0.0 if unknown else float("nan"))]
    for degrees in ASSUMED_PLACEMENT_DEG if unknown else ():
        assumed = level.corrected(fit.coefficients, X, error=swing + (degrees / STEP) ** 2 * session)
        found.append(level.line(_MEANS, assumed, placement_deg=degrees))
    robust = fit_cluster_robust(rows, Y, [X, *adjust], golfer=GOLFER)
    found.append(level.line(Note("cluster_robust"), level.corrected(robust.coefficients, X), robust.warnings))
    found.append(level.wild(Y))
    moving = ["posture deviation"] if rows["posture deviation"].abs().max() > 0 else []
    mixed = fit_mixed(rows, Y, [X, *moving, *adjust], golfer=GOLFER, slopes=moving)
    found.append(level.line(Note("mixed_model"), level.corrected(mixed.coefficients, X), mixed.warnings))
    if answer.corrected and answer.reliability < 1.0:
        found.append(level.plain(_MEANS, fit.coefficients, X))
    return found


def _unequal_slopes(mixed: MixedFit) -> list[Note]:
    """The note on golfers' own slopes where many of them would have the other sign."""
    spread = float(np.sqrt(mixed.random_covariance.to_numpy()[1, 1]))
    slope = float(mixed.coefficients["estimate"][X])
    if not spread > 0:
        return []
    other = float(stats.norm.cdf(-abs(slope) / spread))
    if other < _MANY:
        return []
    return [Note("unequal_slopes", spread=spread, slope=slope, other=other)]


def _depends_on(
    whole: MixedFit | GolferMeansFit, rows: pd.DataFrame, outcome: str, terms: list[str], **options: Any
) -> list[Note]:
    """The note on golfers without whom the answer would cross .05 or change its sign."""
    if whole.n_golfers > _MOST_LEFT_OUT:
        return []
    p = float(whole.coefficients["p"][X])
    without = influence(rows, outcome, terms, term=X, golfer=GOLFER, **options)
    crossed = (without["p"] < ALPHA) != (p < ALPHA)
    if p < ALPHA:
        crossed |= without["changes_sign"]
    names = [str(name) for name in without.index[crossed & without["p"].notna()]]
    return [Note("depends_on_golfers", names=" or without ".join(names))] if names else []


def need_golfers(golfers: int, level: str) -> None:
    """BadTable where there are too few golfers to say anything of golfers in general."""
    if golfers < FEWEST_GOLFERS:
        raise BadTable(
            f"{golfers} golfer{'s' * (golfers != 1)} with enough swings for an answer {level} golfers: nothing is "
            "said of golfers in general",
            do=f"measure {FEWEST_GOLFERS} golfers or more",
        )


def _comparable(asked: Asked) -> tuple[pd.DataFrame, list[Note]]:
    """Rows measured in a way that two golfers or more share, and the notes on the others.

    The effect of a way that one golfer has alone cannot be separated from that golfer's own level.
    """
    golfers = asked.rows.groupby(WAY)[GOLFER].nunique()
    lonely = sorted(golfers.index[golfers < 2]) if len(golfers) > 1 else []
    left = asked.rows[asked.rows[WAY].isin(lonely)]
    said = [Note("lonely_method", golfer=rows[GOLFER].iloc[0], way=way) for way, rows in left.groupby(WAY)]
    return asked.rows.drop(left.index), said


def _deviations(asked: Asked) -> tuple[pd.DataFrame, list[str], list[Note]]:
    """Rows with every column but the strike as a deviation from the golfer's (session's) own mean."""
    rows, adjust, ways = with_method_term(asked.rows, asked.adjust)
    rows = rows.loc[rows.groupby(CELL)[X].transform("size") >= 2].copy()
    cells = rows.groupby(CELL)
    if rows.empty or not (cells[X].max() > cells[X].min()).any():
        where = "session of a golfer" if asked.sessions else "golfer"
        raise BadTable(f"the posture does not vary within any {where}")
    names = [X, *adjust]
    rows[f"{Y} deviation"] = rows[Y] - cells[Y].transform("mean")
    rows[names] = rows[names] - cells[names].transform("mean")
    moving = [name for name in adjust if rows[name].abs().max() > 1e-12]
    return rows, moving, ways if set(moving) - set(asked.adjust) else []


def _own_slopes(rows: pd.DataFrame, adjust: Sequence[str]) -> pd.Series:
    """Each golfer's own slope, covariates taken out, of golfers with enough swings for one."""
    others = rows[list(adjust)].to_numpy()

    def left(name: str) -> np.ndarray:
        values = rows[name].to_numpy()
        return values - others @ np.linalg.lstsq(others, values, rcond=None)[0] if adjust else values

    x, y = left(X), left(f"{Y} deviation")
    sums = pd.DataFrame({GOLFER: rows[GOLFER], "xy": x * y, "xx": x * x, "n": 1.0}).groupby(GOLFER).sum()
    enough = (sums["n"] >= _FEWEST_SWINGS) & (sums["xx"] > 0)
    return (sums["xy"] / sums["xx"])[enough]


def _spread_of(rows: pd.DataFrame, adjust: Sequence[str], df: int) -> tuple[float, float]:
    """Variance of the posture that the covariates leave, and its degrees of freedom."""
    others = np.column_stack([np.ones(len(rows)), *(rows[name] for name in adjust)])
    x = rows[X].to_numpy()
    rest = x - others @ np.linalg.lstsq(others, x, rcond=None)[0]
    left = float(df - len(adjust))
    return float(rest @ rest) / left, left
