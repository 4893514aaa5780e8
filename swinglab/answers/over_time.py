"""One golfer over time: session means, and changes between sessions that exceed the minimal detectable change."""

from __future__ import annotations

import numpy as np
import pandas as pd
from scipy import special

from swinglab import columns
from swinglab.errors import BadTable
from swinglab.records import Errors

_Z = float(special.ndtri(0.975))


def session_means(table: pd.DataFrame, column: str, *, golfer: str, errors: Errors) -> pd.DataFrame:
    """Return the mean, SD and standard error of a column in each of a golfer's sessions.

    Parameters
    ----------
    table : pandas.DataFrame
        The swing table.
    column : str
        A numeric column, such as a posture at an event.
    golfer : str
        Code of the golfer.
    errors : Errors
        Known measurement errors.

    Returns
    -------
    pandas.DataFrame
        session, swings, mean, sd (of the golfer's swings), error (standard error of the mean, including
        marker placement error if it is known and the column is an angle of the body). For a session with one
        swing, sd is NaN and error contains marker placement error only. Values are in the column's unit;
        sessions are in the order of their first row in the table.

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
    each = own.groupby("session", sort=False)[column]
    made = pd.DataFrame({"swings": each.size(), "mean": each.mean(), "sd": each.std()})
    made["error"] = np.sqrt(made["sd"].fillna(0.0) ** 2 / made["swings"] + _placement(column, errors))
    return made.rename_axis("session").reset_index()


def _placement(column: str, errors: Errors) -> float:
    """Return the variance that marker placement adds to a session's mean of an angle of the body, otherwise 0."""
    if not columns.is_column(column) or columns.column(column).kind != "posture":
        return 0.0
    return (errors.placement_deg or 0.0) ** 2 if columns.column(column).unit == "deg" else 0.0


def changes_between(
    table: pd.DataFrame, names: list[str], *, golfer: str, first: str, last: str, errors: Errors
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
    errors : Errors
        Known measurement errors.

    Returns
    -------
    pandas.DataFrame
        column; change (last minus first session); detectable (1.96 standard errors of the difference of the two
        means, including marker placement error in both sessions if it is known); beyond (size of the change divided
        by detectable). Only columns with `beyond` above 1, the largest first. Without any real change, about one
        column in twenty would be listed, so the list is for exploration only.
    """
    own = table[table["golfer"] == golfer]
    one, two = own[own["session"] == first], own[own["session"] == last]
    rows = []
    for name in names:
        a, b = one[name].dropna(), two[name].dropna()
        if min(len(a), len(b)) < 2:
            continue
        detectable = _Z * np.sqrt(a.var() / len(a) + b.var() / len(b) + 2 * _placement(name, errors))
        change = float(b.mean() - a.mean())
        if detectable > 0 and abs(change) > detectable:
            rows.append({"column": name, "change": change, "detectable": float(detectable),
                         "beyond": abs(change) / float(detectable)})  # fmt: skip
    made = pd.DataFrame(rows, columns=["column", "change", "detectable", "beyond"])
    return made.sort_values("beyond", ascending=False, kind="stable", ignore_index=True)
