"""Family-wise error, power and coverage of the screen on simulated tables, next to two rivals.

By hand, seeded; writes references/evidence/screen.md. NULLS is the number of null studies of each design, EFFECTS
that of studies in which one candidate has an effect:

    nice python tests/calibration/screen_errors.py NULLS EFFECTS

Rivals: Holm on the Student t p values of the same statistics, and Holm with an effective number of tests (Li & Ji
2005) from the candidates' correlation. A study counts as an error if any candidate without an effect is found.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd
from scipy import signal, stats

from swinglab.statistics.screen import screen_postures

OUT = (
    Path(sys.argv[3])
    if len(sys.argv) > 3
    else Path(__file__).resolve().parents[2] / "references" / "evidence" / "screen.md"
)
CANDIDATES, FACTORS, SAMPLES, ALPHA = 60, 6, 299, 0.05
NAMES = [f"c{j:03d}" for j in range(CANDIDATES)]
METHODS = ("max-T", "Holm on t", "Holm, effective number")


@dataclass(frozen=True)
class Design:
    """level, golfers, and what is unusual; effect : true slope of the first candidate, outcome SDs per candidate SD."""

    level: str
    golfers: int
    effect: float
    heavy: bool = False
    unequal: bool = False
    memory: float = 0.3
    swings: int = 24

    def words(self) -> str:
        said = [
            f"{self.golfers} golfers, {self.swings} swings"
            if self.level != "golfer"
            else f"{self.swings} swings"
        ]
        said += ["heavy tails (t, 3 df)"] if self.heavy else []
        said += ["6 to 42 swings a golfer"] if self.unequal else []
        said += [f"AR {self.memory:g}"]
        return ", ".join(said)


DESIGNS = (
    Design("within", 6, 0.9),
    Design("within", 8, 0.7),
    Design("within", 12, 0.5),
    Design("within", 24, 0.3),
    Design("between", 8, 2.5),
    Design("between", 12, 1.8),
    Design("between", 24, 1.0),
    Design("golfer", 1, 0.8, memory=0.4, swings=40),
    Design("golfer", 1, 0.8, memory=0.6, swings=40),
    Design("within", 8, 0.7, heavy=True),
    Design("within", 12, 0.5, heavy=True, unequal=True),
    Design("between", 12, 1.8, heavy=True, unequal=True),
    Design("golfer", 1, 0.5, memory=0.6, swings=80),
    Design("between", 6, 3.0),
)
# Ten candidates share each factor: correlation .64 within a group of ten, 0 between groups.
LOADING = np.kron(np.eye(FACTORS), np.ones((1, CANDIDATES // FACTORS))) * 0.8


def shocks(rng: np.random.Generator, shape: tuple[int, ...], heavy: bool) -> np.ndarray:
    return rng.standard_t(3, shape) / np.sqrt(3) if heavy else rng.normal(size=shape)


def series(rng: np.random.Generator, shape: tuple[int, int, int], memory: float, heavy: bool) -> np.ndarray:
    """(golfers, swings, k) AR(1) series of unit variance along the swings."""
    e = shocks(rng, shape, heavy)
    e[:, 1:] *= np.sqrt(1 - memory**2)
    return signal.lfilter([1.0], [1.0, -memory], e, axis=1)


def make(design: Design, rng: np.random.Generator, effect: float) -> pd.DataFrame:
    """A table in which only the first candidate has an effect; golfers' slopes of three others differ about 0."""
    G, n = design.golfers, 2 * design.swings - 6 if design.unequal else design.swings
    counts = np.full(G, n)
    if design.unequal:
        counts = rng.permutation(np.linspace(6, n, G).round().astype(int))
    x = series(rng, (G, n, FACTORS), design.memory, design.heavy) @ LOADING
    x += 0.6 * series(rng, (G, n, CANDIDATES), design.memory, design.heavy)
    noise = series(rng, (G, n, 1), design.memory, design.heavy)[:, :, 0]
    if design.level == "between":
        means = shocks(rng, (G, FACTORS), design.heavy) @ LOADING
        means += 0.6 * shocks(rng, (G, CANDIDATES), design.heavy)
        level = shocks(rng, (G,), design.heavy) + effect * means[:, 0]
        x, y = means[:, None] + 0.5 * x, level[:, None] + 0.7 * noise
    elif design.level == "within":
        slopes = 0.25 * shocks(rng, (G, 1, 3), design.heavy)
        y = (x[:, :, [0, 20, 40]] * slopes).sum(axis=2) + effect * x[:, :, 0] + noise
    else:
        trend = np.linspace(-0.7, 0.7, n)
        y = effect * x[:, :, 0] + noise + trend
        x = x + trend[:, None] * (np.arange(CANDIDATES) % 3 - 1)
    there = (np.arange(n) < counts[:, None]).ravel()
    frame = pd.DataFrame(10 * x.reshape(-1, CANDIDATES)[there], columns=NAMES)
    frame["y"], frame["order"] = y.ravel()[there], np.tile(np.arange(n), G)[there]
    frame["golfer"] = np.array([f"g{g:02d}" for g in range(G)])[np.repeat(np.arange(G), n)[there]]
    return frame


