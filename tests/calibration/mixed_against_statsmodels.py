"""The kit's mixed model and MixedLM on golf-shaped sets with small slope variance, by hand:

    python tests/calibration/mixed_against_statsmodels.py 200

Both optima are put into one independent formula (dense matrices, golfer by golfer), so the comparison rests
on neither program's own idea of its criterion.
"""

from __future__ import annotations

import sys
import warnings

import numpy as np
import pandas as pd
import statsmodels.api as sm

from swinglab.statistics import fit_mixed

OPTIMISERS = ("bfgs", "lbfgs", "cg")


def golf_set(seed: int) -> pd.DataFrame:
    """Made swings: 8 to 24 golfers, 10 to 40 swings each, a slope that hardly differs from golfer to golfer."""
    rng = np.random.default_rng(seed)
    golfers = int(rng.integers(8, 25))
    number = rng.integers(10, 41, golfers)
    golfer = np.repeat(np.arange(golfers), number)
    tilt = rng.normal(20, 5, golfers)[golfer] + rng.normal(0, 3, len(golfer))
    slope = rng.normal(0.2, rng.choice([0.0, 0.02, 0.05]), golfers)
    angle = -4 + rng.normal(0, 1, golfers)[golfer] + slope[golfer] * tilt + rng.normal(0, 1, len(golfer))
    return pd.DataFrame({"golfer": golfer, "tilt": tilt, "angle": angle})


def dense_criterion(swings: pd.DataFrame, covariance: np.ndarray, variance: float) -> float:
    """-2 log restricted likelihood at given variances, from dense matrices."""
    x = np.column_stack([np.ones(len(swings)), swings["tilt"]])
    y = swings["angle"].to_numpy()
    log_det, xx, xy, yy = 0.0, np.zeros((2, 2)), np.zeros(2), 0.0
    for rows in swings.groupby("golfer").indices.values():
        v = variance * np.eye(len(rows)) + x[rows] @ covariance @ x[rows].T
        log_det += np.linalg.slogdet(v)[1]
        solved = np.linalg.solve(v, np.column_stack([x[rows], y[rows]]))
        xx += x[rows].T @ solved[:, :2]
        xy += x[rows].T @ solved[:, 2]
        yy += y[rows] @ solved[:, 2]
    rest = yy - xy @ np.linalg.solve(xx, xy)
    return float(log_det + np.linalg.slogdet(xx)[1] + rest + (len(y) - 2) * np.log(2 * np.pi))


def dense_errors(swings: pd.DataFrame, covariance: np.ndarray, variance: float) -> np.ndarray:
    """Standard errors by generalised least squares at given variances, from dense matrices."""
    x = np.column_stack([np.ones(len(swings)), swings["tilt"]])
    information = np.zeros((2, 2))
    for rows in swings.groupby("golfer").indices.values():
        v = variance * np.eye(len(rows)) + x[rows] @ covariance @ x[rows].T
        information += x[rows].T @ np.linalg.solve(v, x[rows])
    return np.sqrt(np.diag(np.linalg.inv(information)))


def compare(seed: int) -> tuple[float, float, float]:
    """Our criterion less MixedLM's best of three; worst of our errors against GLS; MixedLM's first error / ours."""
    swings = golf_set(seed)
    ours = fit_mixed(swings, "angle", ["tilt"], golfer="golfer", slopes=["tilt"])
    covariance, variance = ours.random_covariance.to_numpy(), ours.residual_variance
    own = dense_criterion(swings, covariance, variance)
    x = np.column_stack([np.ones(len(swings)), swings["tilt"]])
    theirs, first = [], np.nan
    for method in OPTIMISERS:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            try:
                model = sm.MixedLM(swings["angle"].to_numpy(), x, swings["golfer"].to_numpy(), exog_re=x)
                fit = model.fit(method=method)
                theirs.append(dense_criterion(swings, np.asarray(fit.cov_re), float(fit.scale)))
                first = float(fit.bse_fe[1]) if method == OPTIMISERS[0] else first
            except (np.linalg.LinAlgError, ValueError):
                continue
    error = ours.coefficients["standard_error"].to_numpy()
    off = float(np.abs(error / dense_errors(swings, covariance, variance) - 1).max())
    return own - min(theirs, default=np.inf), off, first / error[1]


if __name__ == "__main__":
    number = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    found = np.array([compare(seed) for seed in range(number)])
    gap, off, ratio = found.T
    print(f"sets: {number}")
    print(
        f"criterion above the best of three by more than 1e-6: {(gap > 1e-6).sum()} (largest {gap.max():.2e})"
    )
    print(
        f"MixedLM's best of three above ours by more than 0.01: {(gap < -0.01).sum()} (largest {-gap.min():.3g})"
    )
    print(f"our standard errors against GLS at our optimum, worst relative difference: {off.max():.1e}")
    print(f"MixedLM's first optimiser, slope error off by more than 10 %: {(np.abs(ratio - 1) > 0.1).sum()}")
