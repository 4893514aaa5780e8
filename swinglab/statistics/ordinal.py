"""Cumulative logit mixed model (ordinal regression) for ordered outcomes such as fat < clean < thin."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import pandas as pd
import scipy
from scipy import linalg

from swinglab.conventions import CONTACTS
from swinglab.errors import BadTable
from swinglab.finding_words import Note
from swinglab.statistics.cumulative import Cumulative, reach_optimum
from swinglab.statistics.design import Design, build_design, check_columns, is_number
from swinglab.statistics.permutation import permutation_test_paired
from swinglab.statistics.rows import dropped_words, listed

_FEW_GOLFERS = 12
GOLFER_LEVEL, SWING_LEVEL = "between golfers", "within golfers"


@dataclass(frozen=True, slots=True, eq=False)
class OrdinalFit:
    """A cumulative logit model with a random intercept for each golfer.

    coefficients : one row for each predictor, with estimate (log odds of a higher level, per unit of the predictor),
    standard_error, z, p, ci_low, ci_high (95 %, from z), odds_ratio, level ("within golfers" or "between golfers"),
    test (which test gave p), golfer_t, golfer_df. A predictor that is constant within golfers (level "between
    golfers") is tested by golfer_t = z sqrt(golfer_df / number of golfers), which allows for the bias of maximum
    likelihood with few golfers; golfer_df is the number of golfers minus 1 minus the number of such predictors. A
    predictor that varies within golfers is tested by flipping the signs of the golfers' scores; golfer_t and golfer_df
    are then t of the mean score and the number of golfers minus 1. thresholds : one row for each pair of neighbouring
    levels ("lower | higher"), with estimate and standard_error in log odds. random_variance : variance of golfers'
    intercepts. levels : of the outcome, in rising order. dropped : number of rows that are not used because of a
    missing value.
    """

    outcome: str
    levels: tuple
    coefficients: pd.DataFrame
    thresholds: pd.DataFrame
    random_variance: float
    log_likelihood: float
    warnings: tuple[Note, ...]
    n_golfers: int
    n_rows: int
    dropped: int


def fit_ordinal_mixed(
    table: pd.DataFrame, outcome: str, predictors: Sequence[str], *, golfer: str = "golfer"
) -> OrdinalFit:
    """Fit an ordinal regression: log odds (outcome above a threshold) = predictors + golfer's intercept - threshold.

    A positive coefficient means higher levels: for contact, thinner strikes. Estimation is by maximum
    likelihood, integrated over the golfers' intercepts by adaptive Gauss-Hermite quadrature.

    Parameters
    ----------
    table : pandas.DataFrame
        One row for each swing.
    outcome : str
        Column with an ordered Categorical, numbers, or the words fat, clean and thin. Other words in addition to these
        three, such as uncertain, are treated as missing.
    predictors : sequence of str
        Columns; text ones are coded as ``column[level]``.
    golfer : str
        Column of golfers' codes: which golfer made the swing.

    Returns
    -------
    OrdinalFit

    Raises
    ------
    BadTable
        An outcome without an order or with fewer than two levels; predictors that separate the levels
        perfectly, so that no estimate is finite (`fit_binary` handles two levels); too few golfers or rows.

    References
    ----------
    McCullagh 1980; Pinheiro & Bates 1995; Hemerik, Goeman & Finos 2020.

    Examples
    --------
    >>> rng = np.random.default_rng(3)
    >>> golfer, tilt = np.repeat(list("ABCDEFGH"), 15), rng.normal(0, 3, 120)
    >>> latent = 0.5 * tilt + np.repeat(rng.normal(0, 1, 8), 15) + rng.logistic(size=120)
    >>> contact = np.array(["fat", "clean", "thin"])[np.searchsorted([-1.5, 1.5], latent)]
    >>> fit = fit_ordinal_mixed(pd.DataFrame({"golfer": golfer, "tilt": tilt, "contact": contact}), "contact",
    ...                         ["tilt"])
    >>> bool(fit.coefficients.loc["tilt", "p"] < 0.05), fit.levels
    (True, ('fat', 'clean', 'thin'))
    """
    names = [predictors] if isinstance(predictors, str) else list(predictors)
    rows, levels = _ordered(table, outcome)
    design = build_design(rows, outcome, names, golfer=golfer, numeric_outcome=False)
    y, levels = _codes(rows.loc[design.kept, outcome], levels)
    if len(levels) < 2:
        raise BadTable(
            f"all rows have the same value of the outcome {outcome} ({listed(levels)}), so no model can be fitted",
            do="check the selection of rows",
        )
    x = design.x[:, 1:]
    centre, scale = (x.mean(axis=0), x.std(axis=0)) if x.shape[1] else (np.zeros(0), np.ones(0))
    model = Cumulative(y, (x - centre) / scale, design.codes, len(levels))
    best = reach_optimum(model)
    if model.separated(best):
        raise BadTable(
            f"the predictors separate the levels of {outcome} perfectly, so no estimate is finite",
            do="remove a predictor or combine levels; with two levels, use fit_binary",
        )
    covariance = _covariance(model, best)
    if not (np.diag(covariance) >= 0).all():
        raise BadTable(
            f"{len(y)} rows are too few for an ordinal regression with {x.shape[1]} coefficients",
            do="use fewer predictors",
        )
    k = len(levels) - 1
    coefficients = _coefficients(design, model, best, covariance, scale)
    back = np.eye(len(best))[:k]
    back[:, k : k + len(scale)] = centre / scale
    thresholds = pd.DataFrame(
        {"estimate": back @ best, "standard_error": np.sqrt(np.einsum("ij,jk,ik->i", back, covariance, back))},
        index=pd.Index([f"{a} | {b}" for a, b in pairwise(levels)], name="threshold"),
    )  # fmt: skip
    sd = float(best[-1])
    return OrdinalFit(
        outcome, levels, coefficients, thresholds, sd**2, model.log_likelihood(best),
        tuple(_warnings(design, sd, set(coefficients["level"]))), design.n_golfers, design.n_rows, design.dropped,
    )  # fmt: skip


def _ordered(table: pd.DataFrame, outcome: str) -> tuple[pd.DataFrame, tuple]:
    """Return the table with unknown words set to missing, and the levels in their order."""
    check_columns(table, [outcome])
    values = table[outcome]
    if isinstance(values.dtype, pd.CategoricalDtype) and values.cat.ordered:
        return table, tuple(values.cat.categories)
    if is_number(values):
        return table, tuple(np.unique(values.dropna()).tolist())
    words = set(values.dropna())
    if not words & set(CONTACTS):
        raise BadTable(
            f"the values of {outcome} ({listed(sorted(map(str, words))[:5])}) are words without an order",
            do="convert the column to an ordered Categorical or to numbers",
        )
    known = table.copy()
    known[outcome] = values.where(values.isin(CONTACTS))
    return known, CONTACTS


def _codes(values: pd.Series, levels: tuple) -> tuple[np.ndarray, tuple]:
    """Code each row by its position among the levels that occur, and return these levels."""
    present = set(values)
    used = tuple(level for level in levels if level in present)
    return values.map({level: i for i, level in enumerate(used)}).to_numpy(int), used


def _covariance(model: Cumulative, best: np.ndarray) -> np.ndarray:
    """Inverse of the observed information; with a random variance of 0, for the other parameters only."""
    free = slice(None) if best[-1] > 0 else slice(0, -1)
    information = model.information(best)[free, free]
    covariance = np.zeros((len(best), len(best)))
    covariance[free, free] = linalg.pinvh(information)
    return covariance


def _coefficients(
    design: Design, model: Cumulative, best: np.ndarray, covariance: np.ndarray, scale: np.ndarray
) -> pd.DataFrame:
    """Coefficient table with estimates, standard errors and, for each term, the test suited to its level."""
    k, names = model.n_levels - 1, design.names[1:]
    fixed = slice(k, k + len(names))
    estimate, error = best[fixed] / scale, np.sqrt(np.diag(covariance)[fixed]) / scale
    means = pd.DataFrame(design.x[:, 1:]).groupby(design.codes).transform("mean").to_numpy()
    own = np.abs(design.x[:, 1:] - means).max(axis=0, initial=0.0) <= 1e-9 * np.maximum(scale, 1e-300)
    df = design.n_golfers - 1 - int(own.sum())
    z = estimate / error
    p = np.full(len(names), np.nan)
    tests, statistic, degrees = [], np.full(len(names), np.nan), np.full(len(names), float(max(df, 0)))
    for j, at_golfer in enumerate(own):
        if at_golfer:
            # Maximum likelihood underestimates the variance between golfers by df / golfers; the test allows for it.
            t = abs(z[j]) * np.sqrt(max(df, 0) / design.n_golfers)
            p[j] = 2 * scipy.stats.t.sf(t, df) if df > 0 else np.nan
            statistic[j] = np.copysign(t, z[j])
            tests.append(f"t on {df} golfers' degrees of freedom")
        else:
            sums = model.score_sums(k + j)
            p[j] = permutation_test_paired(sums).p
            degrees[j] = len(sums) - 1.0
            spread = float(np.std(sums, ddof=1)) if len(sums) > 1 else 0.0
            statistic[j] = float(sums.mean()) * np.sqrt(len(sums)) / spread if spread > 0 else np.nan
            tests.append("signs of golfers' score sums flipped")
    half = scipy.stats.norm.ppf(0.975) * error
    return pd.DataFrame(
        {"estimate": estimate, "standard_error": error, "z": z, "p": p, "ci_low": estimate - half,
         "ci_high": estimate + half, "odds_ratio": np.exp(np.clip(estimate, -700, 700)),
         "level": np.where(own, GOLFER_LEVEL, SWING_LEVEL), "test": tests,
         "golfer_t": statistic, "golfer_df": degrees},
        index=pd.Index(names, name="term"),
    )  # fmt: skip


def _warnings(design: Design, sd: float, levels: set[str]) -> list[Note]:
    notes = dropped_words(design.dropped)
    if GOLFER_LEVEL in levels and design.n_golfers < _FEW_GOLFERS:
        notes.append(Note("few_golfers_ordinal", golfers=design.n_golfers))
    if sd == 0:
        notes.append(Note("no_golfer_variance"))
    if design.n_golfers < 6:
        notes.append(Note("few_signs", golfers=design.n_golfers, least=2 / 2**design.n_golfers))
    return notes
