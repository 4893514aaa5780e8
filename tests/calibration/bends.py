"""Power of the test of a bend: a natural cubic spline against a quadratic term, within and between golfers.

By hand, seeded, some seconds; its table stands in references/evidence/departures.md:

    python tests/calibration/bends.py
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from scipy import stats

from swinglab.statistics.spline import QUANTILES, natural_spline

SHAPES: dict[str, Callable[[np.ndarray], np.ndarray]] = {
    "none": np.zeros_like,
    "quadratic": lambda x: 0.5 * x**2,
    "bend at the middle": lambda x: 1.2 * np.maximum(x, 0),
    "bend at 1 SD": lambda x: 2.0 * np.maximum(x - 1, 0),
    "levels off": lambda x: 2 * np.tanh(x + 0.7),
    "S-shaped": lambda x: 3 * np.tanh(1.5 * x),
}
Term = Callable[[np.ndarray], np.ndarray]
TERMS: dict[str, Term] = {
    "quadratic": np.square,
    "spline": lambda x: natural_spline(x, np.quantile(x, QUANTILES)),
}


def postures(rng: np.random.Generator, shape: tuple[int, ...], tail: bool) -> np.ndarray:
    return rng.standard_t(3, shape) / np.sqrt(3) if tail else rng.normal(0, 1, shape)


def within(rng: np.random.Generator, shape: Callable, tail: bool, sets: int = 2000) -> list[float]:
    """12 golfers of 20 swings, own slopes; t on golfers' own bends."""
    x = postures(rng, (sets, 12, 20), tail)
    y = 0.6 * shape(x) + rng.normal(0, 1, x.shape) + rng.normal(0.3, 0.3, (sets, 12, 1)) * x
    x, y = (part - part.mean(axis=-1, keepdims=True) for part in (x, y))
    found = []
    for term in TERMS.values():
        bend = np.stack([term(own.ravel()).reshape(own.shape) for own in x])
        bend -= bend.mean(axis=-1, keepdims=True)
        bend -= x * ((x * bend).sum(axis=-1) / (x * x).sum(axis=-1))[..., None]
        own_bends = (bend * y).sum(axis=-1) / (bend * bend).sum(axis=-1)
        found.append(float((stats.ttest_1samp(own_bends, 0.0, axis=1).pvalue < 0.05).mean()))
    return found


def between(rng: np.random.Generator, shape: Callable, tail: bool, sets: int = 4000) -> list[float]:
    """Means of 20 golfers; t of the bend beside the line."""
    x = postures(rng, (sets, 20), tail)
    y = shape(x) + rng.normal(0, 1, x.shape)
    found = []
    for term in TERMS.values():
        terms = np.stack([np.ones_like(x), x, np.stack([term(own - own.mean()) for own in x])], axis=-1)
        inverse = np.linalg.inv(np.einsum("sij,sik->sjk", terms, terms))
        fit = np.einsum("sjk,sik,si->sj", inverse, terms, y)
        left = y - np.einsum("sij,sj->si", terms, fit)
        error = np.sqrt((left**2).sum(axis=1) / 17 * inverse[:, 2, 2])
        found.append(float((2 * stats.t.sf(np.abs(fit[:, 2] / error), 17) < 0.05).mean()))
    return found


def main() -> None:
    rng = np.random.default_rng(1)
    for tail in (False, True):
        for name, shape in SHAPES.items():
            shares = [*within(rng, shape, tail), *between(rng, shape, tail)]
            cells = " | ".join(f"{share:.3f}" for share in shares)
            print(f"| {'t, 3 df' if tail else 'normal'} | {name} | {cells} |", flush=True)


if __name__ == "__main__":
    main()
