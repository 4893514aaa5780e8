"""Several searches as one family of tests: p values are adjusted for all candidates of all searches."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy import special

from swinglab.errors import BadRequest, BadTable
from swinglab.finding_words import Note
from swinglab.statistics.candidates import Candidates, read_candidates
from swinglab.statistics.maximum import AdjustedP, adjust_by_maximum, critical_value
from swinglab.statistics.multiplicity import adjust
from swinglab.statistics.screen_between import MeansSlopes, between_slopes, golfer_orders
from swinglab.statistics.screen_series import SeriesSlopes, series_slopes
from swinglab.statistics.screen_within import FEWEST_GOLFERS, WithinFit, golfer_signs, within_fit

LEVELS = ("within", "between", "golfer")
GOLFER = "golfer"
COLUMNS = ("column", "estimate", "standard_error", "ci_low", "ci_high", "p", "p_adjusted", "n_golfers", "n_swings",
           "golfers_same_sign")  # fmt: skip
#: With fewer golfers there are so few sign patterns that Holm's method with Student's t has more power.
FEW_FOR_SIGNS = 8
_ALPHA = 0.05


@dataclass(frozen=True, slots=True, eq=False)
class Screen:
    """Result of a search among candidate predictors of an outcome.

    table : one row for each candidate that could be tested, in the order given: column; estimate and standard_error
    (outcome units per 10 units of the candidate); ci_low, ci_high (95 %, simultaneous over all candidates of the
    family); p (unadjusted); p_adjusted (step-down max-T over the family; within golfers, with 6 or 7 golfers, the
    smaller of this and Holm's p from Student's t); n_golfers, n_swings; golfers_same_sign (number of golfers whose own
    slope has the sign of the estimate; between golfers, number of golfers for whom the product of the deviations of
    outcome and candidate from their means has this sign). beside : for each row of the table, p_single_step (max-T
    without step-down), which agrees with the limits; within golfers also estimate_equal_weights and
    p_adjusted_equal_weights (all golfers have equal weights) and counts_related (whether slopes are correlated with
    golfers' numbers of swings; the table then has the estimate with equal weights and the larger of both p values).
    not_screened : candidates that could not be tested, with the reason. correlation : matrix of the tested candidates,
    at this level. family : number of candidates tested together. samples : number of resamples. exact : whether these
    are all possible ones. smallest_p : smallest p that the resampling can give.
    """

    outcome: str
    level: str
    golfer: object
    table: pd.DataFrame
    beside: pd.DataFrame
    not_screened: pd.DataFrame
    correlation: pd.DataFrame
    family: int
    samples: int
    exact: bool
    smallest_p: float
    notes: tuple[Note, ...]


@dataclass(frozen=True, slots=True, eq=False)
class ScreenRequest:
    """One search of a family of searches; its fields are described in `screen_postures`."""

    table: pd.DataFrame
    outcome: str
    candidates: Sequence[str]
    level: str = "within"
    golfer: object = None
    adjust: Sequence[str] = ()


def smallest_p(golfers: int) -> float:
    """Return the smallest two-sided p that sign flips of this number of golfers can give: 2 / 2**golfers.

    Examples
    --------
    >>> smallest_p(6)
    0.03125
    """
    return 2.0 / 2.0**golfers


@dataclass(frozen=True, slots=True, eq=False)
class _Measured:
    """A search before resampling.

    c : data of the search. golfers : labels. fit : statistics of the candidates. used : positions of the candidates
    that can be tested. reasons : (J,) text that is reported for a candidate that cannot be tested.
    """

    request: ScreenRequest
    c: Candidates
    golfers: tuple
    fit: WithinFit | MeansSlopes | SeriesSlopes
    used: np.ndarray
    reasons: tuple[str, ...]


@dataclass(frozen=True, slots=True, eq=False)
class _Drawn:
    """Scores (used, B) of a search in B resamples.

    judged : with the weights used for p. equal : with equal weights. about_estimates : scores about the estimates
    instead of 0, for the intervals; None except within golfers. exact : whether all patterns were used.
    """

    judged: np.ndarray
    equal: np.ndarray
    about_estimates: np.ndarray | None
    exact: bool


def screen_family(
    requests: Sequence[ScreenRequest], *, samples: int = 4999, seed: int = 1
) -> tuple[Screen, ...]:
    """Run several searches as one family of tests: p values are adjusted for all candidates of all searches.

    Searches within golfers use the same sign flips, and searches between golfers the same permutations. All patterns of
    signs are used only if there is a single search. `samples`, `seed` : number of resamples and seed of the random
    numbers.

    Raises
    ------
    BadRequest, BadTable
        The same as in `screen_postures`.
    """
    if samples < 99:
        raise BadRequest(
            f"samples is {samples}, which is too few: with so few random sign flips, p cannot be below .01",
            do="set samples to 999 or more",
        )
    measured = [_measure(request) for request in requests]
    golfers = pd.Index(sorted({g for m in measured for g in m.golfers}, key=str), dtype=object)
    drawn = [_draw(m, golfers, samples, seed, single=len(measured) == 1) for m in measured]
    exact = drawn[0].exact
    score = np.concatenate([m.fit.score[m.used] for m in measured])
    judged = adjust_by_maximum(score, _together([d.judged for d in drawn]), counts_itself=exact)
    critical, equal = judged.critical, judged
    about = [d.about_estimates for d in drawn if d.about_estimates is not None]
    if about:
        # Intervals are centred on the estimate, p values on 0. The larger of the two critical values is used.
        critical = max(critical, critical_value(np.max(about, axis=0)))
        scores = [(m.fit.equal if isinstance(m.fit, WithinFit) else m.fit).score[m.used] for m in measured]
        equal = adjust_by_maximum(
            np.concatenate(scores), _together([d.equal for d in drawn]), counts_itself=exact
        )
        if len(golfers) < FEW_FOR_SIGNS:
            judged, equal = _at_most_holm(judged, score), _at_most_holm(equal, np.concatenate(scores))
    ends = np.cumsum([len(m.used) for m in measured])
    return tuple(
        _screen(m, d, slice(end - len(m.used), end), judged, equal, critical)
        for m, d, end in zip(measured, drawn, ends, strict=True)
    )


def _at_most_holm(found: AdjustedP, score: np.ndarray) -> AdjustedP:
    """The smaller of each adjusted p and Holm's adjusted p from Student's t (from its normal score).

    Six golfers have only 32 distinct sign patterns, so the smallest possible p is 1 / 32. Each method controls the
    family-wise error. That the smaller p also controls it with so few golfers is shown by simulation, not proved
    (references/evidence/screen.md).
    """
    by_t = 2.0 * special.ndtr(-score)
    return AdjustedP(
        np.minimum(found.p, by_t),
        found.single_step,
        np.minimum(found.step_down, adjust(by_t, "holm")),
        found.critical,
    )


def _together(draws: list[np.ndarray]) -> np.ndarray:
    return draws[0] if len(draws) == 1 else np.vstack(draws)


def _measure(request: ScreenRequest) -> _Measured:
    """Compute the statistics of one search, within golfers, between golfers or of one golfer, without p values."""
    if request.level not in LEVELS:
        raise BadRequest(
            f"there is no level {request.level} for a search", do=f"set level to one of {', '.join(LEVELS)}"
        )
    if request.level != "golfer" and request.golfer is not None:
        raise BadRequest(
            f'the search names the golfer {request.golfer}, but its level is {request.level} and not "golfer"',
            do='set level to "golfer", or remove the golfer',
        )
    table = _rows_of(request.table, request.golfer) if request.level == "golfer" else request.table
    c = read_candidates(table, request.outcome, request.candidates, golfer=GOLFER, adjust=request.adjust)
    golfers = np.array(sorted(set(c.golfer), key=str), dtype=object)
    if request.level == "golfer":
        series = series_slopes(c)
        reasons = [f"too few swings ({n}), or no variation left after adjustment" for n in series.swings]
        return _measured(request, c, (), series, np.isfinite(series.estimate), reasons)
    if len(golfers) < FEWEST_GOLFERS:
        why = ", because sign flips of fewer golfers cannot give a p below .05"
        raise BadTable(
            f"{len(golfers)} golfers: a search within or between golfers needs {FEWEST_GOLFERS} or more"
            f"{why if request.level == 'within' else ''}",
            do='measure more golfers, or search the swings of one golfer (level "golfer")',
        )
    if request.level == "between":
        means = between_slopes(c, golfers, FEWEST_GOLFERS)
        reasons = [
            f"means of {n} golfers, but {FEWEST_GOLFERS} golfers with different means are needed"
            for n in means.golfers
        ]
        return _measured(request, c, tuple(golfers), means, np.isfinite(means.estimate), reasons)
    within = within_fit(c, golfers)
    reasons = [f"{n} golfers with enough swings, but {FEWEST_GOLFERS} are needed" for n in within.golfers]
    return _measured(request, c, tuple(golfers), within, within.golfers >= FEWEST_GOLFERS, reasons)


def _measured(
    request: ScreenRequest, c: Candidates, golfers: tuple, fit: WithinFit | MeansSlopes | SeriesSlopes,
    usable: np.ndarray, reasons: list[str],
) -> _Measured:  # fmt: skip
    if not usable.any():
        first = "; ".join(f"{n}: {r}" for n, r in list(zip(c.names, reasons, strict=True))[:3])
        raise BadTable(
            f"none of the candidate columns can be tested: {first}",
            do="measure more golfers or swings, or choose other columns",
        )
    return _Measured(request, c, golfers, fit, np.flatnonzero(usable), tuple(reasons))


def _rows_of(table: pd.DataFrame, golfer: object) -> pd.DataFrame:
    if golfer is None:
        raise BadRequest(
            'a search with the level "golfer" does not name the golfer',
            do='name the golfer, such as golfer = "G07"',
        )
    rows = table[table[GOLFER] == golfer] if GOLFER in table else table.iloc[:0]
    if rows.empty:
        raise BadRequest(
            f"the table has no golfer {golfer}", do="use a code from the column golfer of the table"
        )
    return rows


def _draw(m: _Measured, universe: pd.Index, samples: int, seed: int, *, single: bool) -> _Drawn:
    """Return the scores of a search in resamples without an effect.

    Searches of one level with the same seed use the same resamples. `universe` : golfers of all searches. `single` :
    whether this is the only search.
    """
    rng = np.random.default_rng(seed)
    known = universe.get_indexer(pd.Index(m.golfers, dtype=object))
    if isinstance(m.fit, SeriesSlopes):
        found = m.fit.resampled(samples, rng)[m.used]
        return _Drawn(found, found, None, False)
    if isinstance(m.fit, MeansSlopes):
        found = m.fit.resampled(golfer_orders(len(universe), samples, rng)[:, known])[m.used]
        return _Drawn(found, found, None, False)
    exact = single and 2 ** (len(universe) - 1) <= samples + 1
    signs = golfer_signs(len(universe), samples, rng, all_patterns=exact)[known]
    return _Drawn(
        m.fit.weighted.resampled(signs)[m.used],
        m.fit.equal.resampled(signs)[m.used],
        m.fit.weighted.largest_about_estimates(signs, m.used),
        exact,
    )


def _screen(
    m: _Measured, drawn: _Drawn, own: slice, judged: AdjustedP, equal: AdjustedP, critical: float
) -> Screen:
    used, fit, request = m.used, m.fit, m.request
    low, high = fit.limits(critical)
    p, adjusted = judged.p[own], judged.step_down[own]
    beside: dict = {"p_single_step": judged.single_step[own]}
    if isinstance(fit, WithinFit):
        related = fit.related[used]
        beside |= {
            "estimate_equal_weights": fit.equal.estimate[used],
            "p_adjusted_equal_weights": equal.step_down[own],
            "counts_related": related,
        }
        # The larger p of both keeps the error rate although the choice of weights depends on the slopes.
        p = np.where(related, np.maximum(p, equal.p[own]), p)
        adjusted = np.where(related, np.maximum(adjusted, equal.step_down[own]), adjusted)
    columns = (fit.estimate[used], fit.standard_error[used], low[used], high[used], p, adjusted,
               fit.golfers[used], fit.swings[used], fit.same_sign[used])  # fmt: skip
    names = [m.c.names[i] for i in used]
    table = pd.DataFrame(dict(zip(COLUMNS, (names, *columns), strict=True)))
    shown = pd.DataFrame({"column": names, **beside})
    samples = drawn.judged.shape[1]
    lowest = max(smallest_p(len(m.golfers)) if isinstance(fit, WithinFit) else 0.0, 1.0 / (1 + samples))
    left = np.setdiff1d(np.arange(len(m.c.names)), used)
    return Screen(
        outcome=request.outcome, level=request.level, golfer=request.golfer, table=table, beside=shown,
        not_screened=pd.DataFrame(
            {"column": [m.c.names[i] for i in left], "reason": [m.reasons[i] for i in left]}
        ),
        correlation=pd.DataFrame(fit.correlation[np.ix_(used, used)], index=names, columns=names),
        family=len(judged.p), samples=samples, exact=drawn.exact, smallest_p=lowest,
        notes=_notes(m, table, shown, lowest),
    )  # fmt: skip


def _notes(m: _Measured, table: pd.DataFrame, beside: pd.DataFrame, lowest: float) -> tuple[Note, ...]:
    notes = []
    if lowest > 0.005:
        few = len(m.golfers) < FEW_FOR_SIGNS
        notes.append(Note("screen_few_by_t" if few else "screen_few", golfers=len(m.golfers), least=lowest))
    apart = int(((table["p_adjusted"] < _ALPHA) != ((table["ci_low"] > 0) | (table["ci_high"] < 0))).sum())
    if apart:
        notes.append(Note("screen_disagrees", candidates=apart))
    if "counts_related" in beside and beside["counts_related"].any():
        notes.append(Note("screen_counts", candidates=int(beside["counts_related"].sum())))
    if m.c.dropped:
        notes.append(Note("screen_dropped", swings=m.c.dropped))
    return tuple(notes)
