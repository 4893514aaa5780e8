"""Least squares with bias-reduced cluster-robust standard errors (CR2) and Satterthwaite degrees of freedom."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd
import scipy

from swinglab.errors import BadRequest, BadTable
from swinglab.finding_words import Note
from swinglab.statistics.design import NO_ERROR, Design, build_design
from swinglab.statistics.mixed import FEW_GOLFERS, coefficient_table

#: An eigenvalue of I - QQ' below this limit counts as 0: the fit determines the residuals in that direction.
_FIXED = 1e-10


@dataclass(frozen=True, slots=True, eq=False)
class JointTest:
    """Result of a test that several coefficients are all 0: the approximate Hotelling T^2 test (HTZ).

    F : statistic. df1, df2 : degrees of freedom of numerator and denominator. p : p value.
    """

    F: float
    df1: int
    df2: float
    p: float


@dataclass(frozen=True, slots=True, eq=False)
class ClusterRobustFit:
    """A least-squares regression with cluster-robust (CR2) standard errors.

    coefficients : one row for the intercept and each predictor, with estimate, standard_error, df, t, p, ci_low,
    ci_high (95 %). covariance : of the coefficients. design : outcome and predictors of the rows used. dropped :
    number of rows with a missing value.
    """

    outcome: str
    coefficients: pd.DataFrame
    covariance: pd.DataFrame
    warnings: tuple[Note, ...]
    n_golfers: int
    n_rows: int
    dropped: int
    design: Design

    def joint_test(self, terms: Sequence[str]) -> JointTest:
        """Test the hypothesis that all these coefficients are 0.

        The name of a text predictor stands for all its coefficients.

        Raises
        ------
        BadTable
            A term that is not in the model.
        BadRequest
            No term is given, or more terms than can be tested together with this number of golfers.

        References
        ----------
        pustejovsky2018 (references/references.bib)
        """
        places = self.design.places(terms)
        if not places:
            raise BadRequest(
                "a joint test needs at least one coefficient, but terms is empty",
                do="name the coefficients in terms",
            )
        estimate = self.coefficients["estimate"].to_numpy()[places]
        covariance = self.covariance.to_numpy()[np.ix_(places, places)]
        eta = _hotelling_df(
            _Adjusted.of(self.design.x, self.design.codes), np.eye(len(self.design.names))[places]
        )
        q = len(places)
        if eta <= q - 1:
            raise BadRequest(
                f"{self.n_golfers} golfers are too few to test {q} coefficients together",
                do="test fewer coefficients at a time",
            )
        F = float(estimate @ np.linalg.solve(covariance, estimate)) * (eta - q + 1) / (eta * q)
        df2 = float(eta - q + 1)
        return JointTest(F=F, df1=q, df2=df2, p=float(scipy.stats.f.sf(F, q, df2)))


@dataclass(frozen=True, slots=True, eq=False)
class _Adjusted:
    """QR decomposition of the predictors for CR2, rows sorted by golfer.

    order : (n,) indices that sort the rows by golfer. starts : first row of each golfer, after sorting. q, back : Q and
    R^-1 of X = Q R. aq : A_g Q_g of each golfer g, with A_g from `_adjust`.
    """

    order: np.ndarray
    starts: np.ndarray
    q: np.ndarray
    aq: np.ndarray
    back: np.ndarray

    @classmethod
    def of(cls, x: np.ndarray, codes: np.ndarray) -> _Adjusted:
        order = np.argsort(codes, kind="stable")
        starts = np.flatnonzero(np.diff(codes[order], prepend=-1))
        q, r = np.linalg.qr(x[order])
        parts = [_adjust(block) for block in np.split(q, starts[1:])]
        return cls(order, starts, q, np.vstack(parts), np.linalg.inv(r))

    def sums(self, rows: np.ndarray) -> np.ndarray:
        """Return, for each of G golfers, the sum of the golfer's rows of an array, (G, ...).

        `rows` : (n, ...), sorted by golfer.
        """
        return np.add.reduceat(rows, self.starts, axis=0)


def _adjust(q: np.ndarray) -> np.ndarray:
    """Return A Q of one golfer, where A is the symmetric inverse square root of I - Q Q'.

    The root is computed in the few directions that Q spans. Where a term depends on one golfer alone, the
    residual in that direction is 0; the direction is omitted, as in a pseudo-inverse.
    """
    basis, r = np.linalg.qr(q)
    leverage, axes = np.linalg.eigh(r @ r.T)
    left = 1.0 - leverage
    root = np.where(left > _FIXED, 1.0 / np.sqrt(np.maximum(left, _FIXED)), 0.0)
    return basis @ ((axes * root) @ axes.T @ r)


def fit_cluster_robust(
    table: pd.DataFrame, outcome: str, predictors: Sequence[str], *, golfer: str = "golfer"
) -> ClusterRobustFit:
    """Fit a regression by least squares over all swings, with standard errors that are robust to clustering by golfer.

    The standard errors are bias-reduced (CR2), with Satterthwaite degrees of freedom.

    Parameters
    ----------
    table : pandas.DataFrame
        One row for each swing; rows with a missing value are not used.
    outcome, predictors : str, sequence of str
        Columns. Text predictors are treatment coded (``sex[female]``).
    golfer : str
        Column of golfers' codes: which golfer made the swing.

    Returns
    -------
    ClusterRobustFit

    Raises
    ------
    BadTable
        A table to which the model cannot be fitted; one message lists all faults.

    References
    ----------
    bell2002, pustejovsky2018 (references/references.bib)

    Examples
    --------
    >>> swings = pd.DataFrame({
    ...     "golfer": list("AABBCCDD"), "tilt": [1.0, 2, 2, 4, 1, 3, 2, 5], "angle": [0.0, 1, 2, 3, 0, 2, 1, 4]})
    >>> float(round(fit_cluster_robust(swings, "angle", ["tilt"]).coefficients.loc["tilt", "estimate"], 3))
    0.964
    """
    design = build_design(table, outcome, predictors, golfer=golfer)
    estimate, covariance, df = robust_fit(design.x, design.y, design.codes)
    variance, rest = np.diag(covariance), design.y - design.x @ estimate
    if (variance <= 0).any() or rest @ rest <= NO_ERROR * (design.y @ design.y):
        raise BadTable(
            f"{outcome} is fitted without any error (all residuals are 0), so no standard error can be estimated",
            do=f"check that {outcome} was not computed from the predictors",
        )
    few = design.n_golfers < FEW_GOLFERS
    return ClusterRobustFit(
        outcome=outcome,
        coefficients=coefficient_table(design.names, estimate, np.sqrt(variance), df),
        covariance=pd.DataFrame(covariance, index=list(design.names), columns=list(design.names)),
        warnings=(Note("few_golfers_robust", golfers=design.n_golfers),) if few else (),
        n_golfers=design.n_golfers,
        n_rows=design.n_rows,
        dropped=design.dropped,
        design=design,
    )


def robust_fit(x: np.ndarray, y: np.ndarray, codes: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return least-squares coefficients (p,), their CR2 covariance (p, p), and Satterthwaite degrees of freedom (p,).

    x : (n, p) predictors. y : (n,) outcome. codes : (n,) number of each row's golfer, from 0.
    """
    adjusted = _Adjusted.of(x, codes)
    along = adjusted.q.T @ y[adjusted.order]
    rest = y[adjusted.order] - adjusted.q @ along
    scores = adjusted.sums(adjusted.aq * rest[:, None])
    covariance = adjusted.back @ (scores.T @ scores) @ adjusted.back.T
    df = np.array([_hotelling_df(adjusted, row[None]) for row in np.eye(x.shape[1])])
    return adjusted.back @ along, covariance, df


