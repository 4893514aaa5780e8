"""Likelihood of a linear mixed model and its maximum, from cross-products, for many data sets at once.

Model for each golfer: y = X b + Z u + e, u ~ N(0, s2 S), e ~ N(0, s2 I), S = L L', where L is a linear function of
the covariance parameters theta. L is a full square matrix, not triangular: rotations of L give the same S, and the
optimiser avoids the singularity of a triangular factor whose first entry is near 0. Only the cross-products of Z, X
and y of each golfer are needed, so an evaluation takes the same time for ten swings of each golfer as for ten
thousand. With P = Z'V^-1 Z, H = Z'V^-1 X and u = Z'V^-1 r of each golfer (V = I + Z S Z'), value, gradient and
Hessian of the deviance are short sums.

The last axes of arrays are (golfer, data set), so that resamples and simulated studies are fitted together. An axis
of length 1 means that all data sets have the same value. Source of the criterion: Bates et al. 2015, equations 34
and 41.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

#: The search has converged if the predicted decrease of the deviance is below this (the last step is still made).
_GAIN = 1e-9
#: A slope toward a larger variance that is less negative than this, relative to its information, counts as 0.
_KKT = 1e-7
_MOST_STEPS = 100


@dataclass(frozen=True, slots=True, eq=False)
class Moments:
    """Cross-products of q random-effect columns Z, p predictors X and the outcome y, for R data sets of G golfers.

    z : (q, q + p + 1, G, R) Z'[Z X y] of each golfer. total : (p + 1, p + 1, R) [X y]'[X y] of all golfers. n : (R,)
    number of rows. weights : (G, R) how often each golfer counts. pattern : (K, q, q) matrices that give the
    random-effect covariance (divided by the residual variance) S = L L', with L = sum of theta_k pattern_k over the K
    covariance parameters theta. bend : (K, K, q, q) second derivatives of S with respect to theta. free : number of
    leading rows of S that belong to a golfer's intercept and slopes, whose covariance is unrestricted; the rows of
    session effects follow them.
    """

    z: np.ndarray
    total: np.ndarray
    n: np.ndarray
    weights: np.ndarray
    pattern: np.ndarray
    bend: np.ndarray
    free: int

    @property
    def sets(self) -> int:
        """Number of data sets, R."""
        return max(self.total.shape[-1], self.weights.shape[-1], self.z.shape[-1])

    def take(self, sets: np.ndarray) -> Moments:
        """Return the cross-products of the data sets with these indices."""
        names = ("z", "total", "n", "weights")
        values = {name: getattr(self, name) for name in names}
        return replace(self, **{k: v[..., sets] if v.shape[-1] > 1 else v for k, v in values.items()})


def moments_from(cross: np.ndarray, q: int, s: int, n: np.ndarray) -> Moments:
    """Return `Moments` from the cross-products of the columns [Z, sessions, X, y] of each golfer.

    `cross` : (m, m, G, R) cross-products for G golfers in R data sets, with m = q + s + p + 1 for q random-effect
    columns Z, s session columns, p predictors X and the outcome y. `n` : (R,) number of rows of each data set.
    """
    k = q + s
    pattern = np.zeros((q * q + (s > 0), k, k))
    pattern[: q * q, :q, :q] = np.eye(q * q).reshape(q * q, q, q)
    if s:
        pattern[-1, q:, q:] = np.eye(s)
    half = np.einsum("kil,mjl->kmij", pattern, pattern)
    return Moments(
        z=cross[:k], total=cross[k:, k:].sum(axis=2), n=n, weights=np.ones((cross.shape[2], 1)),
        pattern=pattern, bend=half + half.swapaxes(0, 1), free=q,
    )  # fmt: skip


@dataclass(frozen=True, slots=True, eq=False)
class Likelihood:
    """Likelihood of a mixed model at given covariance parameters theta, with its derivatives, for R data sets.

    K is the number of parameters theta, p that of coefficients, q that of random effects, G that of golfers. S is the
    covariance of a golfer's random effects and V = I + Z S Z' that of the outcome, both divided by the residual
    variance. log_det : (R,) log|V| + log|X'V^-1 X| (the second term by REML only). rss : (R,) residual sum of squares
    r'V^-1 r. nu : degrees of freedom of the residual variance. *_gradient, *_hessian : derivatives of log_det and rss
    with respect to theta. beta : (p, R) coefficients. inverse : (p, p, R) inverse of X'V^-1 X. information_change :
    (K, p, p, R) derivative of X'V^-1 X with respect to theta. u : (q, G, R) Z'V^-1 r, with residuals r. push :
    (q, q, R) derivative of the deviance with respect to S. traces : (q, q, R) sum of Z'V^-1 Z over golfers.
    """

    log_det: np.ndarray
    rss: np.ndarray
    nu: np.ndarray
    log_det_gradient: np.ndarray
    rss_gradient: np.ndarray
    log_det_hessian: np.ndarray
    rss_hessian: np.ndarray
    beta: np.ndarray
    inverse: np.ndarray
    information_change: np.ndarray
    u: np.ndarray
    push: np.ndarray
    traces: np.ndarray

    @property
    def deviance(self) -> np.ndarray:
        """Deviance of R data sets, (R,), minimised over coefficients and residual variance, up to a constant."""
        return self.log_det + self.nu * np.log(self.rss)

    @property
    def gradient(self) -> np.ndarray:
        """Gradient of `deviance` with respect to K covariance parameters theta, for each of R data sets, (K, R)."""
        return self.log_det_gradient + self.nu / self.rss * self.rss_gradient

    @property
    def hessian(self) -> np.ndarray:
        """Hessian of `deviance` with respect to K covariance parameters theta, for each of R data sets, (K, K, R)."""
        slope = self.rss_gradient / self.rss
        return self.log_det_hessian + self.nu * (self.rss_hessian / self.rss - slope[:, None] * slope[None])


def invert(matrix: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return inverses, (k, k, ...), and log determinants, (...), of positive definite matrices, (k, k, ...)."""
    if len(matrix) == 2:
        determinant = matrix[0, 0] * matrix[1, 1] - matrix[0, 1] ** 2
        swapped = np.array([[matrix[1, 1], -matrix[0, 1]], [-matrix[0, 1], matrix[0, 0]]])
        return swapped / determinant, np.log(determinant)
    work = np.array(matrix, dtype=float)
    log_det = np.zeros(work.shape[2:])
    for k in range(len(work)):
        pivot = work[k, k].copy()
        log_det += np.log(pivot)
        row = work[k] / pivot
        column = work[:, k].copy()
        column[k] = 0.0
        work -= column[:, None] * row[None]
        work[k] = row
        work[:, k] = -column / pivot
        work[k, k] = 1.0 / pivot
    return work, log_det


