"""The answer to a hunch under every choice that could as well have been made, and one test of them all."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from swinglab import columns
from swinglab.errors import BadRequest, SwinglabError
from swinglab.records import Hunch
from swinglab.statistics.candidates import read_candidates
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
_Z = 1.959964


@dataclass(frozen=True, slots=True, eq=False)
class SpecificationCurve:
    """A hunch within golfers under every choice, sorted by the estimate.

    table : a row for each specification: processing, angles, adjust, left_out, estimate, ci_low, ci_high (95 %,
    each by itself, outcome per 10 units), t, n_golfers, n_swings. median : of the estimates; p_median : joint
    test by flipping the same golfers' signs in all specifications. share : with the median's sign; p_share : its
    test. refused : specifications that could not be made, and why.
    """

    hunch: Hunch
    table: pd.DataFrame
    median: float
    p_median: float
    share: float
    p_share: float
    samples: int
    refused: tuple[str, ...]


def specification_curve(
    tables: Mapping[str, pd.DataFrame],
    hunch: Hunch,
    *,
    adjust: Sequence[Sequence[str]] | None = None,
    leave_out: bool = True,
    samples: int = 499,
    seed: int = 1,
) -> SpecificationCurve:
    """Answer a hunch within golfers under every combination of the declared choices.

    Parameters
    ----------
    tables : mapping
        Way of processing -> its swing table, eight at most.
    hunch : Hunch
        Judged within golfers.
    adjust : sequence of sequences of str, optional
        Sets of covariates; the hunch's own and none where not given. A set with clubhead speed is refused unless the
        hunch itself has it: the posture may change the speed, so the slope would answer another question.
    leave_out : bool
        Whether each golfer is left out in turn as well.
    samples, seed : int
        Sign flips of whole golfers, the same in all specifications.

    Raises
    ------
    BadRequest
        Another level, more than eight ways of processing (they are listed), or nothing that can be fitted.

    Notes
    -----
    Only choices that answer the same question belong here: within and between are never mixed, and no slope is
    corrected for measurement error. Both angle sets are used where the table holds them.

    References
    ----------
    Simonsohn, Simmons & Nelson 2020; Del Giudice & Gangestad 2021 (what belongs in one curve).
    """
    if hunch.level != "within":
        raise BadRequest(
            f"{hunch.name} is judged {hunch.level}: the specification curve is made for hunches within golfers"
        )
    if len(tables) > MOST_PROCESSINGS:
        raise BadRequest(
            f"{len(tables)} ways of processing, {MOST_PROCESSINGS} at most: {', '.join(tables)}",
            do="declare fewer",
        )
    sets = list(dict.fromkeys(tuple(one) for one in ([(), hunch.adjust] if adjust is None else adjust)))
    golfers = np.array(sorted({g for t in tables.values() for g in t["golfer"]}, key=str), dtype=object)
    rows, weighted, slopes, refused = _specifications(tables, hunch, sets, golfers, leave_out)
    if not rows:
        raise BadRequest(f"no specification of {hunch.name} could be fitted: {'; '.join(refused[:3])}")
    table = pd.DataFrame(rows)
    weights = np.column_stack(weighted)
    values = weights * np.column_stack(slopes)
    total = weights.sum(axis=0)
    estimates = values.sum(axis=0) / total
    exact = 2 ** (len(golfers) - 1) <= samples + 1
    signs = golfer_signs(len(golfers), samples, np.random.default_rng(seed), all_patterns=exact)
    drawn = (values / total).T @ signs
    median, share = _joint(estimates)
    medians, shares = np.median(drawn, axis=0), _shares(drawn)
    extra = 0 if exact else 1
    count = signs.shape[1] + extra
    return SpecificationCurve(
        hunch, table.sort_values("estimate", kind="stable", ignore_index=True), median,
        float(((np.abs(medians) >= abs(median) * (1 - 1e-9)).sum() + extra) / count), share,
        float(((shares >= share - 1e-9).sum() + extra) / count), signs.shape[1], tuple(refused),
    )  # fmt: skip


def _joint(estimates: np.ndarray) -> tuple[float, float]:
    median = float(np.median(estimates))
    return median, float((np.sign(estimates) == np.sign(median)).mean())


def _shares(drawn: np.ndarray) -> np.ndarray:
    positive = (drawn > 0).mean(axis=0)
    return np.maximum(positive, 1 - positive)


def _specifications(
    tables: Mapping[str, pd.DataFrame], hunch: Hunch, sets: list[tuple[str, ...]], golfers: np.ndarray,
    leave_out: bool,
) -> tuple[list[dict], list[np.ndarray], list[np.ndarray], list[str]]:  # fmt: skip
    """Rows, and for each the golfers' weights and slopes (0 where a golfer has no part)."""
    rows: list[dict] = []
    weights: list[np.ndarray] = []
    slopes: list[np.ndarray] = []
    refused: list[str] = []
    for processing, table in tables.items():
        for angles, column in _angle_sets(table, hunch):
            for covariates in sets:
                held = f"adjusted for {', '.join(covariates)}" if covariates else "not adjusted"
                words = f"{processing}, {angles}, {held}"
                if set(covariates) & set(MEDIATORS) - set(hunch.adjust):
                    refused.append(f"{words}: the posture may itself change the speed")
                    continue
                try:
                    c = read_candidates(table, hunch.outcome, [column], golfer="golfer", adjust=covariates)
                    own = own_slopes(c, golfers)
                except SwinglabError as fault:
                    refused.append(f"{words}: {fault}")
                    continue
                fixed = {"processing": processing, "angles": angles, "adjust": ", ".join(covariates)}
                for left in [None, *(range(len(golfers)) if leave_out else ())]:
                    made = _one(own, left)
                    if made is None:
                        continue
                    row, w, b = made
                    rows.append(fixed | {"left_out": "" if left is None else str(golfers[left])} | row)
                    weights.append(w)
                    slopes.append(b)
    return rows, weights, slopes, refused


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
