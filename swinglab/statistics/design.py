"""Conversion of a table to the arrays of a regression, with a check of the table and coding of text predictors."""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from numbers import Real

import numpy as np
import pandas as pd
from scipy import linalg

from swinglab.errors import BadTable, near_names, similar_names

INTERCEPT = "intercept"
#: Fewest golfers for a model in which golfers are the units.
FEWEST_GOLFERS = 2
#: A column is collinear if the other columns leave less than this share of its variation unexplained.
_COLLINEAR = 1e-8
#: Share of an outcome's sum of squares that rounding can leave as residual in an exact fit.
NO_ERROR = 1e-26
#: Values whose squares would overflow or underflow.
LARGEST, SMALLEST = 1e100, 1e-100


@dataclass(frozen=True, slots=True, eq=False)
class Design:
    """Arrays of a regression with n rows, p coefficients and G golfers.

    y : (n,) outcome. x : (n, p) predictors; the first column is the intercept, if the model has one. names : (p,)
    names of the coefficients. parts : name of each predictor -> names of its coefficients (several for text).
    golfers : (G,) labels. codes : (n,) index of each row's golfer in `golfers`. index : index labels of the n rows in
    the table. kept : one Boolean for each row of the table, True if the row is used. dropped : number of rows that are
    not used because of a missing value.
    """

    outcome: str
    y: np.ndarray
    x: np.ndarray
    names: tuple[str, ...]
    parts: dict[str, tuple[str, ...]]
    golfers: tuple
    codes: np.ndarray
    index: pd.Index
    kept: np.ndarray
    dropped: int

    @property
    def n_rows(self) -> int:
        """Number of rows that are used."""
        return len(self.y)

    @property
    def n_golfers(self) -> int:
        """Number of golfers with at least one row that is used."""
        return len(self.golfers)

    def place(self, name: str) -> int:
        """Return the index of a coefficient in `names`; an unknown name raises BadTable with similar names."""
        if name not in self.names:
            raise BadTable(
                f"the model has no coefficient {name}",
                do=near_names(name, self.names) or f"choose one of {', '.join(self.names)}",
            )
        return self.names.index(name)

    def places(self, terms: Sequence[str]) -> list[int]:
        """Return the indices of coefficients in `names`; a text predictor's name stands for all its coefficients."""
        found: list[int] = []
        for term in [terms] if isinstance(terms, str) else terms:
            found += [self.place(name) for name in self.parts.get(term, (term,))]
        return found


def build_design(
    table: pd.DataFrame,
    outcome: str,
    predictors: Sequence[str],
    *,
    golfer: str = "golfer",
    also: Iterable[str] = (),
    numeric_outcome: bool = True,
) -> Design:
    """Return the arrays of a regression from a table, without rows that have a missing value.

    Numbers and Booleans are used as they are. Text and categories are treatment coded: the reference is the first
    level (in the order of a Categorical, otherwise in alphabetical order), and every other level has a coefficient
    ``column[level]``.

    Parameters
    ----------
    table : pandas.DataFrame
        One row for each swing.
    outcome : str
        Column of the outcome.
    predictors : sequence of str
        Columns of the predictors.
    golfer : str
        Column of golfers' codes: which golfer made the swing.
    also : iterable of str
        Further columns (random slopes, sessions); rows with a missing value in one of them are not used.
    numeric_outcome : bool
        Whether the outcome must be numeric. If False, it can be text, and `y` of the result is empty.

    Returns
    -------
    Design

    Raises
    ------
    BadTable
        An unknown column, an outcome that is not numeric, an infinite value, a predictor that is constant or a linear
        combination of others, or too few golfers or rows. One message lists all faults.

    Examples
    --------
    >>> swings = pd.DataFrame({"golfer": ["A", "A", "B"], "tilt": [1.0, 2.0, 4.0], "angle": [0.0, 1.0, 1.0]})
    >>> build_design(swings, "angle", ["tilt"]).names
    ('intercept', 'tilt')
    """
    predictors = _as_names(predictors)
    wanted = list(dict.fromkeys([outcome, *predictors, golfer, *also]))
    check_columns(table, wanted)
    if table.empty:
        raise BadTable("the table has no rows", do="check the selection of rows")
    faults = _request_faults(outcome, predictors, golfer)
    if numeric_outcome and not is_number(table[outcome]):
        faults.append(f"outcome {outcome} is not numeric")
    refuse_faults(faults)
    kept = np.ones(len(table), dtype=bool)
    for name in wanted:
        kept &= _present(table[name])
    rows = table if kept.all() else table.loc[kept]
    if not kept.any():
        raise BadTable(
            f"no row has values in all of these columns: {', '.join(wanted)}",
            do=_where_missing(table, wanted),
        )
    labels, codes = golfer_codes(rows[golfer])
    x, names, parts, faults = code_predictors(rows, predictors)
    y = rows[outcome].to_numpy(float) if numeric_outcome else np.empty(0)
    if not holds(y):
        faults.append(f"outcome {outcome} contains an infinite value")
    if len(labels) < FEWEST_GOLFERS:
        faults.append(
            f"the column {golfer} has {len(labels)} golfer{'s' * (len(labels) != 1)}, but {FEWEST_GOLFERS} are needed"
        )
    if not faults and len(rows) <= len(names):
        faults.append(f"{len(rows)} rows without missing values are too few for {len(names)} coefficients")
    if not faults:
        faults += collinear_faults(x, names)
    refuse_faults(faults)
    return Design(outcome, y, x, names, parts, labels, codes, rows.index, kept, int((~kept).sum()))