def effective_number(correlation: np.ndarray) -> float:
    """Li & Ji 2005: sum over eigenvalues of [1 where at least 1] plus the fractional part."""
    values = np.abs(np.linalg.eigvalsh(correlation))
    return float(((values >= 1) + values - np.floor(values)).sum())


def holm(p: np.ndarray, tests: float) -> np.ndarray:
    order = np.argsort(p)
    factor = np.maximum(tests - np.arange(len(p)), 1.0)
    adjusted = np.empty(len(p))
    adjusted[order] = np.minimum(np.maximum.accumulate(p[order] * factor), 1.0)
    return adjusted


def searched(design: Design, table: pd.DataFrame, seed: int) -> tuple[dict[str, np.ndarray], pd.DataFrame]:
    """Adjusted p of each method, (J,), and the screen's table."""
    golfer = "g00" if design.level == "golfer" else None
    found = screen_postures(
        table, "y", candidates=NAMES, level=design.level, golfer=golfer, samples=SAMPLES, seed=seed
    )
    rows = found.table
    df = rows["n_golfers"] - 1.0 if design.level == "within" else rows["n_golfers"] - 2.0
    df = rows["n_swings"] - 3.0 if design.level == "golfer" else df
    p = (2 * stats.t.sf(np.abs(rows["estimate"] / rows["standard_error"]), df)).astype(float)
    number = effective_number(found.correlation.to_numpy())
    return {
        METHODS[0]: rows["p_adjusted"].to_numpy(),
        METHODS[1]: holm(p, len(p)),
        METHODS[2]: holm(p, number),
    }, rows


def run(design: Design, place: int, nulls: int, effects: int) -> dict:
    rng = np.random.default_rng([20, place])
    errors, power, covered = dict.fromkeys(METHODS, 0), dict.fromkeys(METHODS, 0), 0
    for number in range(nulls):
        adjusted, _ = searched(design, make(design, rng, 0.0), number + 1)
        for name, p in adjusted.items():
            errors[name] += bool((p < ALPHA).any())
    # The slope of a candidate alone: its share of the first one's group, or nothing.
    truth = design.effect * np.where(np.arange(CANDIDATES) < CANDIDATES // FACTORS, 0.64, 0.0)
    truth[0] = design.effect
    for number in range(effects):
        adjusted, table = searched(design, make(design, rng, design.effect), number + 1)
        for name, p in adjusted.items():
            power[name] += bool(p[0] < ALPHA)
        covered += bool(((table["ci_low"] <= truth) & (truth <= table["ci_high"])).all())
    return {"design": design, "errors": errors, "power": power, "covered": covered}


HEAD = """# Family-wise error, power and coverage of the screen

Simulated tables, seeded, by `tests/calibration/screen_errors.py {nulls} {effects}`: {candidates} candidates in
{factors} groups of ten (correlation .64 within a group), {samples} resamplings, alpha .05. {nulls} null studies of
each design (Monte Carlo error {null_error:.3f} near .05) and {effects} in which the first candidate has an effect
(error {effect_error:.3f} near .5). Within golfers, slopes of three candidates differ between golfers about 0 in null
studies too. One golfer: outcome and candidates share a trend. Error: share of null studies in which anything was
found. Power: share of studies in which the candidate with the effect was found. Covered: share of studies in which
all {candidates} simultaneous 95 % intervals hold their true slopes. The rivals work on the same statistics; where a
rival's error is far from .05, its power is no fair comparison.

| level | design | error: {methods} | power: {methods} | covered |
|---|---|---|---|---|
"""


def line(row: dict, nulls: int, effects: int) -> str:
    errors = " / ".join(f"{row['errors'][m] / nulls:.3f}" for m in METHODS)
    power = " / ".join(f"{row['power'][m] / effects:.2f}" for m in METHODS)
    design = row["design"]
    return f"| {design.level} | {design.words()} | {errors} | {power} | {row['covered'] / effects:.3f} |"


def main(nulls: int, effects: int) -> None:
    head = HEAD.format(
        nulls=nulls, effects=effects, candidates=CANDIDATES, factors=FACTORS, samples=SAMPLES,
        null_error=np.sqrt(0.05 * 0.95 / nulls), effect_error=np.sqrt(0.25 / effects), methods=" / ".join(METHODS),
    )  # fmt: skip
    lines = []
    for place, design in enumerate(DESIGNS):
        lines.append(line(run(design, place, nulls, effects), nulls, effects))
        print(lines[-1], flush=True, file=sys.stderr)
        OUT.write_text(head + "\n".join(lines) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main(int(sys.argv[1]), int(sys.argv[2]))