def _product(a: np.ndarray, b: np.ndarray) -> np.ndarray:
    """Matrix products over the first two axes, as sums of whole arrays (fast for many small matrices)."""
    total = a[:, 0, None] * b[None, 0]
    for j in range(1, len(b)):
        total += a[:, j, None] * b[None, j]
    return total


def factor(theta: np.ndarray, pattern: np.ndarray) -> np.ndarray:
    """Return the factor L of the random-effect covariance S = L L' for each of R data sets, (q, q, R).

    `theta` : (K, R) covariance parameters of each data set. `pattern` : (K, q, q), as in `Moments`.
    """
    return np.einsum("kij,kr->ijr", pattern, theta)


def evaluate(data: Moments, theta: np.ndarray, *, reml: bool = True) -> Likelihood:
    """Evaluate the likelihood of R data sets and its derivatives, each at its own K covariance parameters.

    `theta` : (K, R) covariance parameters.
    """
    q, w, z = len(data.z), data.weights, data.z
    p = len(data.total) - 1
    low = factor(theta, data.pattern)
    L = low[:, :, None]
    inner = _product(L.swapaxes(0, 1), _product(z[:, :q], L))
    for i in range(q):
        inner[i, i] += 1.0
    inverse, log_det = invert(inner)
    middle = _product(_product(L, inverse), L.swapaxes(0, 1))  # L (I + L'Z'ZL)^-1 L'
    toward = _product(middle, z)
    whitened = z - _product(z[:, :q], toward)  # Z'V^-1 [Z X y]
    P, J = whitened[:, :q], whitened[:, q:]
    left = data.total - np.einsum("iagr,ibgr->abr", z[:, q:] * w, toward[:, q:])  # [X y]'V^-1 [X y]
    back, log_det_x = invert(left[:p, :p])
    beta = np.einsum("abr,br->ar", back, left[:p, p])
    rss = left[p, p] - (beta * left[:p, p]).sum(axis=0)
    J[:, p] -= np.einsum("iagr,ar->igr", J[:, :p], beta)  # y's column becomes that of the residual
    total = (w * log_det).sum(axis=0) + (log_det_x if reml else 0.0)
    nu = np.broadcast_to(data.n - p if reml else data.n, rss.shape)
    pieces = _derivatives(data, low, P, J, back, reml=reml)
    push = pieces.pop("along") - nu / rss * pieces.pop("uu")
    return Likelihood(total, rss, nu, beta=beta, inverse=back, u=J[:, p], push=push, **pieces)


