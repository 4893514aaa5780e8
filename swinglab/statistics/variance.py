"""The likelihood of a mixed model and its optimum, from cross-products; many data sets side by side.

Model, golfer by golfer: y = X b + Z u + e, u ~ N(0, s2 S), e ~ N(0, s2 I), S = L L', with L linear in theta.
L is a full square, not a triangle: turned, it gives the same S, and the descent has no seam where a triangle's
leading entry is near 0. All that is needed of the data are the cross-products of Z, X and y of each golfer, so
an evaluation costs the same for ten swings a golfer as for ten thousand. With P = Z'V^-1 Z, H = Z'V^-1 X and
u = Z'V^-1 r of each golfer (V = I + Z S Z'), value, gradient and Hessian of the deviance are short sums.

Arrays end in the axes (golfer, data set), so that resamples and simulated studies are fitted together; an
axis of length 1 is shared by all. Source of the criterion: Bates et al. 2015, equations 34 and 41.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

#: Predicted gain in deviance below which an optimum is taken as found (the last step is still made).
_GAIN = 1e-9
#: Most negative slope toward a larger variance, relative to the information in it, that counts as none.
_KKT = 1e-7
_MOST_STEPS = 100


@dataclass(frozen=True, slots=True, eq=False)
class Moments:
    """Cross-products. zz (q, q, G, R), zx (q, p, G, R), zy (q, G, R); summed over golfers xx (p, p, R),
    xy (p, R), yy (R,), n (R,). weights (G, R): how often a golfer counts. pattern (K, q, q): L = sum of
    theta_k pattern_k. free : the size of the block of S that is unstructured (the rest are sessions).
    """

    zz: np.ndarray
    zx: np.ndarray
    zy: np.ndarray
    xx: np.ndarray
    xy: np.ndarray
    yy: np.ndarray
    n: np.ndarray
    weights: np.ndarray
    pattern: np.ndarray
    free: int

    @property
    def sets(self) -> int:
        """How many data sets lie side by side."""
        return max(len(self.yy), self.weights.shape[-1], self.zy.shape[-1])

    def take(self, sets: np.ndarray) -> Moments:
        """These data sets alone; what is shared by all stays shared."""
        names = ("zz", "zx", "zy", "xx", "xy", "yy", "n", "weights")
        chosen = {
            name: value[..., sets] if value.shape[-1] > 1 else value
            for name, value in ((name, getattr(self, name)) for name in names)
        }
        return replace(self, **chosen)


@dataclass(frozen=True, slots=True, eq=False)
class Likelihood:
    """What one evaluation yields, for R data sets: K parameters, p coefficients, q random effects.

    log_det : (R,) log|V| + log|X'V^-1 X|. rss : (R,) weighted residual sum of squares. gradients and Hessians
    of both in theta. beta : (p, R); information : (p, p, R) X'V^-1 X, its inverse, and its change with theta
    (K, p, p, R). u : (q, G, R) Z'V^-1 r. push : (q, q, R) slope of the deviance in S, traces : (q, q, R).
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
        """(R,) profiled over beta and s2, up to a constant."""
        return self.log_det + self.nu * np.log(self.rss)

    @property
    def gradient(self) -> np.ndarray:
        """(K, R) of the profiled deviance."""
        return self.log_det_gradient + self.nu / self.rss * self.rss_gradient

    @property
    def hessian(self) -> np.ndarray:
        """(K, K, R) of the profiled deviance."""
        slope = self.rss_gradient / self.rss
        return self.log_det_hessian + self.nu * (self.rss_hessian / self.rss - slope[:, None] * slope[None])


