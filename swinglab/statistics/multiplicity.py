"""Adjustment of the p values of several tests for their number (Holm, Benjamini-Hochberg)."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd
import scipy

from swinglab.errors import BadRequest, near_names

_METHODS = ("holm", "benjamini_hochberg")


def adjust(p: Sequence[float] | np.ndarray | pd.Series, method: str = "holm") -> np.ndarray:
    """Return p values adjusted for the number of tests.

    Parameters
    ----------
    p : sequence of float, (n,)
        P values; a missing one remains missing and is not counted.
    method : {"holm", "benjamini_hochberg"}
        Holm's method controls the probability of one or more false positives (family-wise error rate), for questions
        that were stated in advance. Benjamini and Hochberg's method controls the expected share of false positives
        among the positive results (false discovery rate), for exploration.

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
            f"there is no adjustment {method} of p values",
            do=near_names(method, _METHODS) or f"choose one of {', '.join(_METHODS)}",
        )
    values = np.asarray(p, float)
    given = np.isfinite(values)
    if ((values[given] < 0) | (values[given] > 1)).any() or np.isinf(values).any():
        wrong = values[given & ((values < 0) | (values > 1))]
        raise BadRequest(
            f"p values must be between 0 and 1, but one of them is {wrong[0] if len(wrong) else 'infinite'}",
            do="correct the p value",
        )
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
