"""Table of the screens: for each posture searched, its relation to the strike, reliability and detectable change."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import pandas as pd
import scipy
from scipy import special

from swinglab import columns
from swinglab.answers.screen import ScreenAnswer
from swinglab.records import Errors

#: Number of swings in a session mean, for `measurability`.
SESSION = 10
_Z = float(special.ndtri(0.975))
#: Columns of screen.csv.
SCREEN_COLUMNS = (
    "name", "outcome", "level", "golfer", "column", "posture", "event", "estimate", "standard_error", "ci_low",
    "ci_high", "p", "p_adjusted", "n_golfers", "n_swings", "golfers_same_sign", "unit", "per", "smallest_effect",
    "group", "shown", "family", "samples", "p_single_step", "estimate_equal_weights", "p_adjusted_equal_weights",
    "counts_related", "own_sd", "reliability_one", "reliability_session", "detectable_one", "detectable_session",
    "not_screened",
)  # fmt: skip


def screen_table(answers: Sequence[ScreenAnswer], errors: Errors) -> pd.DataFrame:
    """Return the rows of screen.csv: every candidate (posture at an event) of every screen.

    For a candidate that could not be screened, the column not_screened gives the reason. Candidates whose absolute
    correlations are .8 or more have the same number in the column group; shown is True for the one with the largest
    |estimate| / standard error. The columns own_sd, reliability_* and detectable_* are described in `measurability`.
    """
    tables = [_rows(answer, errors) for answer in answers]
    joined = pd.concat(tables, ignore_index=True) if tables else pd.DataFrame()
    return joined.reindex(columns=list(SCREEN_COLUMNS))


def _rows(answer: ScreenAnswer, errors: Errors) -> pd.DataFrame:
    question, found = answer.question, answer.found
    fixed: dict[str, Any] = {
        "name": question.name, "outcome": question.outcome, "level": question.level, "golfer": question.golfer or "",
        "unit": columns.column(question.outcome).unit if columns.is_column(question.outcome) else "",
        "smallest_effect": question.smallest_effect or np.nan,
    }  # fmt: skip
    if found is None:
        return pd.DataFrame([fixed | {"not_screened": answer.why}])
    shown = found.table.merge(found.beside, on="column").merge(
        measurability(answer.rows, found.table["column"].tolist(), errors), on="column"
    )
    shown["group"], shown["shown"] = answer.groups, shown_ones(answer)
    left = found.not_screened.rename(columns={"reason": "not_screened"})
    table = pd.concat([shown, left], ignore_index=True).assign(**fixed)
    table["family"], table["samples"] = found.family, found.samples
    named = [columns.column(name) for name in table["column"]]
    table["posture"], table["event"] = [c.quantity for c in named], [c.event for c in named]
    table["per"] = [f"10 {c.unit}" for c in named]
    table["not_screened"] = table["not_screened"].astype(object).where(table["not_screened"].notna(), "")
    return table


def shown_ones(answer: ScreenAnswer) -> np.ndarray:
    """Return a mask over the screened candidates: True for the one shown of each group of correlated candidates.

    It is the candidate with the largest |estimate| / standard error.
    """
    assert answer.found is not None
    table = answer.found.table
    size = (table["estimate"] / table["standard_error"]).abs().to_numpy()
    first = np.zeros(len(table), bool)
    for group in np.unique(answer.groups):
        own = np.flatnonzero(answer.groups == group)
        first[own[np.argmax(size[own])]] = True
    return first


def measurability(rows: pd.DataFrame, names: Sequence[str], errors: Errors) -> pd.DataFrame:
    """Return reliability and minimal detectable change of posture columns, one row for each column.

    Parameters
    ----------
    rows : pandas.DataFrame
        Swings, one row each.
    names : sequence of str
        Posture columns of `rows`.
    errors : Errors
        Known measurement errors.

    Returns
    -------
    pandas.DataFrame
        column : name. own_sd : SD of swings about the golfer's session mean, pooled over golfers. reliability_one,
        reliability_session : intraclass correlation ICC(1) of single swings and of means of ten swings, from an
        analysis of variance. detectable_one, detectable_session : minimal detectable change (95 %) from one session
        to another, for single swings and for means of ten swings. It includes marker placement error if this is
        known, because markers are placed again in each session. SDs and changes are in the unit of the column.
    """
    cells = rows["golfer"].astype(str)
    cells = cells + "|" + rows["session"].astype(str) if "session" in rows else cells
    values = rows[list(names)]
    own = values - values.groupby(cells.to_numpy()).transform("mean")
    count, golfers = values.notna().sum(), values.groupby(rows["golfer"].to_numpy())
    number_of_cells = values.groupby(cells.to_numpy()).count().gt(0).sum()
    with np.errstate(invalid="ignore", divide="ignore"):
        own_variance = (own**2).sum() / (count - number_of_cells)
        reliability = _reliability(values, golfers, count)
    degrees = np.array([columns.column(name).unit == "deg" for name in names])
    placement = np.where(degrees, (errors.placement_deg or 0.0) ** 2, 0.0)
    ten = SESSION * reliability / (1 + (SESSION - 1) * reliability)
    spread = own_variance.to_numpy()
    return pd.DataFrame(
        {
            "column": list(names),
            "own_sd": np.sqrt(spread),
            "reliability_one": reliability,
            "reliability_session": ten,
            "detectable_one": _Z * np.sqrt(2 * (spread + placement)),
            "detectable_session": _Z * np.sqrt(2 * (spread / SESSION + placement)),
        }
    )


def _reliability(
    values: pd.DataFrame, golfers: pd.api.typing.DataFrameGroupBy, count: pd.Series
) -> np.ndarray:
    """Return ICC(1) of single swings, at least 0; NaN where there is only one golfer."""
    sizes, means = golfers.count(), golfers.mean()
    number = sizes.gt(0).sum()
    within = ((values - golfers.transform("mean")) ** 2).sum() / (count - number)
    between = (sizes * (means - values.mean()) ** 2).sum() / (number - 1)
    typical = (count - (sizes**2).sum() / count) / (number - 1)
    part = (between - within) / typical
    return np.asarray((part / (part + within)).clip(lower=0.0), float)


def player_against_group(
    table: pd.DataFrame, names: Sequence[str], *, golfer: str, group: str, errors: Errors
) -> pd.DataFrame:
    """Compare one golfer's means with those of a group of golfers, using the prediction interval for a new member.

    Only swings with one club are compared: of the clubs used by both, the one that this golfer used most. If the
    column club is missing or empty, all swings are compared. `golfer` : code of the golfer. `group` : value in the
    column group. `names` : posture columns.

    Returns
    -------
    pandas.DataFrame
        column : name. difference : the golfer's mean minus the mean of the group's golfers, without this
        golfer. range_low, range_high : 95 % prediction interval of the difference for a new member of the
        group. error : standard error of the difference, from the variation of swings and golfers and, if
        known, marker placement; NaN if the golfer has one swing. group_golfers : number of golfers in the group
        with a value; with fewer than three, range and error are NaN. club : club of the swings compared; "" if
        clubs are not known, or if golfer and group have no club in common (group_golfers is then 0, and the
        other values are NaN).
    """
    own = table[table["golfer"] == golfer]
    others = table[(table["group"] == group) & (table["golfer"] != golfer)]
    club = ""
    if "club" in table and own["club"].notna().any():
        shared = own.loc[own["club"].isin(others["club"].dropna()), "club"]
        club = str(shared.value_counts().index[0]) if len(shared) else ""
        own, others = own[own["club"] == club], others[others["club"] == club]
    means = others.groupby("golfer")[list(names)].mean()
    number = means.notna().sum()
    spread, mean = means.std(), means.mean()
    difference = own[list(names)].mean() - mean
    with np.errstate(invalid="ignore", divide="ignore"):
        t = scipy.stats.t.ppf(0.975, np.maximum(number - 1, 1))
        half = t * spread * np.sqrt(1 + 1 / number)
    degrees = np.array([columns.column(name).unit == "deg" for name in names])
    placement = np.where(degrees, (errors.placement_deg or 0.0) ** 2, 0.0)
    sessions = own["session"].nunique() if "session" in own else 1
    swings = own[list(names)].var() / own[list(names)].notna().sum()
    error = np.sqrt(swings + placement / max(sessions, 1) + spread**2 / number)
    few = number < 3
    return pd.DataFrame(
        {
            "column": list(names),
            "difference": difference.to_numpy(),
            "range_low": np.where(few, np.nan, -half),
            "range_high": np.where(few, np.nan, half),
            "error": np.where(few, np.nan, error),
            "group_golfers": number.to_numpy(),
            "club": club,
        }
    )