def invert(matrix: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Inverse and log determinant of symmetric positive definite matrices on the first two axes."""
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


def factor(theta: np.ndarray, pattern: np.ndarray) -> np.ndarray:
    """L, (q, q, R), from theta (K, R)."""
    return np.einsum("kij,kr->ijr", pattern, theta)


def evaluate(data: Moments, theta: np.ndarray, *, reml: bool = True) -> Likelihood:
    """Value, gradient and Hessian of log determinant and residual sum of squares at theta (K, R)."""
    w, p = data.weights, data.xx.shape[0]
    low = factor(theta, data.pattern)
    scaled = np.einsum("ijgr,jkr->ikgr", data.zz, low)
    inner = np.einsum("jir,jkgr->ikgr", low, scaled)
    for i in range(len(inner)):
        inner[i, i] += 1.0
    inverse, log_det = invert(inner)
    half = np.einsum("ijr,jkgr->ikgr", low, inverse)
    middle = np.einsum("ijgr,kjr->ikgr", half, low)  # L (I + L'Z'ZL)^-1 L'
    P = data.zz - np.einsum("ijgr,kjgr->ikgr", np.einsum("ijgr,jkgr->ikgr", data.zz, middle), data.zz)
    toward_x = np.einsum("ijgr,jagr->iagr", middle, data.zx)
    toward_y = np.einsum("ijgr,jgr->igr", middle, data.zy)
    H = data.zx - np.einsum("ijgr,jagr->iagr", data.zz, toward_x)
    weighted = data.zx * w
    information = data.xx - np.einsum("iagr,ibgr->abr", weighted, toward_x)
    xy = data.xy - np.einsum("iagr,igr->ar", weighted, toward_y)
    yy = data.yy - np.einsum("igr,igr->r", data.zy * w, toward_y)
    back, log_det_x = invert(information)
    beta = np.einsum("abr,br->ar", back, xy)
    rss = yy - np.einsum("ar,ar->r", beta, xy)
    u = data.zy - np.einsum("ijgr,jgr->igr", data.zz, toward_y) - np.einsum("iagr,ar->igr", H, beta)
    total = (w * log_det).sum(axis=0) + (log_det_x if reml else 0.0)
    nu = data.n - p if reml else data.n
    pieces = _derivatives(data, low, P, H, u, back, reml=reml)
    push = pieces.pop("along") - nu / rss * pieces["uu"]
    del pieces["uu"]
    return Likelihood(
        total, rss, np.broadcast_to(nu, rss.shape), beta=beta, inverse=back, u=u, push=push, **pieces
    )


def _derivatives(
    data: Moments,
    low: np.ndarray,
    P: np.ndarray,
    H: np.ndarray,
    u: np.ndarray,
    back: np.ndarray,
    *,
    reml: bool,
) -> dict[str, np.ndarray]:
    """First and second derivatives in theta of the log determinant and of the residual sum of squares."""
    w, D = data.weights, data.pattern
    half = np.einsum("kij,ljr->kilr", D, low)
    change = half + half.swapaxes(1, 2)  # dS/dtheta_k, (K, q, q, R)
    bend = np.einsum("kil,mjl->kmij", D, D)
    bend = bend + bend.swapaxes(0, 1)  # its own change, (K, K, q, q)
    W = np.einsum("iagr,jagr->ijgr", np.einsum("iagr,abr->ibgr", H, back), H)
    Pw, Hw, uw = P * w, H * w, u * w
    traces = Pw.sum(axis=2)
    along = traces - (W * w).sum(axis=2) if reml else traces
    HH = np.einsum("iagr,jbgr->iajbr", Hw, H)
    uu = np.einsum("igr,jgr->ijr", uw, u)
    Hu = np.einsum("iagr,jgr->iajr", Hw, u)
    M = np.einsum("kijr,iajbr->kabr", change, HH)  # minus the change of X'V^-1 X
    m = np.einsum("kijr,iajr->kar", change, Hu)
    MB = np.einsum("kabr,bcr->kacr", M, back)
    pairs = np.einsum("ijgr,hlgr->ijhlr", Pw, P - 2.0 * W if reml else P)
    cross = np.einsum("kjhr,ijhlr->kilr", change, pairs)
    twice = np.einsum("kilr,mlir->kmr", cross, change)
    if reml:
        twice = 0.5 * (twice + twice.swapaxes(0, 1)) + np.einsum("kacr,mcar->kmr", MB, MB)
    pulled = np.einsum("kjhr,ijhlr->kilr", change, np.einsum("ijgr,hgr,lgr->ijhlr", Pw, u, u))
    spread = np.einsum("kilr,mlir->kmr", pulled, change)
    spread = 0.5 * (spread + spread.swapaxes(0, 1)) - np.einsum("kar,abr,mbr->kmr", m, back, m)
    return {
        "log_det_gradient": np.einsum("kijr,ijr->kr", change, along),
        "rss_gradient": -np.einsum("kijr,ijr->kr", change, uu),
        "log_det_hessian": -twice + np.einsum("kmij,ijr->kmr", bend, along),
        "rss_hessian": 2.0 * spread - np.einsum("kmij,ijr->kmr", bend, uu),
        "information_change": -M,
        "traces": traces,
        "along": along,
        "uu": uu,
    }


def _newton_step(at: Likelihood) -> tuple[np.ndarray, np.ndarray]:
    """Step (K, R) downhill, curvature taken as positive, and the gain (R,) it promises."""
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
    """theta (K, R) at the optimum of each data set from `start` (K, R), and whether it was reached (R,).

    Newton steps with halving; a last full step polishes. At a boundary the slope toward a larger variance is
    checked, and a saddle is left along it.
    """
    theta = np.array(start, dtype=float)
    done = np.zeros(theta.shape[1], dtype=bool)
    left = np.arange(theta.shape[1])
    for _ in range(4):
        theta[:, left], done[left] = _descend(data.take(left), theta[:, left], reml, most_steps)
        left = left[done[left]]
        if not len(left):
            break
        stuck, moved = _leave_saddle(data.take(left), theta[:, left], reml)
        left = left[stuck]
        if not len(left):
            break
        theta[:, left] = moved[:, stuck]
        done[left] = False
    return theta, done


def _descend(data: Moments, start: np.ndarray, reml: bool, most_steps: int) -> tuple[np.ndarray, np.ndarray]:
    theta, done = start.copy(), np.zeros(start.shape[1], dtype=bool)
    active = np.arange(start.shape[1])
    here = evaluate(data, theta, reml=reml)
    best = here.deviance.copy()
    step, gain = _newton_step(here)
    step = _limit(step, theta)
    shrink = np.ones(len(active))
    for _ in range(most_steps):
        trial = theta[:, active] + shrink * step
        there = evaluate(data, trial, reml=reml)
        value = there.deviance
        better = value <= best + 1e-10 * (1.0 + np.abs(best))  # rounding, near the optimum
        theta[:, active[better]] = trial[:, better]
        best = np.where(better, value, best)
        over = better & (gain < _GAIN)
        fresh, fresh_gain = _newton_step(there)
        step = np.where(better, _limit(fresh, trial), step)
        gain = np.where(better, fresh_gain, gain)
        shrink = np.where(better, 1.0, 0.4 * shrink)
        done[active[over]] = True
        keep = ~over & (shrink > 1e-9)
        if not keep.any():
            break
        if not keep.all():
            sets = np.flatnonzero(keep)
            data, active = data.take(sets), active[keep]
            step, gain, shrink, best = step[:, keep], gain[keep], shrink[keep], best[keep]
    return theta, done


def _leave_saddle(data: Moments, theta: np.ndarray, reml: bool) -> tuple[np.ndarray, np.ndarray]:
    """Whether a larger variance would still lower the deviance (R,), and a start that has it."""
    at = evaluate(data, theta, reml=reml)
    low = factor(theta, data.pattern)
    f = data.free
    size = np.einsum("iir->r", at.traces[:f, :f]) / f
    slope, axes = np.linalg.eigh(np.moveaxis(at.push[:f, :f], -1, 0))
    stuck = slope[:, 0] < -_KKT * size
    moved = theta.copy()
    for r in np.flatnonzero(stuck):
        # A column along the direction found, large enough to matter.
        size_r = 0.3 / np.sqrt(1.0 + np.abs(slope[r, 0]) / size[r])
        moved[: f * f, r] = widened(low[:f, :f, r], size_r * axes[r, :, :1]).ravel()
    if len(data.pattern) > f * f:  # sessions
        push = np.einsum("iir->r", at.push[f:, f:])
        held = push < -_KKT * np.einsum("iir->r", at.traces[f:, f:])
        moved[-1, held] = np.abs(moved[-1, held]) + 0.3
        stuck = stuck | held
    return stuck, moved


def widened(low: np.ndarray, more: np.ndarray) -> np.ndarray:
    """L (q, q) with L L' = low low' + more more'."""
    return np.linalg.qr(np.hstack([low, more]).T)[1].T
