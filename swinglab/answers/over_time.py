"""One golfer over time: session means, and changes between sessions that exceed the minimal detectable change."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pandas as pd

from swinglab import columns
from swinglab.errors import BadTable
from swinglab.records import Errors
from swinglab.statistics.estimate import Estimate

#: Measurement errors of all sessions, or a function that returns those of given rows of the swing table, such as
#: `Study.errors_of`.
SomeErrors = Errors | Callable[[pd.DataFrame], Errors]


def session_means(table: pd.DataFrame, column: str, *, golfer: str, errors: SomeErrors) -> pd.DataFrame:
    """Return the mean of a column in each of a golfer's sessions, with its SD, standard error and 95 % limits.

    Parameters
    ----------
    table : pandas.DataFrame
        The swing table.
    column : str
        A numeric column, such as a posture at an event.
    golfer : str
        Code of the golfer.
    errors : Errors or callable
        Known measurement errors; if sessions have different errors, a function such as `Study.errors_of`, which
        returns the errors of the rows of a session.

    Returns
    -------
    pandas.DataFrame
        session, swings, mean, sd (of the golfer's swings), error (standard error of the mean, including
        marker placement error if it is known and the column is an angle of the body), low, high (95 % limits of
        the mean by the t distribution). For a session with one swing, all but swings and mean are NaN. Values are
        in the column's unit; sessions are in the order of their first row in the table.

    Raises
    ------
    BadTable
        The golfer has no value of this column.
    """
    own = table[(table["golfer"] == golfer) & table[column].notna()]
    if own.empty:
        raise BadTable(
            f"no swing of golfer {golfer} has a value in the column {column}",
            do="choose another golfer or column",
        )
    rows = []
    for session, swings in own.groupby("session", sort=False):
        values = swings[column]
        mean = _difference(float(values.mean()), [values], _placement(column, swings, errors))
        rows.append(
            (
                session,
                len(values),
                mean.estimate,
                values.std(),
                mean.standard_error,
                mean.ci_low,
                mean.ci_high,
            )
        )
    return pd.DataFrame(rows, columns=["session", "swings", "mean", "sd", "error", "low", "high"])


def _difference(estimate: float, samples: list[pd.Series], placement: float) -> Estimate:
    """Return a mean, or a difference of means, with its standard error and limits; NaN with one value in a sample.

    The variance is the sum of those of the means of the samples and of `placement`, which is known. The degrees of
    freedom of the t distribution are those of Welch (1947).
    """
    parts = [(float(values.var()) / len(values), len(values) - 1) for values in samples]
    variance = sum(part for part, _ in parts) + placement
    unsure = sum(part**2 / df for part, df in parts if df and part > 0)
    return Estimate.by_t(estimate, np.sqrt(variance), variance**2 / unsure if unsure else np.inf)


def _placement(column: str, swings: pd.DataFrame, errors: SomeErrors) -> float:
    """Return the variance that marker placement adds to a session's mean of an angle of the body, otherwise 0.

    swings : rows of the session.
    """
    asked = columns.column(column) if columns.is_column(column) else None
    if asked is None or asked.kind != "posture" or asked.unit != "deg":
        return 0.0
    own = errors(swings) if callable(errors) else errors
    return (own.placement_deg or 0.0) ** 2


def changes_between(
    table: pd.DataFrame, names: list[str], *, golfer: str, first: str, last: str, errors: SomeErrors
) -> pd.DataFrame:
    """List the columns that changed between two sessions of a golfer by more than the minimal detectable change.

    Parameters
    ----------
    table : pandas.DataFrame
        The swing table.
    names : list of str
        Numeric columns to compare.
    golfer : str
        Code of the golfer.
    first, last : str
        The two sessions.
    errors : Errors or callable
        Known measurement errors; if sessions have different errors, a function such as `Study.errors_of`, which
        returns the errors of the rows of a session.

    Returns
    -------
    pandas.DataFrame
        column; change (last minus first session); detectable (half the width of the 95 % interval of the difference
        of the two means by the t distribution, including marker placement error in both sessions if it is known);
        beyond (size of the change divided by detectable). Only columns with `beyond` above 1, the largest first.
        Without any real change, about one column in twenty would be listed, so the list is for exploration only.
    """
    own = table[table["golfer"] == golfer]
    one, two = own[own["session"] == first], own[own["session"] == last]
    rows = []
    for name in names:
        a, b = one[name].dropna(), two[name].dropna()
        if min(len(a), len(b)) < 2:
            continue
        placement = _placement(name, one, errors) + _placement(name, two, errors)
        found = _difference(float(b.mean() - a.mean()), [a, b], placement)
        detectable = found.ci_high - found.estimate
        if 0 < detectable < abs(found.estimate):
            rows.append({"column": name, "change": found.estimate, "detectable": detectable,
                         "beyond": abs(found.estimate) / detectable})  # fmt: skip
    made = pd.DataFrame(rows, columns=["column", "change", "detectable", "beyond"])
    return made.sort_values("beyond", ascending=False, kind="stable", ignore_index=True)