def refuse_faults(faults: Sequence[str]) -> None:
    """Raise BadTable with all faults of a table in one message; do nothing if there are none."""
    if faults:
        raise BadTable(
            f"the table does not allow this analysis: {'; '.join(faults)}",
            do="correct these columns, or leave them out of the analysis",
        )


def holds(values: np.ndarray) -> bool:
    """Return whether all values are finite and small enough that their squares are finite."""
    return bool((np.abs(values) < LARGEST).all())


def check_columns(table: pd.DataFrame, wanted: Iterable[str]) -> None:
    """Raise BadTable if the table lacks a column of `wanted`, or has two of that name; suggest similar names."""
    if not isinstance(table, pd.DataFrame):
        raise BadTable(
            f"the table must be a pandas DataFrame, but it is a {type(table).__name__}",
            do="convert it with pandas.DataFrame(...)",
        )
    if table.columns.nlevels > 1:
        raise BadTable(
            "the columns of the table have a MultiIndex (names of several levels)",
            do="give each column one name",
        )
    wanted = list(wanted)
    again = set() if table.columns.is_unique else set(table.columns[table.columns.duplicated()])
    twice = [str(name) for name in dict.fromkeys(wanted) if name in again]
    if twice:
        raise BadTable(
            f"several columns of the table have the same name: {', '.join(twice)}",
            do="rename or remove the columns that are not needed",
        )
    columns = [str(name) for name in table.columns]
    missing = [name for name in wanted if name not in table.columns]
    if missing:
        near = "; ".join(
            f"{name}: {similar_names(str(name), columns) or 'no column has a similar name'}"
            for name in missing
        )
        raise BadTable(f"the table has no column {', '.join(map(str, missing))}", do=near)


def is_number(values: pd.Series) -> bool:
    """Return whether a column contains numbers or Booleans.

    A Categorical does not count as numeric, whatever its levels. A column of Python objects counts as numeric if every
    value that is not missing is a real number.
    """
    if values.dtype.kind == "O" and isinstance(values.dtype, np.dtype):
        known = values.dropna()
        return len(known) > 0 and all(isinstance(value, Real | Decimal | np.bool_) for value in known)
    return bool(pd.api.types.is_numeric_dtype(values.dtype)) and values.dtype.kind != "c"


def _present(values: pd.Series) -> np.ndarray:
    if isinstance(values.dtype, np.dtype) and values.dtype.kind == "f":
        return ~np.isnan(values.to_numpy())
    return values.notna().to_numpy()


def golfer_codes(golfer: pd.Series) -> tuple[tuple, np.ndarray]:
    """Return the sorted labels of the golfers, and for each row the index of its golfer in them, (n,)."""
    codes, labels = pd.factorize(golfer, sort=True)
    return tuple(labels.tolist()), codes


def code_predictors(
    rows: pd.DataFrame, predictors: Sequence[str], *, intercept: bool = True
) -> tuple[np.ndarray, tuple[str, ...], dict[str, tuple[str, ...]], list[str]]:
    """Return predictors as numbers: matrix (n, p), names of coefficients (p,), names for each predictor, and faults.

    The third result maps the name of each predictor to the names of its coefficients. The fourth lists, in words, the
    predictors that cannot be used.
    """
    columns: list[np.ndarray] = [np.ones(len(rows))] if intercept else []
    names: list[str] = [INTERCEPT] if intercept else []
    parts: dict[str, tuple[str, ...]] = {INTERCEPT: (INTERCEPT,)} if intercept else {}
    faults: list[str] = []
    for name in predictors:
        if fault := _uncodable(rows[name]):
            parts[name] = ()
            faults.append(f"predictor {name} contains {fault}")
            continue
        coded = _code_one(rows[name], name)
        parts[name] = tuple(coded)
        if not coded:
            faults.append(f"predictor {name} is the same in every complete row")
        for label, values in coded.items():
            if not holds(values):
                faults.append(f"predictor {name} contains an infinite value")
            elif np.ptp(values) <= max(1e-12 * np.abs(values).max(), SMALLEST):
                faults.append(f"predictor {name} is the same in every complete row")
            names.append(label)
            columns.append(values)
    x = np.column_stack(columns) if columns else np.empty((len(rows), 0))
    return x, tuple(names), parts, faults


