"""Data of a search: one outcome and many candidate predictors, grouped by their pattern of missing values."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy import sparse

from swinglab.errors import BadTable
from swinglab.statistics.design import check_columns, code_predictors, holds, is_number

#: Estimates are given per ten units of the candidate.
STEP = 10.0
#: A golfer's own drift over a session is removed if the golfer has this many swings or more.
SWINGS_FOR_DRIFT = 8
#: Columns, where present, whose combinations divide a golfer's swings into cells; each cell has its own mean.
CELLS = ("session", "club", "shot")
ORDER = "order"


@dataclass(frozen=True, slots=True, eq=False)
class Candidates:
    """Data of a search among J candidate predictors, in the n rows that have the outcome and all covariates.

    y : (n,) outcome. x : (n, J) candidates, divided by ten so that slopes are per ten units; NaN where missing. z :
    (n, q) covariates after dummy coding. golfer : (n,) labels. cell : (n,) text with the combination of golfer,
    session, club and shot, as far as the table has them. order : (n,) position of the swing in its session, NaN if
    unknown. names : (J,) columns of the candidates. dropped : number of rows not used.
    """

    y: np.ndarray
    x: np.ndarray
    z: np.ndarray
    golfer: np.ndarray
    cell: np.ndarray
    order: np.ndarray
    names: tuple[str, ...]
    dropped: int

    def patterns(self) -> Iterator[tuple[np.ndarray, np.ndarray]]:
        """Group the candidates by their missing rows; yield a mask of rows and positions of candidates for each group.

        The mask is (n,), True where the candidates of the group are present; the positions are indices into `names`.
        """
        there = ~np.isnan(self.x)
        packed = np.packbits(there, axis=0).T
        _, first, which = np.unique(packed, axis=0, return_index=True, return_inverse=True)
        which = np.ravel(which)
        for number, place in enumerate(first):
            yield there[:, place], np.flatnonzero(which == number)


def read_candidates(
    table: pd.DataFrame, outcome: str, candidates: Sequence[str], *, golfer: str, adjust: Sequence[str]
) -> Candidates:
    """Return outcome, candidates and covariates of a search as arrays.

    Parameters
    ----------
    table : pandas.DataFrame
        One row for each swing.
    outcome : str
        A numeric column.
    candidates : sequence of str
        Numeric columns that are searched.
    golfer : str
        Column of golfers' codes.
    adjust : sequence of str
        Columns of covariates, numeric or text.

    Raises
    ------
    BadTable
        An unknown column, an outcome or candidate that is not numeric, an infinite value, a column with two roles, or
        no row with outcome, golfer and all covariates.
    """
    names = [candidates] if isinstance(candidates, str) else list(dict.fromkeys(candidates))
    extra = [adjust] if isinstance(adjust, str) else list(adjust)
    check_columns(table, [golfer, outcome, *names, *extra])
    faults = [f"{name} is not numeric" for name in (outcome, *names) if not is_number(table[name])]
    faults += [f"{name} is both outcome and candidate" for name in names if name == outcome]
    faults += [f"{name} is both covariate and candidate" for name in names if name in extra]
    faults += [] if names else ["no candidate column is given"]
    if faults:
        raise BadTable(
            f"some columns cannot be searched: {'; '.join(faults)}",
            do="correct these columns, or leave them out of the search",
        )
    kept = table[[golfer, outcome, *extra]].notna().all(axis=1).to_numpy()
    rows = table.loc[kept]
    if rows.empty:
        raise BadTable(
            f"no row has values in all of these columns: {', '.join([golfer, outcome, *extra])}",
            do="fill in missing values, or leave out covariates",
        )
    y, x = rows[outcome].to_numpy(float), rows[names].to_numpy(float, na_value=np.nan)
    z, _, _, faults = code_predictors(rows, extra, intercept=False)
    infinite = [n for n, column in zip(names, x.T, strict=True) if not holds(column[~np.isnan(column)])]
    faults += [f"{name} contains an infinite value" for name in infinite]
    faults += [] if holds(y) else [f"{outcome} contains an infinite value"]
    if faults:
        raise BadTable(
            f"some columns cannot be searched: {'; '.join(faults)}",
            do="correct these columns, or leave them out of the search",
        )
    cell = rows[golfer].astype(str)
    for name in CELLS:
        if name in rows and name not in extra:
            cell = cell + " | " + rows[name].astype(object).fillna("").astype(str)
    ordered = ORDER in rows and ORDER not in extra and is_number(rows[ORDER])
    order = rows[ORDER].to_numpy(float, na_value=np.nan) if ordered else np.full(len(rows), np.nan)
    return Candidates(
        y, x / STEP, z, rows[golfer].to_numpy(), cell.to_numpy(), order, tuple(names), int((~kept).sum())
    )


def indicator(codes: np.ndarray, number: int) -> sparse.csr_matrix:
    """Return a sparse matrix M (number, n): row i of M @ values is the sum of the rows of `values` with code i.

    `codes` : (n,) code of each row of `values`, an integer from 0 to number - 1.
    """
    ones = np.ones(len(codes))
    return sparse.csr_matrix((ones, (codes, np.arange(len(codes)))), shape=(number, len(codes)))


def without(others: np.ndarray, values: np.ndarray) -> np.ndarray:
    """Return residuals (n, k) of the columns of `values` (n, k) after regression on the columns of `others` (n, q)."""
    if not others.shape[1]:
        return values
    return values - others @ np.linalg.lstsq(others, values, rcond=None)[0]


def moving_columns(z: np.ndarray) -> np.ndarray:
    """Return the columns of z (n, q) without those that are 0 in all rows, apart from rounding errors."""
    return z[:, np.abs(z).max(axis=0) > 1e-9] if z.shape[1] else z
