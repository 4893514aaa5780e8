"""How much an answer depends on one golfer: the fit again without each of them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

import numpy as np
import pandas as pd

from swinglab.errors import BadTable, SwinglabError, near_names
from swinglab.statistics.mixed import fit_mixed


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
    """Fit again without each golfer in turn.

    Parameters
    ----------
    table, outcome, predictors, golfer
        As `fit` takes them.
    term : str
        The coefficient looked at.
    fit : callable
        `fit_mixed` (default), `fit_cluster_robust` or `fit_golfer_means`.
    **options
        Passed on to `fit`, such as ``slopes``.

    Returns
    -------
    pandas.DataFrame
        Index the golfer left out, largest change first: estimate, standard_error, p without that golfer;
        change (estimate without less estimate with all); changes_sign; note, the reason where no fit was
        possible (then NaN).

    Raises
    ------
    BadTable
        Where the fit with all golfers is not possible, or has no such term.

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
    rows = []
    for one in sorted(used[golfer].dropna().unique(), key=str):
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


def _term(fitted: Any, term: str) -> dict[str, float]:
    if term not in fitted.coefficients.index:
        names = list(fitted.coefficients.index)
        raise BadTable(
            f"there is no coefficient {term}", do=near_names(term, names) or f"one of {', '.join(names)}"
        )
    row = fitted.coefficients.loc[term]
    return {name: float(row[name]) for name in ("estimate", "standard_error", "p")}