def _hotelling_df(adjusted: _Adjusted, contrasts: np.ndarray) -> float:
    """Degrees of freedom eta of a Hotelling test of contrasts (k, p), under independent errors of equal variance.

    eta = k (k + 1) / sum of the variances of the entries of the standardised covariance (Pustejovsky & Tipton
    2018). For one contrast this is Satterthwaite's 2 mean^2 / variance.
    """
    k = len(contrasts)
    toward = (contrasts @ adjusted.back).T  # (p, k)
    reached = adjusted.aq @ toward
    own = adjusted.sums(np.einsum("ns,nt->nst", reached, reached))
    shared = adjusted.sums(np.einsum("na,ns->nsa", adjusted.q, reached))
    expected = own.sum(axis=0) - np.einsum("gsa,gta->st", shared, shared)
    size, axes = np.linalg.eigh(expected)
    if size[0] <= _FIXED * size[-1]:
        return 0.0  # too few golfers to test so many terms together
    root = (axes / np.sqrt(size)) @ axes.T
    own, shared = np.einsum("su,guv,vt->gst", root, own, root), np.einsum("su,gua->gsa", root, shared)
    pairs = -np.einsum("gsa,hta->ghst", shared, shared)
    golfers = np.arange(len(own))
    pairs[golfers, golfers] += own
    same = np.einsum("ghss,ghtt->st", pairs, pairs)
    crossed = np.einsum("ghst,ghts->st", pairs, pairs)
    return k * (k + 1) / float((same + crossed).sum())
