"""Many candidate predictors of one outcome, grouped by their pattern of missing values."""

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
    """Outcome, candidates and covariates in the rows where the outcome and all covariates are present.

    y : (n,) outcome. x : (n, J) candidates in steps of ten units, NaN where missing. z : (n, q) coded
    covariates. golfer : (n,) labels. cell : (n,) code of the combination of golfer, session, club and shot, as
    far as the table has them. order : (n,) position of the swing in its session, NaN if unknown. names : (J,)
    candidates. dropped : number of rows left out.
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
        """Yield, for each pattern of missing values, the complete rows (mask) and the candidates (positions)."""
        there = ~np.isnan(self.x)
        packed = np.packbits(there, axis=0).T
        _, first, which = np.unique(packed, axis=0, return_index=True, return_inverse=True)
        which = np.ravel(which)
        for number, place in enumerate(first):
            yield there[:, place], np.flatnonzero(which == number)


def read_candidates(
    table: pd.DataFrame, outcome: str, candidates: Sequence[str], *, golfer: str, adjust: Sequence[str]
) -> Candidates:
    """Read outcome, candidates and covariates of a screen from a table.

    Raises
    ------
    BadTable
        All faults in one: an unknown column, one that is not numeric, an infinite value, no complete row.
    """
    names = [candidates] if isinstance(candidates, str) else list(dict.fromkeys(candidates))
    extra = [adjust] if isinstance(adjust, str) else list(adjust)
    check_columns(table, [golfer, outcome, *names, *extra])
    faults = [f"{name} is not numeric" for name in (outcome, *names) if not is_number(table[name])]
    faults += [f"{name} is both outcome and candidate" for name in names if name == outcome]
    faults += [f"{name} is both covariate and candidate" for name in names if name in extra]
    faults += [] if names else ["no candidate is given"]
    if faults:
        raise BadTable("; ".join(faults))
    kept = table[[golfer, outcome, *extra]].notna().all(axis=1).to_numpy()
    rows = table.loc[kept]
    if rows.empty:
        raise BadTable(f"no row has a value in every one of {', '.join([golfer, outcome, *extra])}")
    y, x = rows[outcome].to_numpy(float), rows[names].to_numpy(float, na_value=np.nan)
    z, _, _, faults = code_predictors(rows, extra, intercept=False)
    infinite = [n for n, column in zip(names, x.T, strict=True) if not holds(column[~np.isnan(column)])]
    faults += [f"{name} holds an infinite value" for name in infinite]
    faults += [] if holds(y) else [f"{outcome} holds an infinite value"]
    if faults:
        raise BadTable("; ".join(faults))
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
    """Sparse matrix (number, n) that sums rows with the same code."""
    ones = np.ones(len(codes))
    return sparse.csr_matrix((ones, (codes, np.arange(len(codes)))), shape=(number, len(codes)))


def without(others: np.ndarray, values: np.ndarray) -> np.ndarray:
    """Residuals of the columns of values (n, k) on those of others (n, q), by least squares."""
    if not others.shape[1]:
        return values
    return values - others @ np.linalg.lstsq(others, values, rcond=None)[0]


def moving_columns(z: np.ndarray) -> np.ndarray:
    """Keep the columns that are not 0 throughout, apart from rounding."""
    return z[:, np.abs(z).max(axis=0) > 1e-9] if z.shape[1] else z
