"""Influence of single golfers on a result: the model is fitted again without each golfer in turn."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

import numpy as np
import pandas as pd

from swinglab.errors import BadTable, SwinglabError, near_names
from swinglab.statistics.golfer_bootstrap import fit_sets, weighted_sets
from swinglab.statistics.golfer_means import fit_golfer_means, means_without_each
from swinglab.statistics.mixed import (
    Prepared,
    best_of_starts,
    coefficient_table,
    degrees_of_freedom,
    fit_mixed,
    prepare,
)
from swinglab.statistics.variance import evaluate

#: Number of leave-one-out fits made together, which limits the size of the arrays.
_BATCH = 64
#: Residual variance, and variance of a random slope's column within a golfer, that rounding alone could produce (scaled
#: units).
_LITTLE_ERROR, _LITTLE_SPREAD = 1e-8, 1e-12


def influence(
    table: pd.DataFrame,
    outcome: str,
    predictors: Sequence[str],
    *,
    term: str,
    golfer: str = "golfer",
    fit: Callable[..., Any] = fit_mixed,
    **options: Any,
) -> pd.DataFrame:
    """Fit a model without each golfer in turn and return the change of one coefficient.

    Parameters
    ----------
    table, outcome, predictors, golfer
        As for the function `fit`.
    term : str
        The coefficient of interest.
    fit : callable
        `fit_mixed` (default), `fit_cluster_robust` or `fit_golfer_means`.
    **options
        Further arguments of `fit`, such as ``slopes``.

    Returns
    -------
    pandas.DataFrame
        One row for each golfer (index), the largest change first: estimate, standard_error and p without that golfer;
        change (estimate without that golfer minus estimate with all); changes_sign (whether the two estimates differ
        in sign); note (the reason if no fit was possible; the numbers are then NaN).

    Raises
    ------
    BadTable
        The model cannot be fitted to all golfers, or has no coefficient `term`.

    Examples
    --------
    >>> swings = pd.DataFrame({
    ...     "golfer": list("AABBCCDD"), "tilt": [1.0, 2, 2, 4, 1, 3, 2, 9], "angle": [0.0, 1, 2, 3, 0, 2, 1, 9]})
    >>> from swinglab.statistics.cluster_robust import fit_cluster_robust
    >>> influence(swings, "angle", ["tilt"], term="tilt", fit=fit_cluster_robust).index[0]
    'D'
    """
    whole = _term(fit(table, outcome, predictors, golfer=golfer, **options), term)
    used = table.loc[
        table[[outcome, *([predictors] if isinstance(predictors, str) else predictors)]].notna().all(axis=1)
    ]
    together: dict[Any, dict[str, float]] = {}
    if fit is fit_mixed and options.get("method", "REML") == "REML":
        together = _without_each(table, outcome, predictors, term=term, golfer=golfer, **options)
    elif fit is fit_golfer_means:
        together = means_without_each(table, outcome, predictors, term=term, golfer=golfer)
    rows = []
    for one in sorted(used[golfer].dropna().unique(), key=str):
        if one in together:
            rows.append({"golfer": one, **together[one], "note": ""})
            continue
        try:
            left = fit(
                table.loc[(table[golfer] != one).fillna(False)], outcome, predictors, golfer=golfer, **options
            )
            rows.append({"golfer": one, **_term(left, term), "note": ""})
        except SwinglabError as fault:
            gone = dict.fromkeys(whole, np.nan)
            rows.append({"golfer": one, **gone, "note": fault.what})
    found = pd.DataFrame(rows).set_index("golfer")
    found.insert(3, "change", found["estimate"] - whole["estimate"])
    found.insert(4, "changes_sign", found["estimate"] * whole["estimate"] < 0)
    return found.loc[
        found["change"].abs().sort_values(ascending=False, na_position="last", kind="stable").index
    ]


def _without_each(
    table: pd.DataFrame,
    outcome: str,
    predictors: Sequence[str],
    *,
    term: str,
    golfer: str,
    slopes: Sequence[str] = (),
    session: str | None = None,
    method: str = "REML",
) -> dict[Any, dict[str, float]]:
    """Return the coefficient `term` of mixed models without each golfer: golfer -> estimate, standard_error, p.

    The models are fitted together, from golfers' cross-products, which is faster than separate fits. Golfers without
    whom the model can barely be estimated are omitted here; they need a separate fit.
    """
    ready = prepare(table, outcome, predictors, golfer=golfer, slopes=slopes, session=session)
    design, whole = ready.design, ready.moments
    place = design.names.index(term)
    start, _ = best_of_starts(whole, reml=True)
    found: dict[Any, dict[str, float]] = {}
    for first in range(0, design.n_golfers, _BATCH):
        batch = np.arange(first, min(first + _BATCH, design.n_golfers))
        weights = np.ones((design.n_golfers, len(batch)))
        weights[batch, np.arange(len(batch))] = 0.0
        data, use = weighted_sets(ready.cross_x, whole, weights)
        if not len(use):
            continue
        theta, done, _ = fit_sets(data, whole, start)
        at = evaluate(data, theta)
        variance = at.rss / at.nu
        back = ready.x_back[[place]]
        estimate = (back @ (ready.offset[:, None] + ready.y_scale * at.beta))[0]
        error = ready.y_scale * np.sqrt(np.einsum("a,abr,b->r", back[0], at.inverse, back[0]) * variance)
        df = degrees_of_freedom(at, back, theta, whole.pattern)[0]
        table_of = coefficient_table([design.golfers[g] for g in batch[use]], estimate, error, df)
        able = done & (variance > _LITTLE_ERROR) & _still_varies(ready, batch[use])
        found |= table_of.loc[able, ["estimate", "standard_error", "p"]].to_dict("index")
    return found


def _still_varies(ready: Prepared, golfers: np.ndarray) -> np.ndarray:
    """Whether the model can still be estimated without each of these golfers, as a mask.

    The remaining rows must outnumber the random effects, and slopes and sessions must vary within some golfer.
    """
    q = ready.moments.free
    own = ready.moments.z[:q, :q, :, 0]
    rows = own[0, 0]
    spread = np.einsum("qqg->qg", own)[1:] - own[0, 1:] ** 2 / rows
    varies = spread > _LITTLE_SPREAD * rows
    some = (varies.sum(axis=1)[:, None] - varies[:, golfers] > 0).all(axis=0)
    if ready.seats is not None:
        several = ready.moments.z[q + 1, q + 1, :, 0] > 0  # golfers with a second session
        some &= several.sum() - several[golfers] > 0
    return some & (rows.sum() - rows[golfers] > q * (len(rows) - 1))


def _term(fitted: Any, term: str) -> dict[str, float]:
    if term not in fitted.coefficients.index:
        names = list(fitted.coefficients.index)
        raise BadTable(
            f"the model has no coefficient {term}",
            do=near_names(term, names) or f"choose one of {', '.join(names)}",
        )
    row = fitted.coefficients.loc[term]
    return {name: float(row[name]) for name in ("estimate", "standard_error", "p")}
