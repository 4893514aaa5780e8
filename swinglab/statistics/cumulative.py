"""The likelihood of ordered outcomes with a random intercept, by adaptive Gauss-Hermite quadrature."""

from __future__ import annotations

import numpy as np
from scipy import linalg, optimize, special

from swinglab.errors import BadTable

#: Quadrature points for each golfer: placed on the peak, 10 gave twelve digits where this was tried.
NODES = 21
_SMALLEST_SD = 1e-3
#: A predictor part beyond this many log odds, in SD of the predictors, is separation, not an estimate.
_ENDLESS = 15.0


class Cumulative:
    """log odds (y above threshold k) = x b + sd u - threshold k, u standard normal for each golfer.

    Parameters are (thresholds, b, sd); the likelihood is even in sd, so its sign means nothing.
    """

    def __init__(
        self, y: np.ndarray, x: np.ndarray, codes: np.ndarray, n_levels: int, nodes: int = NODES
    ) -> None:
        self.y, self.x, self.codes, self.n_levels = y, x, codes, n_levels
        self.n_golfers = int(codes.max()) + 1
        points, weights = np.polynomial.hermite_e.hermegauss(nodes)
        self.points, self.log_weights = points, np.log(weights) + 0.5 * points**2
        self.cells = np.zeros((len(y), n_levels))
        self.cells[np.arange(len(y)), y] = 1.0

    def start(self) -> np.ndarray:
        """Thresholds from the levels' shares, no effects, golfers that differ by 0.5."""
        share = np.bincount(self.y, minlength=self.n_levels).cumsum()[:-1] / len(self.y)
        return np.concatenate([special.logit(share), np.zeros(self.x.shape[1]), [0.5]])

    def log_likelihood(self, parameters: np.ndarray) -> float:
        """The marginal log likelihood."""
        return float(self._marginal(parameters)[0].sum())

    def gradient(self, parameters: np.ndarray) -> np.ndarray:
        """Its derivative by the parameters: the expected complete-data score of all golfers."""
        return self.scores(parameters).sum(axis=0)

    def scores(self, parameters: np.ndarray) -> np.ndarray:
        """(G, parameters) each golfer's part of the gradient."""
        _, posterior, u = self._marginal(parameters)
        row_u, row_posterior = u[self.codes], posterior[self.codes]
        upper, lower, by_eta = self._row_derivatives(parameters, row_u)
        k = self.n_levels - 1
        rows = np.empty((len(self.y), len(parameters)))
        by_upper, by_lower = (row_posterior * upper).sum(axis=1), (row_posterior * lower).sum(axis=1)
        rows[:, :k] = self.cells[:, :k] * by_upper[:, None] + self.cells[:, 1:] * by_lower[:, None]
        rows[:, k:-1] = self.x * (row_posterior * by_eta).sum(axis=1)[:, None]
        rows[:, -1] = (row_posterior * by_eta * row_u).sum(axis=1)
        found = np.zeros((self.n_golfers, len(parameters)))
        np.add.at(found, self.codes, rows)
        return found

    def information(self, parameters: np.ndarray) -> np.ndarray:
        """Minus the second derivative, by central differences of the gradient."""
        steps = 1e-4 * np.maximum(1.0, np.abs(parameters))
        rows = [
            (self.gradient(parameters - step * unit) - self.gradient(parameters + step * unit)) / (2 * step)
            for step, unit in zip(steps, np.eye(len(parameters)), strict=True)
        ]
        found = np.array(rows)
        return (found + found.T) / 2

    def score_sums(self, place: int) -> np.ndarray:
        """(G,) golfers' effective score sums of one parameter, fitted with that parameter at 0.

        Each golfer's score, less what the other parameters' scores tell of it (their information).
        """
        best = reach_optimum(self, fixed=place)
        scores = self.scores(best)
        information = self.information(best)
        others = [i for i in range(len(best)) if i != place and not (i == len(best) - 1 and best[-1] == 0)]
        told = linalg.lstsq(information[np.ix_(others, others)], information[others, place])[0]
        return scores[:, place] - scores[:, others] @ told

    def separated(self, parameters: np.ndarray) -> bool:
        """Whether an estimate has run off to where the data are told apart without error."""
        return bool(np.abs(parameters).max() > _ENDLESS)

    def _marginal(self, parameters: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Golfers' log likelihoods (G,), posterior weights of their nodes (G, q) and the nodes u (G, q)."""
        mode, width = self._modes(parameters)
        u = mode[:, None] + width[:, None] * self.points
        each = self._log_cells(parameters, u[self.codes])
        joint = np.zeros_like(u)
        np.add.at(joint, self.codes, each)
        joint += self.log_weights - 0.5 * u**2 - 0.5 * np.log(2 * np.pi) + np.log(width)[:, None]
        total = special.logsumexp(joint, axis=1)
        return total, np.exp(joint - total[:, None]), u

    def _modes(self, parameters: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Where each golfer's integrand peaks, and its width there; Newton's method, always concave."""
        sd = parameters[-1]
        mode, width = np.zeros(self.n_golfers), np.ones(self.n_golfers)
        for _ in range(100):
            _, _, by_eta, curve = self._derivatives(parameters, mode[self.codes][:, None])
            slope = sd * np.bincount(self.codes, by_eta[:, 0], self.n_golfers) - mode
            bend = 1.0 + sd**2 * np.bincount(self.codes, curve[:, 0], self.n_golfers)
            width = 1 / np.sqrt(bend)
            move = np.clip(slope / bend, -2.0, 2.0)
            mode = mode + move
            if np.abs(move).max() < 1e-10:
                break
        return mode, width

    def _edges(self, parameters: np.ndarray, u: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Distances (n, q) of a row's own level's upper and lower threshold; infinite at the ends."""
        k = self.n_levels - 1
        cuts = np.concatenate([[-np.inf], parameters[:k], [np.inf]])
        eta = (self.x @ parameters[k:-1])[:, None] + parameters[-1] * u
        return cuts[self.y + 1][:, None] - eta, cuts[self.y][:, None] - eta

    def _log_cells(self, parameters: np.ndarray, u: np.ndarray) -> np.ndarray:
        """(n, q) log probability of each row's level: F(upper) - F(lower), from the side without loss."""
        upper, lower = self._edges(parameters, u)
        with np.errstate(invalid="ignore"):
            gap = np.where(np.isinf(upper) | np.isinf(lower), np.inf, upper - lower)
        thick = np.where(np.isinf(gap), 0.0, np.log(-np.expm1(-np.maximum(gap, 1e-300))))
        return special.log_expit(upper) + special.log_expit(-lower) + thick

    def _row_derivatives(
        self, parameters: np.ndarray, u: np.ndarray
    ) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        return self._derivatives(parameters, u)[:3]

    def _derivatives(
        self, parameters: np.ndarray, u: np.ndarray
    ) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
        """Of each row's log probability: by its upper and its lower threshold, by eta, minus twice by eta."""
        upper, lower = self._edges(parameters, u)
        above, below = special.expit(-upper), special.expit(lower)
        with np.errstate(invalid="ignore"):
            gap = np.where(np.isinf(upper) | np.isinf(lower), np.inf, upper - lower)
        # d/d upper of log(F(upper) - F(lower)), F logistic: 1 - F(upper) + 1 / (exp(gap) - 1).
        tight = np.where(np.isinf(gap), 0.0, 1 / np.expm1(np.minimum(np.maximum(gap, 1e-300), 700)))
        by_upper, by_lower = above + tight, -(below + tight)
        curve = above * (1 - above) + below * (1 - below)
        return by_upper, by_lower, -(above - below), curve


def reach_optimum(model: Cumulative, *, fixed: int | None = None) -> np.ndarray:
    """Parameters that maximise the likelihood, one of them held at 0 where asked; sd >= 0.

    Raises
    ------
    BadTable
        No optimum was reached.
    """
    k = model.n_levels - 1
    start = model.start()
    free = np.array([i for i in range(len(start)) if i != fixed])

    def ordered(inner: np.ndarray) -> np.ndarray:
        """Thresholds as the first and the log of each next distance, so that they cannot cross."""
        whole = np.zeros(len(start))
        whole[free] = inner
        whole[1:k] = whole[0] + np.cumsum(np.exp(np.clip(whole[1:k], -50, 50)))
        return whole

    def cost(inner: np.ndarray) -> tuple[float, np.ndarray]:
        whole = ordered(inner)
        down = -model.gradient(whole)
        changed = down.copy()
        changed[0] = down[:k].sum()
        distances = np.diff(whole[:k])
        changed[1:k] = distances * down[:k][::-1].cumsum()[::-1][1:]
        return -model.log_likelihood(whole), changed[free]

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
        raise BadTable("the ordered model has no finite likelihood on these rows")
    return _polish(model, best, fixed)


def _polish(model: Cumulative, best: np.ndarray, fixed: int | None) -> np.ndarray:
    """A few Newton steps, kept only where they raise the likelihood."""
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