def _derivatives(
    data: Moments, low: np.ndarray, P: np.ndarray, J: np.ndarray, back: np.ndarray, *, reml: bool
) -> dict[str, np.ndarray]:
    """First and second derivatives in theta of the log determinant and of the residual sum of squares.

    J (q, p + 1, G, R) : Z'V^-1 [X r], so that products of J hold those of X, of X with r, and of r at once.
    """
    w, p = data.weights, J.shape[1] - 1
    half = np.einsum("kij,ljr->kilr", data.pattern, low)
    change = half + half.swapaxes(1, 2)  # dS/dtheta_k, (K, q, q, R)
    W = _product(_product(J[:, :p], back[:, :, None]), J[:, :p].swapaxes(0, 1))
    Pw = P * w
    traces = Pw.sum(axis=2)
    along = traces - (W * w).sum(axis=2) if reml else traces
    JJ = np.einsum("iagr,jbgr->iajbr", J * w, J)
    uu = JJ[:, p, :, p]
    moved = np.einsum("kijr,iajbr->kabr", change, JJ)  # minus the change of [X r]'V^-1 [X r]
    M, m = moved[:, :p, :p], moved[:, :p, p]
    right = np.stack([P - 2.0 * W if reml else P, J[:, p, None] * J[None, :, p]])
    pairs = np.einsum("ijgr,shlgr->sijhlr", Pw, right)
    twice, spread = np.einsum("skilr,mlir->skmr", np.einsum("kjhr,sijhlr->skilr", change, pairs), change)
    twice, spread = 0.5 * (twice + twice.swapaxes(0, 1)), 0.5 * (spread + spread.swapaxes(0, 1))
    if reml:
        MB = np.einsum("kabr,bcr->kacr", M, back)
        twice = twice + np.einsum("kacr,mcar->kmr", MB, MB)
    spread = spread - np.einsum("kbr,mbr->kmr", np.einsum("kar,abr->kbr", m, back), m)
    bent = np.einsum("kmij,sijr->skmr", data.bend, np.stack([along, uu]))
    return {
        "log_det_gradient": np.einsum("kijr,ijr->kr", change, along),
        "rss_gradient": -moved[:, p, p],
        "log_det_hessian": bent[0] - twice,
        "rss_hessian": 2.0 * spread - bent[1],
        "information_change": -M,
        "traces": traces,
        "along": along,
        "uu": uu,
    }


def _newton_step(at: Likelihood) -> tuple[np.ndarray, np.ndarray]:
    """Newton step (K, R), with the absolute values of the curvatures, and the predicted decrease (R,)."""
    gradient, hessian = at.gradient, np.moveaxis(at.hessian, -1, 0)
    size, axes = np.linalg.eigh(hessian)
    size = np.abs(size)
    size = np.maximum(size, 1e-9 * size.max(axis=1, keepdims=True) + 1e-300)
    along = np.einsum("rik,ir->rk", axes, gradient) / size
    step = -np.einsum("rik,rk->ir", axes, along)
    return step, -0.5 * np.einsum("kr,kr->r", gradient, step)


def _limit(step: np.ndarray, theta: np.ndarray) -> np.ndarray:
    length = np.sqrt((step**2).sum(axis=0))
    longest = 0.5 + np.sqrt((theta**2).sum(axis=0))
    return step * np.minimum(1.0, longest / np.maximum(length, 1e-300))


