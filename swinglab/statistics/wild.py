"""Wild cluster bootstrap: all residuals of a golfer are multiplied by the same random weight, such as +1 or -1."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import product

import numpy as np
import pandas as pd

from swinglab.errors import BadRequest, BadTable
from swinglab.finding_words import Note
from swinglab.statistics.design import NO_ERROR, build_design
from swinglab.statistics.estimate import Estimate

#: Up to this many golfers all patterns of signs are used; with more, patterns are drawn at random.
MOST_FOR_ALL_PATTERNS = 12
#: Below this many golfers there are too few sign patterns, and Webb's six weights are drawn instead.
FEWEST_FOR_SIGNS = 8
#: Absolute values of Webb's six weights.
_WEBB = np.sqrt(np.array([0.5, 1.0, 1.5]))


@dataclass(frozen=True, slots=True, eq=False)
class WildBootstrap:
    """Test and confidence limits of one coefficient by wild cluster bootstrap-t, with the null hypothesis imposed.

    term : the coefficient. estimate : by least squares. p : two-sided. ci_low, ci_high : confidence limits at `level`
    (the values of the coefficient that the test does not reject); infinite if no value is rejected on that side.
    ci90_low, ci80_low and so on : the same at 90 % and 80 %. weights : kind of the random weights, "signs, all
    patterns", "signs" (random signs) or "webb" (Webb's six values). samples : number of patterns of weights used.
    dropped : number of rows that are not used because of a missing value.
    """

    term: str
    estimate: float
    p: float
    ci_low: float
    ci_high: float
    level: float
    weights: str
    samples: int
    warnings: tuple[Note, ...]
    n_golfers: int
    n_rows: int
    dropped: int
    ci90_low: float
    ci90_high: float
    ci80_low: float
    ci80_high: float

    def as_estimate(self) -> Estimate:
        """Return the result as an `Estimate`; the bootstrap must have been computed with the level 95 %."""
        names = ("estimate", "p", "ci_low", "ci_high", "ci90_low", "ci90_high", "ci80_low", "ci80_high")
        return Estimate(**{name: getattr(self, name) for name in names})


@dataclass(frozen=True, slots=True, eq=False)
class _Scores:
    """Sums over golfers from which the bootstrap statistic t* of a term is computed.

    The term and the outcome are first replaced by their residuals after regression on the other predictors. estimate :
    least-squares coefficient. own : (G,) sum of squares of the term for each golfer. at_estimate, change : (G, G)
    contribution of golfer h's residuals to golfer g's score, at the estimate, and its decrease per unit of the value
    tested.
    """

    estimate: float
    own: np.ndarray
    at_estimate: np.ndarray
    change: np.ndarray

    def p_of(self, value: float, patterns: np.ndarray) -> float:
        """Return the two-sided p of the hypothesis that the coefficient equals `value`.

        `patterns` : (G, B) random weights of G golfers in each of B resamples.
        """
        return _Drawn.of(self, patterns).p_of(value)


@dataclass(frozen=True, slots=True, eq=False)
class _Drawn:
    """Statistic t* of the data and of B patterns of weights, as a function of the value tested.

    At distance v from the estimate, t = |a + v b| / sqrt(c + v d + v^2 e). parts holds a to e, each (1 + B,) with the
    data first, so that testing a further value is fast.
    """

    estimate: float
    parts: tuple[np.ndarray, ...]

    @classmethod
    def of(cls, scores: _Scores, patterns: np.ndarray) -> _Drawn:
        weights = np.column_stack([np.ones(len(scores.own)), patterns])
        total, own = scores.own.sum(), scores.own[:, None]
        shift, residual = [], []
        for into in (scores.at_estimate, -scores.change):
            sums = into @ weights
            shift.append(sums.sum(axis=0))
            residual.append(sums - own * (shift[-1] / total))
        (a, b), (c, d) = shift, residual
        return cls(
            scores.estimate, (a, b, (c * c).sum(axis=0), 2.0 * (c * d).sum(axis=0), (d * d).sum(axis=0))
        )

    def p_of(self, value: float) -> float:
        """Return the two-sided p of the hypothesis that the coefficient equals `value`."""
        a, b, c, d, e = self.parts
        v = value - self.estimate
        t = np.abs(a + v * b) / np.sqrt(np.maximum(c + v * d + v * v * e, 1e-300))
        return float(np.mean(t[1:] >= t[0] * (1.0 - 1e-9)))


def wild_bootstrap(
    table: pd.DataFrame,
    outcome: str,
    predictors: Sequence[str],
    *,
    golfer: str = "golfer",
    term: str,
    samples: int = 9999,
    seed: int = 0,
    level: float = 0.95,
) -> WildBootstrap:
    """Test one coefficient of a regression by wild cluster bootstrap, and compute its confidence limits.

    The residuals are those of the model with the null hypothesis imposed, and t uses cluster-robust standard errors.
    With 8 to 12 golfers all patterns of signs are used, so the result does not depend on the seed. With more golfers
    signs are drawn at random; with fewer than 8, weights are drawn from Webb's six values.

    Parameters
    ----------
    table : pandas.DataFrame
        One row for each swing; rows with a missing value are not used.
    outcome, predictors : str, sequence of str
        Columns. Text predictors are treatment coded (``sex[female]``).
    golfer : str
        Column of golfers' codes: which golfer made the swing.
    term : str
        The coefficient that is tested.
    samples, seed : int
        Number of random patterns if not all are used, and the seed of the random numbers.
    level : float
        Confidence level of the limits, which are found by inverting the test.

    Returns
    -------
    WildBootstrap

    Raises
    ------
    BadTable
        A table to which the model cannot be fitted, or a term that is not in the model.
    BadRequest
        Too few samples, or a level that is not between 0 and 1.

    References
    ----------
    cameron2008, webb2023 (references/references.bib)

    Examples
    --------
    >>> rng = np.random.default_rng(4)
    >>> swings = pd.DataFrame({"golfer": np.repeat(list("ABCDEFGHIJ"), 8), "tilt": rng.normal(size=80)})
    >>> swings["angle"] = swings["tilt"] + rng.normal(size=80)
    >>> wild_bootstrap(swings, "angle", ["tilt"], term="tilt").samples
    1024
    """
    if samples < 199:
        raise BadRequest(
            f"samples is {samples}, which is too few for a p value",
            do="set samples to 199 or more; 9999 is recommended",
        )
    if not 0 < level < 1:
        raise BadRequest(
            f"level must be between 0 and 1, not {level}", do="set level to a value such as 0.95"
        )
    design = build_design(table, outcome, predictors, golfer=golfer)
    place = design.places([term])
    if len(place) != 1:
        raise BadTable(
            f"the predictor {term} has {len(place)} coefficients, but the wild bootstrap tests one at a time",
            do=f"set term to one of {', '.join(design.parts[term])}",
        )
    scores = term_scores(design.x, design.y, design.codes, place[0])
    patterns, kind = sign_patterns(design.n_golfers, samples, seed)
    drawn = kind != "signs, all patterns"

    all_t = _Drawn.of(scores, patterns)

    def p_of(value: float) -> float:
        p = all_t.p_of(value)
        return (p * patterns.shape[1] + 1.0) / (patterns.shape[1] + 1.0) if drawn else p

    step = float(np.sqrt(np.sum(scores.at_estimate.sum(axis=1) ** 2)))
    step = max(step / scores.own.sum(), 1e-12 * abs(scores.estimate), 1e-300)
    limits = [
        _limit(p_of, scores.estimate, side * step, 1.0 - one)
        for one in (level, 0.90, 0.80)
        for side in (-1.0, 1.0)
    ]
    low, high, low90, high90, low80, high80 = limits
    return WildBootstrap(
        term=term, estimate=scores.estimate, p=p_of(0.0), ci_low=low, ci_high=high, level=level, weights=kind,
        samples=patterns.shape[1], warnings=_warnings(scores, design.n_golfers), n_golfers=design.n_golfers,
        n_rows=design.n_rows, dropped=design.dropped, ci90_low=low90, ci90_high=high90, ci80_low=low80,
        ci80_high=high80,
    )  # fmt: skip


def term_scores(design: np.ndarray, outcome: np.ndarray, codes: np.ndarray, place: int) -> _Scores:
    """Return the golfers' sums that the bootstrap of one coefficient needs.

    design : (n, p) predictors. outcome : (n,). codes : (n,) number of each row's golfer, from 0. place : column of the
    coefficient; it and the outcome are replaced by their residuals after regression on the other columns.
    """
    others = np.linalg.qr(np.delete(design, place, axis=1))[0]
    x = design[:, place] - others @ (others.T @ design[:, place])
    y = outcome - others @ (others.T @ outcome)
    golfers = int(codes.max()) + 1

    def by_golfer(values: np.ndarray) -> np.ndarray:
        found = np.zeros((golfers, values.shape[1]))
        for i, column in enumerate(values.T):
            found[:, i] = np.bincount(codes, column, minlength=golfers)
        return found

    own = by_golfer((x * x)[:, None])[:, 0]
    rest = y - x * ((x @ y) / (x @ x))
    if rest @ rest <= NO_ERROR * (outcome @ outcome):
        raise BadTable(
            "the outcome is fitted without any error (all residuals are 0), so no coefficient can be tested",
            do="check that the outcome was not computed from the predictors",
        )
    along = by_golfer(x[:, None] * others)

    def entering(values: np.ndarray) -> np.ndarray:
        direct = np.diag(by_golfer((x * values)[:, None])[:, 0])
        return direct - along @ by_golfer(others * values[:, None]).T

    estimate, change = float(x @ y) / float(own.sum()), entering(x)
    return _Scores(estimate, own, entering(y - estimate * x), change)


def sign_patterns(golfers: int, samples: int, seed: int) -> tuple[np.ndarray, str]:
    """Return the weights of G golfers in each of B resamples, (G, B), and their kind (see `WildBootstrap`)."""
    rng = np.random.default_rng(seed)
    if golfers < FEWEST_FOR_SIGNS:
        weights = np.concatenate([-_WEBB, _WEBB])
        return rng.choice(weights, size=(golfers, samples)), "webb"
    if golfers <= MOST_FOR_ALL_PATTERNS:
        return np.array(list(product((1.0, -1.0), repeat=golfers))).T, "signs, all patterns"
    return rng.choice((1.0, -1.0), size=(golfers, samples)), "signs"


def _limit(p_of: Callable[[float], float], estimate: float, step: float, alpha: float) -> float:
    """The value farthest from the estimate on one side that the test does not reject, by bisection."""
    inside, reach = estimate, 2.0 * step
    for _ in range(12):
        if p_of(estimate + reach) <= alpha:
            break
        inside, reach = estimate + reach, 2.0 * reach
    else:
        return float(np.copysign(np.inf, step))
    outside = estimate + reach
    fine = max(1e-6 * abs(step), 4.0 * float(np.spacing(abs(estimate))))
    while abs(outside - inside) > fine:
        middle = 0.5 * (inside + outside)
        if p_of(middle) <= alpha:
            outside = middle
        else:
            inside = middle
    return float(0.5 * (inside + outside))


def _warnings(scores: _Scores, golfers: int) -> tuple[Note, ...]:
    notes = []
    if golfers < FEWEST_FOR_SIGNS:
        notes.append(Note("few_golfers_wild", golfers=golfers))
    share = float(scores.own.max() / scores.own.sum())
    if share > 0.5:
        notes.append(Note("carried_by_one", share=share))
    return tuple(notes)
