"""The answer to a hunch under every choice that could as well have been made, and one test of them all."""

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

#: More ways of processing are not one question any more, and each takes a measuring of its own.
MOST_PROCESSINGS = 8
#: Covariates that the posture may itself change: with them the slope answers another question.
MEDIATORS = ("clubhead_speed_mps", "measured_clubhead_speed_mps")
AS_MEASURED, CORRECTED = "as measured", "corrected for error"
_Z = 1.959964


@dataclass(frozen=True, slots=True, eq=False)
class SpecificationCurve:
    """A hunch within golfers under every choice, sorted by the estimate.

    table : a row for each specification: processing, angles, adjust, correction, left_out, estimate, ci_low, ci_high
    (95 %, each by itself, outcome per 10 units), t, n_golfers, n_swings. median : of the estimates as measured;
    p_median : joint test by flipping the same golfers' signs in all of them. share : with the median's sign; p_share :
    its test. median_corrected : of the estimates corrected for the error of the posture, which never enter the other
    four; NaN where there are none. refused : specifications that could not be made, and why.
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
    """Answer a hunch within golfers under every combination of the declared choices.

    Parameters
    ----------
    tables : mapping
        Way of processing -> its swing table. Eight are used; more are refused and listed.
    hunch : Hunch
        Judged within golfers.
    adjust : sequence of sequences of str, optional
        Sets of covariates; the hunch's own and none where not given. A set with clubhead speed is refused unless the
        hunch itself has it: the posture may change the speed, so the slope would answer another question.
    leave_out : bool
        Whether each golfer is left out in turn as well.
    errors : Errors, optional
        Known errors of the set-up, for the estimates that are corrected for the error of the posture.
    samples, seed : int
        Sign flips of whole golfers, the same in all specifications.

    Raises
    ------
    BadRequest
        Another level, or nothing that can be fitted.

    Notes
    -----
    Only choices that answer the same question belong here: within and between are never mixed. Slopes corrected for
    error of measurement stand in the table with all golfers and are summed up apart from the others. Both angle sets
    are used where the table holds them. A question that was found by looking is answered from the swings on which it
    is judged.

    References
    ----------
    Simonsohn, Simmons & Nelson 2020; Del Giudice & Gangestad 2021 (what belongs in one curve).
    """
    if hunch.level != "within":
        raise BadRequest(
            f"{hunch.name} is judged {hunch.level}: the specification curve is made for hunches within golfers"
        )
    used = dict(list(tables.items())[:MOST_PROCESSINGS])
    too_many = [
        f"{name}: more than {MOST_PROCESSINGS} ways of processing" for name in tables if name not in used
    ]
    chosen = {name: rows_where(confirming_rows(t, hunch)[0], hunch.where) for name, t in used.items()}
    sets = list(dict.fromkeys(tuple(one) for one in ([(), hunch.adjust] if adjust is None else adjust)))
    golfers = np.array(sorted({g for t in chosen.values() for g in t["golfer"]}, key=str), dtype=object)
    made = _Specifications(golfers, errors or Errors(), leave_out)
    for processing, table in chosen.items():
        made.add(processing, table, hunch, sets)
    refused = (*too_many, *made.refused)
    if not made.rows:
        raise BadRequest(f"no specification of {hunch.name} could be fitted: {'; '.join(refused[:3])}")
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
    """Specifications as they are fitted: rows as measured, with golfers' weights and slopes (0 where a golfer has no
    part); rows corrected for error; those refused."""

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
        """Every angle set and every set of covariates on one table."""
        for angles, column in _angle_sets(table, hunch):
            for covariates in sets:
                held = f"adjusted for {', '.join(covariates)}" if covariates else "not adjusted"
                words = f"{processing}, {angles}, {held}"
                if set(covariates) & set(MEDIATORS) - set(hunch.adjust):
                    self.refused.append(f"{words}: the posture may itself change the speed")
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
        """The slope with the posture's error taken out of its variance within golfers; none where it is most of it."""
        made = _one(own, None)
        there = ~np.isnan(own.slopes[:, 0])
        if made is None or not error > 0:
            return
        variance = STEP**2 * own.spreads[there, 0].sum() / (own.counts[there, 0] - 1).sum()
        share = error / variance
        if share >= MOST_ERROR:
            self.refused.append(f"{words}: not corrected, {share:.0%} of the posture's variance is error")
            return
        row = made[0] | {name: made[0][name] / (1 - share) for name in ("estimate", "ci_low", "ci_high")}
        self.corrected.append(fixed | {"correction": CORRECTED, "left_out": ""} | row)


def _error_variance(table: pd.DataFrame, column: str, errors: Errors) -> float:
    """Variance of a single swing's error in a posture: its own standard errors, and soft tissue in angles."""
    name = columns.error_column_name(column)
    own = float((table[name] ** 2).mean()) if name in table else 0.0
    is_angle = columns.column(column).unit == "deg"
    return (own if np.isfinite(own) else 0.0) + ((errors.soft_tissue_deg or 0.0) ** 2 if is_angle else 0.0)


def _angle_sets(table: pd.DataFrame, hunch: Hunch) -> list[tuple[str, str]]:
    """The posture's column in each angle set that the table holds; positions have one alone."""
    name = columns.event_column_name(hunch.posture, hunch.event)
    found = [("turn-first angles", name)]
    c = columns.quantity_column(hunch.posture)
    isb = f"{c.stem}_isb_{c.unit}"
    if isb in columns.QUANTITIES and hunch.event in columns.QUANTITIES[isb].events:
        other = columns.event_column_name(isb, hunch.event)
        found += [("ISB angles", other)] if other in table else []
    return found


def _one(own: OwnSlopes, left: int | None) -> tuple[dict, np.ndarray, np.ndarray] | None:
    """One specification from golfers' own slopes; None where a golfer left out has no part, or too few are left."""
    slopes, spreads = own.slopes.copy(), own.spreads.copy()
    if left is not None:
        if np.isnan(slopes[left, 0]):
            return None
        slopes[left], spreads[left] = np.nan, np.nan
    kept = OwnSlopes(own.golfers, slopes, spreads, own.counts, own.correlation)
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