def minimise(
    data: Moments, start: np.ndarray, *, reml: bool = True, most_steps: int = _MOST_STEPS
) -> tuple[np.ndarray, np.ndarray]:
    """Minimise the deviance of each of R data sets; return the K covariance parameters (K, R) and the deviance (R,).

    `start` : (K, R) starting values. The method uses Newton steps, shortened where the deviance would rise. At the end
    point, the derivative of the deviance toward a larger variance is checked, which matters if a variance is 0 there:
    if the derivative is negative, the point is a saddle and the search continues in that direction. The deviance is
    infinite if no minimum was found.
    """
    theta = np.array(start, dtype=float)
    value = np.full(theta.shape[1], np.inf)
    left = np.arange(theta.shape[1])
    for _ in range(4):
        with np.errstate(invalid="ignore", divide="ignore", over="ignore"):  # too long a step is undone below
            end = _descend(data.take(left), theta[:, left], reml, most_steps)
            stuck, moved = _leave_saddle(data, end)
        theta[:, left] = end.theta
        value[left] = np.where(end.done & ~stuck, end.deviance, np.inf)
        again = end.done & stuck
        left = left[again]
        if not len(left):
            break
        theta[:, left] = moved[:, again]
    return theta, value


@dataclass(frozen=True, slots=True, eq=False)
class _End:
    """End points of descents: theta (K, R), whether each is an optimum (R,), and values there as in `Likelihood`."""

    theta: np.ndarray
    done: np.ndarray
    deviance: np.ndarray
    push: np.ndarray
    traces: np.ndarray


def _descend(data: Moments, start: np.ndarray, reml: bool, most_steps: int) -> _End:
    here = evaluate(data, start, reml=reml)
    end = _End(
        start.copy(),
        np.zeros(start.shape[1], dtype=bool),
        here.deviance,
        here.push.copy(),
        here.traces.copy(),
    )
    active = np.arange(start.shape[1])
    step, gain = _newton_step(here)
    step = _limit(step, start)
    shrink = np.ones(len(active))
    for _ in range(most_steps):
        trial = end.theta[:, active] + shrink * step
        there = evaluate(data, trial, reml=reml)
        best = end.deviance[active]
        better = there.deviance <= best + 1e-10 * (1.0 + np.abs(best))  # allows for rounding near the optimum
        taken = active[better]
        end.theta[:, taken], end.deviance[taken] = trial[:, better], there.deviance[better]
        end.push[..., taken], end.traces[..., taken] = there.push[..., better], there.traces[..., better]
        over = better & (gain < _GAIN)
        end.done[active[over]] = True
        shrink = np.where(better, 1.0, 0.4 * shrink)
        keep = ~over & (shrink > 1e-9)
        if not keep.any():
            break
        fresh, fresh_gain = _newton_step(there)
        step = np.where(better, _limit(fresh, trial), step)
        gain = np.where(better, fresh_gain, gain)
        if not keep.all():
            data, active = data.take(np.flatnonzero(keep)), active[keep]
            step, gain, shrink = step[:, keep], gain[keep], shrink[keep]
    return end


def _leave_saddle(data: Moments, at: _End) -> tuple[np.ndarray, np.ndarray]:
    """Whether a larger variance would lower the deviance further (R,), and new starting values (K, R)."""
    low = factor(at.theta, data.pattern)
    f = data.free
    size = np.einsum("iir->r", at.traces[:f, :f]) / f
    slope, axes = np.linalg.eigh(np.moveaxis(at.push[:f, :f], -1, 0))
    stuck = slope[:, 0] < -_KKT * size
    moved = at.theta.copy()
    for r in np.flatnonzero(stuck):
        # Add a column in that direction, large enough to leave the saddle.
        size_r = 0.3 / np.sqrt(1.0 + np.abs(slope[r, 0]) / size[r])
        moved[: f * f, r] = widened(low[:f, :f, r], size_r * axes[r, :, :1]).ravel()
    if len(data.pattern) > f * f:  # sessions
        push = np.einsum("iir->r", at.push[f:, f:])
        held = push < -_KKT * np.einsum("iir->r", at.traces[f:, f:])
        moved[-1, held] = np.abs(moved[-1, held]) + 0.3
        stuck = stuck | held
    return stuck, moved


def widened(low: np.ndarray, more: np.ndarray) -> np.ndarray:
    """Return a matrix L (q, q) with L L' = low low' + more more', for `low` (q, q) and `more` (q, m)."""
    return np.linalg.qr(np.hstack([low, more]).T)[1].T