def _uncodable(values: pd.Series) -> str:
    """Return in words what a column contains that a predictor cannot contain, such as times; "" if it can be used."""
    if values.dtype.kind != "O":
        return "neither real numbers nor words" if values.dtype.kind in "mMc" else ""
    if isinstance(values.dtype, pd.StringDtype):
        return ""
    kinds = set(map(type, values))
    if not all(issubclass(kind, Hashable) for kind in kinds):
        return "neither real numbers nor words"
    is_mixed = any(issubclass(kind, str) for kind in kinds) and any(issubclass(kind, Real) for kind in kinds)
    if is_mixed and not isinstance(values.dtype, pd.CategoricalDtype):
        words = [value for value in values if isinstance(value, str)]
        return f"words among numbers ({', '.join(dict.fromkeys(words[:3]))})"
    return ""


def _code_one(values: pd.Series, name: str) -> dict[str, np.ndarray]:
    if is_number(values):
        return {name: values.to_numpy(float)}
    if isinstance(values.dtype, pd.CategoricalDtype):
        present = set(values)
        levels = [level for level in values.cat.categories if level in present]
    else:
        levels = sorted(values.unique(), key=str)
    return {f"{name}[{level}]": (values == level).to_numpy(float) for level in levels[1:]}


def _as_names(names: Sequence[str]) -> list[str]:
    return [names] if isinstance(names, str) else list(names)


def _request_faults(outcome: str, predictors: Sequence[str], golfer: str) -> list[str]:
    faults = [
        f"predictor {n} is given twice" for n in dict.fromkeys(predictors) if list(predictors).count(n) > 1
    ]
    if outcome in predictors:
        faults.append(f"{outcome} is both outcome and predictor")
    if golfer in predictors:
        faults.append(f"{golfer} names the golfer and cannot be a predictor")
    return faults


def _where_missing(table: pd.DataFrame, wanted: Sequence[str]) -> str:
    counts = table[list(wanted)].isna().sum()
    return "fill in missing values, or leave out a column: " + ", ".join(
        f"{name} (missing in {count} of {len(table)} rows)" for name, count in counts.items() if count
    )


def collinear_faults(x: np.ndarray, names: Sequence[str]) -> list[str]:
    """Return a text for each coefficient that is a linear combination of the others; empty if there is none.

    x : (n, p) predictors. names : (p,) names of the coefficients.
    """
    scaled = x - x.mean(axis=0) if INTERCEPT in names else x.copy()
    use = [i for i, name in enumerate(names) if name != INTERCEPT]
    scaled = scaled[:, use]
    if len(use) < 2 and INTERCEPT in names:
        return []
    scaled /= np.sqrt((scaled**2).sum(axis=0))
    _, r, order = linalg.qr(scaled, mode="economic", pivoting=True)
    left = np.abs(np.diag(r))
    free, tied = order[left > _COLLINEAR], order[left <= _COLLINEAR]
    faults = []
    for column in tied:
        weight = np.linalg.lstsq(scaled[:, free], scaled[:, column], rcond=None)[0]
        others = [names[use[i]] for i, w in zip(free, weight, strict=True) if abs(w) > 1e-6]
        faults.append(
            f"predictor {names[use[column]]} is a linear combination of {', '.join(others) or 'the intercept'}; remove "
            "one of them"
        )
    return faults


def split_within_between(
    table: pd.DataFrame, column: str, *, golfer: str = "golfer"
) -> tuple[pd.Series, pd.Series]:
    """Return each swing's deviation from the mean of its golfer, and this mean.

    Remove rows with missing values in other columns first, so that the means are those of the rows analysed.

    Parameters
    ----------
    table : pandas.DataFrame
        One row for each swing.
    column : str
        A numeric column.
    golfer : str
        Column of golfers' codes: which golfer made the swing.

    Returns
    -------
    deviation, mean : pandas.Series
        Both in the column's unit, with the index of the table; missing where the value or the golfer is missing.

    Raises
    ------
    BadTable
        An unknown column, or one that is not numeric.

    Examples
    --------
    >>> swings = pd.DataFrame({"golfer": ["A", "A", "B"], "tilt": [1.0, 2.0, 4.0]})
    >>> [part.tolist() for part in split_within_between(swings, "tilt")]
    [[-0.5, 0.5, 0.0], [1.5, 1.5, 4.0]]
    """
    check_columns(table, [column, golfer])
    if not is_number(table[column]):
        raise BadTable(
            f"the column {column} is not numeric, so no golfer means can be computed",
            do="choose a numeric column",
        )
    values = pd.Series(pd.to_numeric(table[column].mask(table[column].isna(), np.nan)), dtype=float)
    mean = values.groupby(table[golfer].to_numpy()).transform("mean").where(values.notna())
    return (values - mean).rename(f"{column}_deviation"), mean.rename(f"{column}_golfer_mean")
