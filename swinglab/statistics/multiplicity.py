"""P values of several questions asked at once, adjusted for their number."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd
import scipy

from swinglab.errors import BadRequest, near_names

_METHODS = ("holm", "benjamini_hochberg")


def adjust(p: Sequence[float] | np.ndarray | pd.Series, method: str = "holm") -> np.ndarray:
    """Adjust p values for the number of questions asked.

    Parameters
    ----------
    p : sequence of float, (n,)
        P values; a missing one stays missing and is not counted.
    method : {"holm", "benjamini_hochberg"}
        Holm keeps the chance of any false claim at the level of each test (named questions);
        Benjamini-Hochberg keeps the expected share of false claims among the claims made (exploration).

    Returns
    -------
    numpy.ndarray, (n,)

    Raises
    ------
    BadRequest
        An unknown method, or a p value outside 0 to 1.

    References
    ----------
    Holm 1979; Benjamini & Hochberg 1995.

    Examples
    --------
    >>> [round(float(value), 3) for value in adjust([0.01, 0.04, 0.03])]
    [0.03, 0.06, 0.06]
    """
    if method not in _METHODS:
        raise BadRequest(
            f"there is no adjustment {method}",
            do=near_names(method, _METHODS) or f"one of {', '.join(_METHODS)}",
        )
    values = np.asarray(p, float)
    given = np.isfinite(values)
    if ((values[given] < 0) | (values[given] > 1)).any() or np.isinf(values).any():
        wrong = values[given & ((values < 0) | (values > 1))]
        raise BadRequest(f"a p value lies between 0 and 1, not {wrong[0] if len(wrong) else 'infinite'}")
    adjusted = np.full(values.shape, np.nan)
    if given.any():
        known = values[given]
        adjusted[given] = _holm(known) if method == "holm" else scipy.stats.false_discovery_control(known)
    return adjusted


def _holm(p: np.ndarray) -> np.ndarray:
    """Holm's step-down adjustment. (statsmodels collects garbage at each call, which takes longer than the answer.)"""
    order = np.argsort(p)
    steps = np.maximum.accumulate(p[order] * np.arange(len(p), 0, -1))
    adjusted = np.empty(len(p))
    adjusted[order] = np.minimum(steps, 1.0)
    return adjusted
