"""One level of a hunch (within or between golfers): its rows, the posture's measurement error, and its findings."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from swinglab.answers.question import GOLFER, METHOD_TERM, Asked, X, Y
from swinglab.answers.rules import ALPHA, FEWEST_GOLFERS
from swinglab.errors import BadTable
from swinglab.finding_words import Note
from swinglab.records import Finding
from swinglab.statistics.attenuation import MOST_ERROR, correct_observed_slope
from swinglab.statistics.cluster_robust import fit_cluster_robust
from swinglab.statistics.estimate import Estimate
from swinglab.statistics.influence import influence
from swinglab.statistics.wild import wild_bootstrap

#: Largest number of golfers for which each is left out in turn.
_MOST_LEFT_OUT = 60


@dataclass(frozen=True, slots=True, eq=False)
class Level:
    """Swings and posture variances of a hunch at one level (within or between golfers).

    asked : the hunch. name : "within" or "between". rows : the swings, as this level analyses them. adjust :
    names of the covariates. variance, variance_df : variance of the posture at this level and its degrees of
    freedom. error : the part of that variance that is measurement error. Posture is in steps of 10 units, so
    variances are in steps squared.
    """

    asked: Asked
    name: str
    rows: pd.DataFrame
    adjust: list[str]
    variance: float
    variance_df: float
    error: float

    def line(
        self,
        method: Note,
        own: Estimate,
        notes: Sequence[Note] = (),
        *,
        error: float | None = None,
        **more: Any,
    ) -> Finding:
        """Return the finding of a method that gives a standard error, corrected for measurement error of the posture.

        `own` : the slope as fitted. `error` : error variance of the posture, if it differs from that of the level.
        """
        answer = correct_observed_slope(
            own.estimate, own.standard_error, own.df if np.isfinite(own.df) else np.inf,
            predictor_variance=self.variance, predictor_df=self.variance_df,
            error_variance=self.error if error is None else error,
        )  # fmt: skip
        corrected = answer.corrected and answer.reliability < 1.0
        made = Estimate.by_t(answer.estimate, answer.standard_error, answer.df) if corrected else own
        correction = "corrected" if corrected else ""
        return self._line(method, made, (*notes, *answer.warnings), correction=correction, **more)

    def stretched(self, method: Note, own: Estimate, notes: Sequence[Note] = (), **more: Any) -> Finding:
        """Return the finding of a method that gives no standard error, corrected for measurement error of the posture.

        Estimate and limits are multiplied by the factor `stretch`; p is unchanged.
        """
        factor = self.stretch
        return self._line(
            method, own.stretched(factor), notes, correction="corrected" if factor > 1.0 else "", **more
        )

    def as_fitted(self, method: Note, own: Estimate) -> Finding:
        """Return the finding of a method without correction for measurement error."""
        return self._line(method, own, (), correction="as_fitted")

    @property
    def stretch(self) -> float:
        """Factor by which the correction for measurement error multiplies a slope.

        It is 1 / (1 - share of error in the variance of the posture), or 1 if that share is too large for a correction.
        """
        share = self.error / self.variance
        return 1.0 / (1.0 - share) if share < MOST_ERROR else 1.0

    def robust(self, rows: pd.DataFrame, outcome: str, terms: list[str]) -> list[Finding]:
        """Return the findings of two cluster-robust methods on these rows: CR2 standard errors and wild bootstrap.

        `outcome` : column of the strike. `terms` : columns of the predictors, posture and covariates.
        """
        cr2 = fit_cluster_robust(rows, outcome, terms, golfer=GOLFER)
        wild = wild_bootstrap(rows, outcome, terms, golfer=GOLFER, term=X)
        return [
            self.line(Note("cluster_robust"), Estimate.of_term(cr2.coefficients, X), cr2.warnings),
            self.stretched(Note("wild_bootstrap", weights=wild.weights), wild.as_estimate(), wild.warnings),
        ]

    def _line(self, method: Note, estimate: Estimate, notes: Sequence[Note], **more: Any) -> Finding:
        counts = {"n_golfers": int(self.rows[GOLFER].nunique()), "n_swings": len(self.rows)} | more
        ways = [name for name in self.adjust if name.startswith(f"{METHOD_TERM}[")]
        named = (*self.asked.adjust, *ways)
        return self.asked.line(self.name, method, estimate, warnings=notes, named=named, **counts)


def spread_of(rows: pd.DataFrame, adjust: Sequence[str], df: int) -> tuple[float, float]:
    """Return the residual variance of the posture after regression on covariates, and its degrees of freedom.

    `df` : degrees of freedom before the covariates are taken into account.
    """
    others = np.column_stack([np.ones(len(rows)), *(rows[name] for name in adjust)])
    x = rows[X].to_numpy()
    rest = x - others @ np.linalg.lstsq(others, x, rcond=None)[0]
    left = float(df - len(adjust))
    return float(rest @ rest) / left, left


def depends_on(whole: Any, rows: pd.DataFrame, terms: list[str], **options: Any) -> list[Note]:
    """Return a note on golfers who decide the result: without one of them, p crosses .05 or the sign changes.

    `whole` : the fit with all golfers. `terms` : its predictors, the posture first. `options` : further
    arguments of `influence`. The list is empty if there is no such golfer, or with more than 60 golfers (one
    fit for each).
    """
    if whole.n_golfers > _MOST_LEFT_OUT:
        return []
    p = float(whole.coefficients["p"][X])
    without = influence(rows, Y, terms, term=X, golfer=GOLFER, **options)
    crossed = (without["p"] < ALPHA) != (p < ALPHA)
    if p < ALPHA:
        crossed |= without["changes_sign"]
    names = [str(name) for name in without.index[crossed & without["p"].notna()]]
    return [Note("depends_on_golfers", names=" or without ".join(names))] if names else []


def need_golfers(golfers: int, level: str) -> None:
    """Raise BadTable if there are too few golfers for a conclusion about golfers in general."""
    if golfers < FEWEST_GOLFERS:
        raise BadTable(
            f"only {golfers} golfer{'s have' if golfers != 1 else ' has'} enough swings for an answer {level} golfers, "
            "so no conclusion about golfers in general is drawn",
            do=f"measure {FEWEST_GOLFERS} golfers or more",
        )
