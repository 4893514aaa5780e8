"""Specification curve: a hunch answered under every defensible combination of choices of analysis, with joint tests."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from swinglab import columns
from swinglab.answers.found import confirming_rows
from swinglab.answers.selection import rows_where
from swinglab.errors import BadRequest, SwinglabError
from swinglab.records import Errors, Hunch
from swinglab.statistics.attenuation import MOST_ERROR
from swinglab.statistics.candidates import STEP, read_candidates
from swinglab.statistics.maximum import t_of_score
from swinglab.statistics.screen_within import (
    FEWEST_GOLFERS,
    OwnSlopes,
    golfer_signs,
    mean_slopes,
    own_slopes,
    spread_weights,
)

#: Largest number of ways of processing; for each one the whole study is measured again.
MOST_PROCESSINGS = 8
#: Mediators: covariates that posture may itself affect. With them the slope answers another question.
MEDIATORS = ("clubhead_speed_mps", "measured_clubhead_speed_mps")
AS_MEASURED, CORRECTED = "as measured", "corrected for error"
_Z = 1.959964


@dataclass(frozen=True, slots=True, eq=False)
class SpecificationCurve:
    """Specification curve of a hunch within golfers, sorted by the estimate.

    table : one row for each specification (combination of choices): processing, angles (convention), adjust
    (covariates), correction (for measurement error), left_out (golfer), estimate, ci_low, ci_high (95 % limits without
    adjustment for multiplicity; outcome units per 10 units of posture), t, n_golfers, n_swings. median : median of the
    estimates that are not corrected for measurement error. share : share of these estimates with the sign of the
    median. p_median, p_share : p of permutation tests of median and share, which flip the signs of the same golfers in
    all specifications. median_corrected : median of the estimates that are corrected for measurement error of the
    posture; NaN if there are none. samples : number of sign patterns. refused : specifications that could not be
    fitted, with the reason.
    """

    hunch: Hunch
    table: pd.DataFrame
    median: float
    p_median: float
    share: float
    p_share: float
    median_corrected: float
    samples: int
    refused: tuple[str, ...]


def specification_curve(
    tables: Mapping[str, pd.DataFrame],
    hunch: Hunch,
    *,
    adjust: Sequence[Sequence[str]] | None = None,
    leave_out: bool = True,
    errors: Errors | None = None,
    samples: int = 499,
    seed: int = 1,
) -> SpecificationCurve:
    """Answer a hunch within golfers under every combination of choices of processing, angles, covariates and golfers.

    Parameters
    ----------
    tables : mapping
        Name of a way of processing the captures -> its swing table. The first eight are used; others are listed in
        `refused`.
    hunch : Hunch
        With the level "within".
    adjust : sequence of sequences of str, optional
        Sets of covariates; by default the hunch's own set and the empty set. A set with clubhead speed is refused
        unless the hunch itself has this covariate: posture may affect speed (a mediator), so the slope would answer
        another question.
    leave_out : bool
        Whether to add specifications that leave out each golfer in turn.
    errors : Errors, optional
        Known measurement errors, for the estimates that are corrected for measurement error of the posture.
    samples, seed : int
        Number of random sign flips of golfers, the same in all specifications, and the seed.

    Raises
    ------
    BadRequest
        The hunch does not have the level "within", or no specification can be fitted.

    Notes
    -----
    Only choices that answer the same question are combined: slopes within and between golfers are never mixed. Slopes
    corrected for measurement error are computed with all golfers only and are summarised separately. Both conventions
    of angles (turn-first and ISB order) are used if the table has them. A question that came from a search uses only
    the swings on which it is tested.

    References
    ----------
    Simonsohn, Simmons & Nelson 2020; Del Giudice & Gangestad 2021 (what belongs in one curve).
    """
    if hunch.level != "within":
        raise BadRequest(
            f"{hunch.name} has the level {hunch.level}, but a specification curve can only be computed within golfers",
            do='choose a hunch with level = "within"',
        )
    used = dict(list(tables.items())[:MOST_PROCESSINGS])
    too_many = [
        f"{name}: not used, at most {MOST_PROCESSINGS} ways of processing are compared"
        for name in tables
        if name not in used
    ]
    chosen = {name: rows_where(confirming_rows(t, hunch)[0], hunch.where) for name, t in used.items()}
    sets = list(dict.fromkeys(tuple(one) for one in ([(), hunch.adjust] if adjust is None else adjust)))
    golfers = np.array(sorted({g for t in chosen.values() for g in t["golfer"]}, key=str), dtype=object)
    made = _Specifications(golfers, errors or Errors(), leave_out)
    for processing, table in chosen.items():
        made.add(processing, table, hunch, sets)
    refused = (*too_many, *made.refused)
    if not made.rows:
        raise BadRequest(
            f"{hunch.name} could not be fitted with any combination of choices: {'; '.join(refused[:3])}",
            do="measure more golfers and swings",
        )
    weights = np.column_stack(made.weights)
    values = weights * np.column_stack(made.slopes)
    total = weights.sum(axis=0)
    estimates = values.sum(axis=0) / total
    exact = 2 ** (len(golfers) - 1) <= samples + 1
    signs = golfer_signs(len(golfers), samples, np.random.default_rng(seed), all_patterns=exact)
    drawn = (values / total).T @ signs
    median, share = _joint(estimates)
    medians, shares = np.median(drawn, axis=0), _shares(drawn)
    extra = 0 if exact else 1
    count = signs.shape[1] + extra
    corrected = [row["estimate"] for row in made.corrected]
    return SpecificationCurve(
        hunch, pd.DataFrame([*made.rows, *made.corrected]).sort_values("estimate", kind="stable", ignore_index=True),
        median, float(((np.abs(medians) >= abs(median) * (1 - 1e-9)).sum() + extra) / count), share,
        float(((shares >= share - 1e-9).sum() + extra) / count), float(np.median(corrected)) if corrected else np.nan,
        signs.shape[1], refused,
    )  # fmt: skip


def _joint(estimates: np.ndarray) -> tuple[float, float]:
    median = float(np.median(estimates))
    return median, float((np.sign(estimates) == np.sign(median)).mean())


def _shares(drawn: np.ndarray) -> np.ndarray:
    positive = (drawn > 0).mean(axis=0)
    return np.maximum(positive, 1 - positive)


class _Specifications:
    """Collects the fitted specifications.

    Uncorrected rows have golfers' weights and slopes (0 for a golfer who is not in the fit); rows corrected for
    measurement error and refused specifications are kept separately.
    """

    def __init__(self, golfers: np.ndarray, errors: Errors, leave_out: bool) -> None:
        self.golfers, self.errors, self.leave_out = golfers, errors, leave_out
        self.rows: list[dict] = []
        self.weights: list[np.ndarray] = []
        self.slopes: list[np.ndarray] = []
        self.corrected: list[dict] = []
        self.refused: list[str] = []

    def add(
        self, processing: str, table: pd.DataFrame, hunch: Hunch, sets: Sequence[tuple[str, ...]]
    ) -> None:
        """Fit the hunch to one table with every convention of angles and every set of covariates; keep the results."""
        for angles, column in _angle_sets(table, hunch):
            for covariates in sets:
                held = f"adjusted for {', '.join(covariates)}" if covariates else "not adjusted"
                words = f"{processing}, {angles}, {held}"
                if set(covariates) & set(MEDIATORS) - set(hunch.adjust):
                    self.refused.append(f"{words}: the posture may itself change the clubhead speed")
                    continue
                try:
                    c = read_candidates(table, hunch.outcome, [column], golfer="golfer", adjust=covariates)
                    own = own_slopes(c, self.golfers)
                except SwinglabError as fault:
                    self.refused.append(f"{words}: {fault}")
                    continue
                fixed = {"processing": processing, "angles": angles, "adjust": ", ".join(covariates)}
                self._add_fits(own, fixed)
                self._add_corrected(own, fixed, _error_variance(table, column, self.errors), words)

    def _add_fits(self, own: OwnSlopes, fixed: dict[str, str]) -> None:
        for left in [None, *(range(len(self.golfers)) if self.leave_out else ())]:
            made = _one(own, left)
            if made is None:
                continue
            row, w, b = made
            name = "" if left is None else str(self.golfers[left])
            self.rows.append(fixed | {"correction": AS_MEASURED, "left_out": name} | row)
            self.weights.append(w)
            self.slopes.append(b)

    def _add_corrected(self, own: OwnSlopes, fixed: dict[str, str], error: float, words: str) -> None:
        """Add the slope corrected for measurement error, or refuse it if the share of error is too large."""
        made = _one(own, None)
        there = ~np.isnan(own.slopes[:, 0])
        if made is None or not error > 0:
            return
        free = (own.counts - own.spent)[there, 0].sum()
        variance = STEP**2 * own.spreads[there, 0].sum() / free
        share = error / variance
        if share >= MOST_ERROR:
            self.refused.append(
                f"{words}: not corrected, {share:.0%} of the posture's variance is measurement error"
            )
            return
        row = made[0] | {name: made[0][name] / (1 - share) for name in ("estimate", "ci_low", "ci_high")}
        self.corrected.append(fixed | {"correction": CORRECTED, "left_out": ""} | row)


def _error_variance(table: pd.DataFrame, column: str, errors: Errors) -> float:
    """Return the error variance of a posture in a single swing: its standard errors and, for angles, soft tissue."""
    name = columns.error_column_name(column)
    own = float((table[name] ** 2).mean()) if name in table else 0.0
    is_angle = columns.column(column).unit == "deg"
    return (own if np.isfinite(own) else 0.0) + ((errors.soft_tissue_deg or 0.0) ** 2 if is_angle else 0.0)


def _angle_sets(table: pd.DataFrame, hunch: Hunch) -> list[tuple[str, str]]:
    """Return (convention, column) of the posture for each convention of angles that the table has.

    Positions have one column only.
    """
    name = columns.event_column_name(hunch.posture, hunch.event)
    found = [("turn-first angles", name)]
    c = columns.quantity_column(hunch.posture)
    isb = f"{c.stem}_isb_{c.unit}"
    if isb in columns.QUANTITIES and hunch.event in columns.QUANTITIES[isb].events:
        other = columns.event_column_name(isb, hunch.event)
        found += [("ISB angles", other)] if other in table else []
    return found


def _one(own: OwnSlopes, left: int | None) -> tuple[dict, np.ndarray, np.ndarray] | None:
    """Return one specification from golfers' own slopes: row of the table, golfers' weights and slopes.

    `left` : index of the golfer left out. None if that golfer has no slope, or if fewer than six golfers
    remain.
    """
    slopes, spreads = own.slopes.copy(), own.spreads.copy()
    if left is not None:
        if np.isnan(slopes[left, 0]):
            return None
        slopes[left], spreads[left] = np.nan, np.nan
    kept = OwnSlopes(own.golfers, slopes, spreads, own.counts, own.spent, own.correlation)
    there = ~np.isnan(slopes[:, 0])
    if there.sum() < FEWEST_GOLFERS:
        return None
    weights = spread_weights(kept)
    fit = mean_slopes(kept, weights)
    low, high = fit.limits(_Z)
    t = float(t_of_score(float(fit.score[0]), fit.df)[0])
    row = {
        "estimate": float(fit.estimate[0]), "ci_low": float(low[0]), "ci_high": float(high[0]),
        "t": t * float(np.sign(fit.estimate[0])), "n_golfers": int(there.sum()),
        "n_swings": int(own.counts[there, 0].sum()),
    }  # fmt: skip
    return row, weights[:, 0], np.nan_to_num(slopes[:, 0])
