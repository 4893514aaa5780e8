"""Many candidate predictors beside one outcome: rows by pattern of missing values, covariates taken out."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy import sparse

from swinglab.errors import BadTable
from swinglab.statistics.design import check_columns, code_predictors, holds, is_number

#: A change of ten units is what an estimate is given per.
STEP = 10.0
#: From this many swings on a golfer's own drift over a session is taken out.
SWINGS_FOR_DRIFT = 8
#: Columns that split a golfer's swings into cells of their own mean, where the table has them.
CELLS = ("session", "club", "shot")
ORDER = "order"


@dataclass(frozen=True, slots=True, eq=False)
class Candidates:
    """Outcome, candidates and covariates of the rows that hold the outcome and every covariate.

    y : (n,). x : (n, J), in steps of ten units, NaN where missing. z : (n, q) covariates, coded. golfer :
    (n,) labels. cell : (n,) golfer with session, club and shot, as far as the table has them. order : (n,)
    place of the swing in its session, NaN where not known. names : (J,). dropped : rows left out.
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
        """Rows (mask) and candidates (places) that are complete together, one pattern after another."""
        there = ~np.isnan(self.x)
        packed = np.packbits(there, axis=0).T
        _, first, which = np.unique(packed, axis=0, return_index=True, return_inverse=True)
        which = np.ravel(which)
        for number, place in enumerate(first):
            yield there[:, place], np.flatnonzero(which == number)


def read_candidates(
    table: pd.DataFrame, outcome: str, candidates: Sequence[str], *, golfer: str, adjust: Sequence[str]
) -> Candidates:
    """Take a screen's columns from a table.

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
    """(number, n) matrix that sums rows by their code."""
    ones = np.ones(len(codes))
    return sparse.csr_matrix((ones, (codes, np.arange(len(codes)))), shape=(number, len(codes)))


def without(others: np.ndarray, values: np.ndarray) -> np.ndarray:
    """Residuals of the columns of values (n, k) on those of others (n, q), by least squares."""
    if not others.shape[1]:
        return values
    return values - others @ np.linalg.lstsq(others, values, rcond=None)[0]


def moving_columns(z: np.ndarray) -> np.ndarray:
    """Columns that are not all 0 but for rounding."""
    return z[:, np.abs(z).max(axis=0) > 1e-9] if z.shape[1] else z
