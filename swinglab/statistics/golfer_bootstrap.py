"""Bootstrap of the mixed model with random slopes, by resampling whole golfers with replacement."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from swinglab.errors import BadRequest
from swinglab.finding_words import Note
from swinglab.statistics.mixed import (
    FEW_GOLFERS,
    best_of_starts,
    check_error_left,
    from_small_variances,
    prepare,
)
from swinglab.statistics.variance import Moments, evaluate, factor, minimise, widened

#: Number of resamples fitted together, chosen so that the arrays fit in the processor's cache.
_BATCH = 512
#: A predictor counts as constant in a resample if the smallest eigenvalue of the normalised cross-products is not
#: above this.
_FLAT = 1e-10


@dataclass(frozen=True, slots=True, eq=False)
class GolferBootstrap:
    """A mixed model with bootstrap standard errors and limits, from resamples of whole golfers.

    coefficients : one row for the intercept and each predictor, with estimate (from the original data), standard_error
    (SD over the resamples), ci_low, ci_high (2.5 and 97.5 percentiles). estimates : one row for each resample.
    polished : number of resamples in which the optimiser was started a second time. unreached : number of resamples
    without an optimum. flat : number of resamples in which a predictor did not vary. Unreached and flat resamples are
    NaN in `estimates` and are not used. n_golfers, n_rows : numbers used. dropped : number of rows that are not used
    because of a missing value.
    """

    outcome: str
    coefficients: pd.DataFrame
    estimates: pd.DataFrame
    polished: int
    unreached: int
    flat: int
    warnings: tuple[Note, ...]
    n_golfers: int
    n_rows: int
    dropped: int


def bootstrap_golfers(
    table: pd.DataFrame,
    outcome: str,
    predictors: Sequence[str],
    *,
    golfer: str = "golfer",
    slopes: Sequence[str] = (),
    samples: int = 9999,
    seed: int = 0,
) -> GolferBootstrap:
    """Compute bootstrap limits of the coefficients of a mixed model (REML), by resampling whole golfers.

    Parameters
    ----------
    table : pandas.DataFrame
        One row for each swing; rows with a missing value are not used.
    outcome, predictors : str, sequence of str
        Columns. Text predictors are treatment coded (``sex[female]``).
    golfer : str
        Column of golfers' codes: which golfer made the swing. A golfer drawn twice counts as two golfers.
    slopes : sequence of str
        Columns with a random slope for each golfer.
    samples : int
        Number of resamples.
    seed : int
        Seed of the random numbers.

    Returns
    -------
    GolferBootstrap

    Raises
    ------
    BadTable
        A table to which the model cannot be fitted; one message lists all faults.
    BadRequest
        Fewer than 100 resamples.

    Notes
    -----
    With few golfers, percentile limits are too narrow. Use them as a supplement, not as the primary result.

    Examples
    --------
    >>> rng = np.random.default_rng(3)
    >>> swings = pd.DataFrame({"golfer": np.repeat(list("ABCDEFGH"), 10), "tilt": rng.normal(size=80)})
    >>> swings["angle"] = 0.5 * swings["tilt"] + rng.normal(size=80)
    >>> answer = bootstrap_golfers(swings, "angle", ["tilt"], slopes=["tilt"], samples=200, seed=1)
    >>> answer.estimates.shape
    (200, 2)
    """
    if samples < 100:
        raise BadRequest(
            f"{samples} resamples are too few for confidence limits",
            do="set samples to 100 or more; 9999 is recommended",
        )
    ready = prepare(table, outcome, predictors, golfer=golfer, slopes=slopes)
    whole, design = ready.moments, ready.design
    start, reached = best_of_starts(whole, reml=True)
    at = evaluate(whole, start)
    check_error_left(ready, at, bool(reached[0]))
    golfers = design.n_golfers
    draw = np.random.default_rng(seed).multinomial(golfers, np.full(golfers, 1.0 / golfers), size=samples)
    found = [
        _fit_batch(ready.cross_x, whole, draw[i : i + _BATCH].T, start) for i in range(0, samples, _BATCH)
    ]
    beta = np.hstack([one[0] for one in found])
    polished, unreached, flat = (sum(int(one[i]) for one in found) for i in (1, 2, 3))
    back = ready.x_back @ (ready.offset[:, None] + ready.y_scale * np.hstack([at.beta, beta]))
    names = list(design.names)
    estimates = pd.DataFrame(back[:, 1:].T, columns=names)
    low, high = np.nanpercentile(back[:, 1:], [2.5, 97.5], axis=1)
    columns = {
        "estimate": back[:, 0], "standard_error": np.nanstd(back[:, 1:], axis=1, ddof=1),
        "ci_low": low, "ci_high": high,
    }  # fmt: skip
    return GolferBootstrap(
        outcome=outcome,
        coefficients=pd.DataFrame(columns, index=pd.Index(names, name="term")),
        estimates=estimates,
        polished=polished,
        unreached=unreached,
        flat=flat,
        warnings=_warnings(golfers, unreached, flat, samples),
        n_golfers=golfers,
        n_rows=design.n_rows,
        dropped=design.dropped,
    )


def _fit_batch(
    cross_x: np.ndarray, whole: Moments, weights: np.ndarray, start: np.ndarray
) -> tuple[np.ndarray, int, int, int]:
    """Coefficients (p, R) of resamples given by weights (G, R), and the numbers polished, unreached and flat."""
    data, use = weighted_sets(cross_x, whole, weights)
    theta, done, polished = fit_sets(data, whole, start)
    beta = np.full((len(whole.total) - 1, weights.shape[1]), np.nan)
    beta[:, use[done]] = evaluate(data, theta).beta[:, done]
    return beta, polished, int((~done).sum()), weights.shape[1] - len(use)


def weighted_sets(cross_x: np.ndarray, whole: Moments, weights: np.ndarray) -> tuple[Moments, np.ndarray]:
    """Return the cross-products of R resamples of G golfers, without resamples in which a predictor is constant.

    `cross_x` : (p + 1, p + 1, G, 1) cross-products of p predictors and the outcome for each golfer of the original
    data. `whole` : all cross-products of the original data. `weights` : (G, R) how often each golfer was drawn. The
    second result contains the indices of the resamples that are used.
    """
    p = len(whole.total) - 1
    total = np.tensordot(cross_x[..., 0], weights.astype(float), axes=1)
    scale = np.sqrt(np.einsum("aar->ar", total[:p, :p]) + 1e-300)
    smallest = np.linalg.eigvalsh(np.moveaxis(total[:p, :p] / (scale[:, None] * scale[None]), -1, 0))[:, 0]
    use = np.flatnonzero(smallest > _FLAT)
    total, weights = total[..., use], weights[:, use].astype(float)
    # The cross-product of the intercept with itself is the number of rows.
    return replace(whole, total=total, n=total[0, 0], weights=weights), use


def fit_sets(data: Moments, whole: Moments, start: np.ndarray) -> tuple[np.ndarray, np.ndarray, int]:
    """Fit the mixed model to R resamples, starting from the optimum of the original data.

    `data`, `whole` : cross-products of the resamples and of the original data. `start` : covariance parameters at the
    optimum of the original data. Returns the K covariance parameters theta of each resample, (K, R); a mask (R,) of
    the resamples for which an optimum was found; and the number of resamples in which the optimiser was started a
    second time.
    """
    theta, value = minimise(data, _inside(whole, start, data.sets))
    theta, value = from_small_variances(data, theta, value, reml=True)
    done = np.isfinite(value)
    again = np.flatnonzero(~done)
    if len(again):
        theta[:, again], done[again] = best_of_starts(data.take(again), reml=True)
    return theta, done, len(again)


def _inside(whole: Moments, start: np.ndarray, sets: int) -> np.ndarray:
    """Starting values (K, sets) from the optimum of the original data, moved away from variances of 0."""
    low = factor(start, whole.pattern)[:, :, 0]
    size = max(0.1, 0.2 * float(np.abs(low).max()))
    q = whole.free
    theta = widened(low[:q, :q], size * np.eye(q)).ravel()
    if len(low) > q:
        theta = np.append(theta, np.hypot(low[q, q], size))
    return np.repeat(theta[:, None], sets, axis=1)


def _warnings(golfers: int, unreached: int, flat: int, samples: int) -> tuple[Note, ...]:
    notes = []
    if golfers < 2 * FEW_GOLFERS:
        notes.append(Note("few_golfers_bootstrap", golfers=golfers))
    if unreached:
        notes.append(Note("resamples_unfitted", count=unreached, samples=samples))
    if flat:
        notes.append(Note("resamples_flat", count=flat, samples=samples))
    return tuple(notes)
