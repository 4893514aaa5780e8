"""Likelihood of a cumulative logit model with a random intercept, by adaptive Gauss-Hermite quadrature."""

from __future__ import annotations

import numpy as np
from scipy import linalg, optimize, special

from swinglab.errors import BadTable

#: Quadrature points for each golfer, centred on the mode. 10 points give twelve digits where golfers differ by about
#: one log odds. Where nearly all swings of a golfer are on one side, the error of the log likelihood is 4e-3 with
#: 21 points and 3e-5 with 51.
NODES = 51
_SMALLEST_SD = 1e-3
#: A parameter beyond this many log odds (predictors in SD units) indicates separation: its estimate is infinite.
_ENDLESS = 15.0
_TINY = 1e-290


class Cumulative:
    """Likelihood of a cumulative logit model: log odds of an outcome above threshold k = x b + sd u - threshold k.

    u is a standard normal variable, one for each golfer. The vector of parameters contains the thresholds, the
    coefficients b, and sd. The likelihood does not depend on the sign of sd.

    Parameters
    ----------
    y : numpy.ndarray, (n,)
        Level of each row, from 0 to n_levels - 1.
    x : numpy.ndarray, (n, p)
        Predictors, without an intercept.
    codes : numpy.ndarray, (n,)
        Number of each row's golfer, from 0.
    n_levels : int
        Number of levels of the outcome.
    nodes : int
        Number of quadrature points for each golfer.
    """

    def __init__(
        self, y: np.ndarray, x: np.ndarray, codes: np.ndarray, n_levels: int, nodes: int = NODES
    ) -> None:
        by = np.argsort(codes, kind="stable")
        self.y, self.x, self.codes, self.n_levels = y[by], x[by], codes[by], n_levels
        self.n_golfers = int(codes.max()) + 1
        # First row of each golfer; every golfer has at least one.
        self.starts = np.searchsorted(self.codes, np.arange(self.n_golfers))
        points, weights = np.polynomial.hermite_e.hermegauss(nodes)
        self.points, self.log_weights = points, np.log(weights) + 0.5 * points**2
        self.cells = np.zeros((len(y), n_levels))
        self.cells[np.arange(len(y)), self.y] = 1.0
        self.modes = np.zeros(self.n_golfers)

    def start(self) -> np.ndarray:
        """Return starting values for the optimiser: thresholds from the shares of the levels, b = 0, sd = 0.5."""
        share = np.bincount(self.y, minlength=self.n_levels).cumsum()[:-1] / len(self.y)
        return np.concatenate([special.logit(share), np.zeros(self.x.shape[1]), [0.5]])

    def log_likelihood(self, parameters: np.ndarray) -> float:
        """Return the log likelihood at these parameters, integrated over the golfers' random intercepts."""
        return float(self._marginal(parameters)[0].sum())

    def gradient(self, parameters: np.ndarray) -> np.ndarray:
        """Return the gradient of the log likelihood by the parameters."""
        return self.scores(parameters).sum(axis=0)

    def value_and_gradient(self, parameters: np.ndarray) -> tuple[float, np.ndarray]:
        """Return the log likelihood and its gradient; faster than computing them separately."""
        total, posterior, u, above, below = self._marginal(parameters)
        return float(total.sum()), self._scores(parameters, posterior, u, above, below).sum(axis=0)

    def scores(self, parameters: np.ndarray) -> np.ndarray:
        """Return the contribution of each of G golfers to the gradient, shape (G, number of parameters)."""
        return self._scores(parameters, *self._marginal(parameters)[1:])

    def _scores(
        self,
        parameters: np.ndarray,
        posterior: np.ndarray,
        u: np.ndarray,
        above: np.ndarray,
        below: np.ndarray,
    ) -> np.ndarray:
        row_posterior = posterior[self.codes]
        k = self.n_levels - 1
        rows = np.empty((len(self.y), len(parameters)))
        mean_above = np.einsum("nq,nq->n", row_posterior, above)
        mean_below = np.einsum("nq,nq->n", row_posterior, below)
        # Derivatives of log(F(upper) - F(lower)), F logistic: 1 - F(upper) + tight by the upper threshold,
        # -F(lower) - tight by the lower, and minus their sum by eta.
        tight = 1 / np.expm1(np.minimum(self._gaps(parameters), 700.0))
        rows[:, :k] = self.cells[:, :k] * (mean_above + tight)[:, None]
        rows[:, :k] -= self.cells[:, 1:] * (mean_below + tight)[:, None]
        rows[:, k:-1] = self.x * (mean_below - mean_above)[:, None]
        rows[:, -1] = np.einsum("nq,nq->n", row_posterior * u[self.codes], below - above)
        return np.add.reduceat(rows, self.starts, axis=0)

    def information(self, parameters: np.ndarray) -> np.ndarray:
        """Return the observed information matrix: minus the second derivatives of the log likelihood.

        They are computed by central differences of the gradient.
        """
        steps = 1e-4 * np.maximum(1.0, np.abs(parameters))
        rows = [
            (self.gradient(parameters - step * unit) - self.gradient(parameters + step * unit)) / (2 * step)
            for step, unit in zip(steps, np.eye(len(parameters)), strict=True)
        ]
        found = np.array(rows)
        return (found + found.T) / 2

    def score_sums(self, place: int) -> np.ndarray:
        """Return the effective score of one parameter for each golfer, (G,), in the model with this parameter at 0.

        The effective score is the derivative of the golfer's log likelihood, minus its regression on the derivatives
        by the other parameters, with coefficients from the information matrix. `place` : index of the parameter.
        """
        best = reach_optimum(self, fixed=place)
        scores = self.scores(best)
        information = self.information(best)
        others = [i for i in range(len(best)) if i != place and not (i == len(best) - 1 and best[-1] == 0)]
        weights = linalg.lstsq(information[np.ix_(others, others)], information[others, place])[0]
        return scores[:, place] - scores[:, others] @ weights

    def separated(self, parameters: np.ndarray) -> bool:
        """Return whether a parameter is so large that it counts as infinite (perfect separation of the levels)."""
        return bool(np.abs(parameters).max() > _ENDLESS)

    def _marginal(self, parameters: np.ndarray) -> tuple[np.ndarray, ...]:
        """Golfers' log likelihoods (G,), posterior weights (G, q) of the quadrature nodes, and the nodes u (G, q).

        Also returned, for each row and node: 1 - F(upper) and F(lower) at the thresholds of its level, (n, q).
        """
        mode, width = self._modes(parameters)
        u = mode[:, None] + width[:, None] * self.points
        upper, lower = self._edges(parameters, u[self.codes])
        under, over = special.expit(upper), special.expit(-lower)
        # F(upper) - F(lower) = F(upper) (1 - F(lower)) (1 - exp(-gap)), which avoids cancellation.
        both = under * over
        log_cells = np.log(np.maximum(both, _TINY))
        if both.min() < _TINY:
            far = both < _TINY
            log_cells[far] = special.log_expit(upper[far]) + special.log_expit(-lower[far])
        log_cells += np.log(-np.expm1(-self._gaps(parameters)))[:, None]
        joint = np.add.reduceat(log_cells, self.starts, axis=0)
        joint += self.log_weights - 0.5 * u**2 - 0.5 * np.log(2 * np.pi) + np.log(width)[:, None]
        peak = joint.max(axis=1)
        weight = np.exp(joint - peak[:, None])
        mass = weight.sum(axis=1)
        return peak + np.log(mass), weight / mass[:, None], u, 1 - under, 1 - over

    def _modes(self, parameters: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Mode of each golfer's integrand and its width there, by Newton's method (the logarithm is concave).

        The search starts from the modes of the previous call, whose parameters are usually close.
        """
        sd = parameters[-1]
        mode, width = self.modes, np.ones(self.n_golfers)
        for _ in range(100):
            upper, lower = self._edges(parameters, mode[self.codes][:, None])
            above, below = special.expit(-upper), special.expit(lower)
            curve = above * (1 - above) + below * (1 - below)
            slope = sd * np.add.reduceat((below - above)[:, 0], self.starts) - mode
            bend = 1.0 + sd**2 * np.add.reduceat(curve[:, 0], self.starts)
            width = 1 / np.sqrt(bend)
            move = np.clip(slope / bend, -2.0, 2.0)
            mode = mode + move
            if np.abs(move).max() < 1e-10:
                break
        self.modes = mode if np.isfinite(mode).all() else np.zeros(self.n_golfers)
        return mode, width

    def _edges(self, parameters: np.ndarray, u: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Distances (n, q) to the upper and lower threshold of each row's level; infinite for the end levels."""
        k = self.n_levels - 1
        cuts = np.concatenate([[-np.inf], parameters[:k], [np.inf]])
        eta = (self.x @ parameters[k:-1])[:, None] + parameters[-1] * u
        return cuts[self.y + 1][:, None] - eta, cuts[self.y][:, None] - eta

    def _gaps(self, parameters: np.ndarray) -> np.ndarray:
        """Distance (n,) between the two thresholds of each row's level; infinite for the end levels."""
        cuts = np.concatenate([[-np.inf], parameters[: self.n_levels - 1], [np.inf]])
        return np.maximum(np.diff(cuts), 1e-300)[self.y]


def reach_optimum(model: Cumulative, *, fixed: int | None = None) -> np.ndarray:
    """Return the parameters that maximise the likelihood, with sd >= 0.

    `fixed` : index of a parameter that is set to 0 instead of estimated.

    Raises
    ------
    BadTable
        The optimiser found no maximum.
    """
    k = model.n_levels - 1
    start = model.start()
    free = np.array([i for i in range(len(start)) if i != fixed])

    def ordered(inner: np.ndarray) -> np.ndarray:
        """Return all parameters (thresholds in rising order, b, sd) from the vector `inner` of the optimiser.

        `inner` has the free parameters in this order. It contains the first threshold itself; in place of each later
        threshold, it has the logarithm of the distance from the previous one, so that the thresholds always rise.
        """
        whole = np.zeros(len(start))
        whole[free] = inner
        whole[1:k] = whole[0] + np.cumsum(np.exp(np.clip(whole[1:k], -50, 50)))
        return whole

    def cost(inner: np.ndarray) -> tuple[float, np.ndarray]:
        whole = ordered(inner)
        value, gradient = model.value_and_gradient(whole)
        down = -gradient
        changed = down.copy()
        changed[0] = down[:k].sum()
        distances = np.diff(whole[:k])
        changed[1:k] = distances * down[:k][::-1].cumsum()[::-1][1:]
        return -value, changed[free]

    inner = start.copy()
    inner[1:k] = np.log(np.diff(start[:k]))
    limit = [(None, None)] * (len(free))
    found = optimize.minimize(
        cost, inner[free], jac=True, method="L-BFGS-B", bounds=limit,
        options={"maxiter": 500, "ftol": 1e-14, "gtol": 1e-8, "maxcor": 30},
    )  # fmt: skip
    best = ordered(found.x)
    best[-1] = abs(best[-1])
    if best[-1] < _SMALLEST_SD:
        best[-1] = 0.0
    if not np.isfinite(found.fun):
        raise BadTable(
            "the cumulative logit model has no finite likelihood for these rows", do="use fewer predictors"
        )
    return _polish(model, best, fixed)


def _polish(model: Cumulative, best: np.ndarray, fixed: int | None) -> np.ndarray:
    """Improve the parameters by up to four Newton steps; a step that lowers the likelihood is not made."""
    free = [i for i in range(len(best)) if i != fixed and not (i == len(best) - 1 and best[-1] == 0)]
    value = model.log_likelihood(best)
    for _ in range(4):
        if np.abs(best).max() > _ENDLESS:
            break
        step = np.zeros(len(best))
        information = model.information(best)[np.ix_(free, free)]
        step[free] = linalg.lstsq(information, model.gradient(best)[free])[0]
        tried = best + step
        if np.any(np.diff(tried[: model.n_levels - 1]) <= 0) or tried[-1] < 0:
            break
        reached = model.log_likelihood(tried)
        if not reached >= value - 1e-12:
            break
        best, value = tried, reached
        if np.abs(step).max() < 1e-9:
            break
    return best
