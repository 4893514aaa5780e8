"""How often a lesson without any change gets a verdict when it is looked at again and again.

By hand, seeded; writes references/evidence/looking.md. SESSIONS is the number of sessions for each autocorrelation,
RUNNING the number of these answered by the kit itself at every look:

    nice python tests/calibration/looking.py SESSIONS RUNNING

A session has 20 swings before and 42 after, which are planned, and is looked at from the fourth swing after, after
every second one: 20 looks. Posture and strike are unrelated to the phase and to each other, stationary, with an SD of
1. The verdict is that of `study.answer_study`, which `watch`, the report and the sheet use alike. The limits of a
running lesson are computed for all sessions together; the script stops where they differ from the kit's own.
"""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from textwrap import fill
from types import SimpleNamespace

import numpy as np
import pandas as pd
from scipy import special, stats

from swinglab import columns
from swinglab.records import Errors, Finding, Lesson
from swinglab.statistics import autoregression
from swinglab.study import answer_study

OUT = Path(__file__).resolve().parents[2] / "references" / "evidence" / "looking.md"
BEFORE, FIRST, AFTER, EVERY = 20, 4, 42, 2
LOOKS = tuple(BEFORE + after for after in range(FIRST, AFTER + 1, EVERY))
AUTOCORRELATIONS = (0.0, 0.4)
SMALLEST = 0.8
LESSON = Lesson(
    name="lesson", golfer="G01", phase="phase", of="thorax_lateral_flexion_deg", event="shaft_horizontal_down",
    outcome="attack_angle_deg", target=(1.0, 3.0), expect="positive", smallest_effect=SMALLEST, planned_swings=AFTER,
)  # fmt: skip
POSTURE = columns.event_column_name(LESSON.of, LESSON.event)
#: Readings that claim a change of the strike, and of the posture alone.
STRIKE = (
    "lesson_changed",
    "lesson_undirected",
    "lesson_against",
    "lesson_strike_only",
    "lesson_away",
    "lesson_past",
)
POSTURE_ALONE = ("lesson_posture_only", "lesson_posture_away", "lesson_posture_past")


def series(number: int, phi: float, seed: int) -> np.ndarray:
    """(number, swings, 2) stationary posture and strike, SD 1, neighbours correlated by phi."""
    noise = np.random.default_rng(seed).normal(size=(number, BEFORE + AFTER, 2))
    made = noise.copy()
    for place in range(1, made.shape[1]):
        made[:, place] = phi * made[:, place - 1] + np.sqrt(1 - phi**2) * noise[:, place]
    return made


def answer(values: np.ndarray) -> tuple[Finding, ...]:
    """The kit's answer to a lesson of these swings, (swings, 2)."""
    n = len(values)
    table = pd.DataFrame(
        {"swing": [f"s{i}" for i in range(n)], "golfer": "G01", "session": "today", "club": "7 iron",
         "phase": ["before"] * BEFORE + ["after"] * (n - BEFORE), "order": np.arange(1, n + 1),
         POSTURE: values[:, 0], LESSON.outcome: values[:, 1]}
    )  # fmt: skip
    study = SimpleNamespace(questions=(LESSON,), errors=Errors(), folder=Path("nowhere"), captures={})
    return answer_study(study, SimpleNamespace(swings=table, excluded=pd.DataFrame()))  # type: ignore[arg-type]


# --- the same fit for many sessions at once ----------------------------------------------------------------------


@dataclass(frozen=True)
class Steps:
    """The step of each session: estimate, standard error, df, and p of a single look, (sessions,) each."""

    estimate: np.ndarray
    error: np.ndarray
    df: np.ndarray
    p: np.ndarray

    def outside(self, scale: float) -> np.ndarray:
        """Whether 0 is outside the 95 % limits of `statistics.always_valid`."""
        factor = (self.error**2 + scale**2) / scale**2
        bound = np.sqrt(factor * (2 * np.log(20) + np.log((self.error**2 + scale**2) / self.error**2)))
        limit = stats.t.isf(stats.norm.sf(bound), self.df)
        return np.asarray(np.abs(self.estimate) > limit * self.error)


def fit_steps(values: np.ndarray) -> Steps:
    """`statistics.fit_step` beside a trend, for (sessions, swings) values."""
    count, n = values.shape
    place = np.arange(1.0, n + 1)
    x = np.column_stack([np.ones(n), place > BEFORE, place - place.mean()])
    steps = np.r_[np.inf, np.ones(n - 1)]
    grid = autoregression._GRID
    b, error, criterion = (np.empty((len(grid), count)) for _ in range(3))
    for k, phi in enumerate(grid):
        b[k], error[k], criterion[k] = _at_one(phi, x, values, steps)
    weight = autoregression._SHARE[:, None] * np.exp(-0.5 * (criterion - criterion.min(axis=0)))
    weight = weight * autoregression._prior(grid, x, steps)[:, [1]]
    weight /= weight.sum(axis=0)
    df = float(n - 3)
    p = 2 * np.minimum(*(np.sum(weight * special.stdtr(df, sign * b / error), axis=0) for sign in (-1, 1)))
    half = (_quantile(0.975, weight, b, error, df) - _quantile(0.025, weight, b, error, df)) / 2
    estimate, own = _at(_best(grid, criterion, x, values, steps), x, values, steps)[:2]
    return Steps(estimate, own, np.array([autoregression._df_for(ratio, df) for ratio in half / own]), p)


def _at(phi: np.ndarray, x: np.ndarray, y: np.ndarray, steps: np.ndarray) -> tuple[np.ndarray, ...]:
    """(step, its error, criterion) of each session at its own autocorrelation."""
    n, p = x.shape
    tie = autoregression._tie(phi, steps)
    scale = np.sqrt(1 - tie**2)
    white_x = (x - tie[:, :, None] * np.vstack([np.zeros(p), x[:-1]])) / scale[:, :, None]
    white_y = (y - tie * np.column_stack([np.zeros(len(y)), y[:, :-1]])) / scale
    square = np.swapaxes(white_x, 1, 2) @ white_x
    inverse = np.linalg.inv(square)
    b = (inverse @ np.swapaxes(white_x, 1, 2) @ white_y[:, :, None])[:, :, 0]
    rest = white_y - (white_x @ b[:, :, None])[:, :, 0]
    variance = (rest**2).sum(axis=1) / (n - p)
    log_det = np.log1p(-(tie**2)).sum(axis=1) + np.linalg.slogdet(square)[1]
    return (
        b[:, 1],
        np.sqrt(variance * inverse[:, 1, 1]),
        (n - p) * (np.log(2 * np.pi * variance) + 1) + log_det,
    )


def _at_one(phi: float, x: np.ndarray, y: np.ndarray, steps: np.ndarray) -> tuple[np.ndarray, ...]:
    """The same with one autocorrelation for all sessions."""
    n, p = x.shape
    white_x, white_y = (autoregression.whiten(phi, values, steps) for values in (x, y.T))
    inverse = np.linalg.inv(white_x.T @ white_x)
    b = inverse @ white_x.T @ white_y
    variance = ((white_y - white_x @ b) ** 2).sum(axis=0) / (n - p)
    tie = autoregression._tie(np.array([phi]), steps)
    log_det = np.log1p(-(tie**2)).sum() - np.linalg.slogdet(inverse)[1]
    return b[1], np.sqrt(variance * inverse[1, 1]), (n - p) * (np.log(2 * np.pi * variance) + 1) + log_det


def _best(
    grid: np.ndarray, criterion: np.ndarray, x: np.ndarray, y: np.ndarray, steps: np.ndarray
) -> np.ndarray:
    """(sessions,) autocorrelation of the smallest criterion, by golden section about the best of the grid."""
    place = np.argmin(criterion, axis=0)
    low, high = grid[np.maximum(place - 1, 0)], grid[np.minimum(place + 1, len(grid) - 1)]
    golden = (np.sqrt(5) - 1) / 2
    for _ in range(40):
        left, right = high - golden * (high - low), low + golden * (high - low)
        lower = _at(left, x, y, steps)[2] < _at(right, x, y, steps)[2]
        low, high = np.where(lower, low, left), np.where(lower, right, high)
    found = (low + high) / 2
    better = _at(found, x, y, steps)[2] < criterion.min(axis=0)
    return np.where(better, found, grid[place])


def _quantile(share: float, weight: np.ndarray, b: np.ndarray, error: np.ndarray, df: float) -> np.ndarray:
    """(sessions,) quantile of each session's mixture of t distributions, by bisection."""
    ends = b + special.stdtrit(df, share) * error
    low, high = ends.min(axis=0), ends.max(axis=0)
    for _ in range(36):
        middle = (low + high) / 2
        above = np.sum(weight * special.stdtr(df, (middle - b) / error), axis=0) > share
        low, high = np.where(above, low, middle), np.where(above, middle, high)
    return (low + high) / 2


# --- counting ----------------------------------------------------------------------------------------------------


def count(phi: float, sessions: int, running: int, seed: int) -> dict[str, float]:
    """Shares of sessions, by what was found in them at any of the looks."""
    made = series(sessions, phi, seed)
    once, outside = np.zeros(sessions, bool), np.zeros(sessions, bool)
    for n in LOOKS:
        fit = fit_steps(made[:, :n, 1])
        once |= fit.p < 0.05
        outside |= fit.outside(SMALLEST)
        for session in range(running):
            _check(answer(made[session, :n]), fit, session, last=n == LOOKS[-1])
        print(phi, n, once.mean(), outside.mean(), flush=True)
    keys = Counter(_key(answer(values)) for values in made)
    print(phi, keys, flush=True)
    return {
        "once": float(once.mean()), "outside": float(outside.mean()),
        **{key: number / sessions for key, number in keys.items()},
    }  # fmt: skip


def _key(lines: tuple[Finding, ...]) -> str:
    return next(line.reading_key for line in lines if line.role == "default")


def _check(lines: tuple[Finding, ...], fit: Steps, session: int, *, last: bool) -> None:
    """Stop where the kit's own answer is another one."""
    line = next(line for line in lines if line.role == "default")
    own = (line.estimate, line.standard_error, line.df)
    here = (fit.estimate[session], fit.error[session], fit.df[session])
    if not np.allclose(own, here, rtol=2e-4):
        sys.exit(f"session {session}: the kit has {own}, this script {here}")
    if last:
        return
    if line.reading_key != "lesson_running" or np.isfinite(line.p):
        sys.exit(f"session {session}: a running lesson was read: {line.reading}")
    if fit.outside(SMALLEST)[session] != (line.ci_low > 0 or line.ci_high < 0):
        sys.exit(f"session {session}: other limits than the kit's")


def main(sessions: int, running: int) -> None:
    """Run all cells and replace the page."""
    found = {phi: count(phi, sessions, running, seed=40 + i) for i, phi in enumerate(AUTOCORRELATIONS)}
    OUT.write_text("\n".join(page(found, sessions, running)) + "\n", encoding="utf-8")


def page(found: dict[float, dict[str, float]], sessions: int, running: int) -> Iterator[str]:
    """The page's lines."""
    yield "# Looking again and again at a lesson"
    yield ""
    yield fill(
        f"A lesson without any change: {BEFORE} swings before, {AFTER} after, which are planned, looked at "
        f"{len(LOOKS)} times, from the fourth swing after on after every second one. Posture and strike are stationary "
        f"and unrelated to the phase and to each other. {sessions:,} simulated sessions for each autocorrelation of "
        f"neighbouring swings, by `tests/calibration/looking.py {sessions} {running}`. All numbers are shares of the "
        f"sessions; the Monte Carlo error of a share near .05 is {np.sqrt(0.05 * 0.95 / sessions):.3f}.", 120,
    )  # fmt: skip
    yield ""
    yield fill(
        "The rule, as `watch`, the report and the player's sheet use it: no verdict before the planned number of "
        "swings; there one verdict, from these swings, with p of posture and strike adjusted together (Holm). The "
        f"first {running} sessions of each kind were answered by the kit at every look: before the plan was reached "
        "each read *running, no verdict yet*.", 120,
    )  # fmt: skip
    yield ""
    yield "| autocorrelation | " + " | ".join(f"{phi:g}" for phi in found) + " |"
    yield "|---" * (1 + len(found)) + "|"
    for label, value in ROWS.items():
        yield f"| {label} | " + " | ".join(f"{_share(value, own):.3f}" for own in found.values()) + " |"
    yield ""
    yield fill(
        "*At some look* is what a coach would meet who reads p at every look and stops at the first below .05. The "
        f"always-valid limits (normal mixture, scale = the smallest effect, here {SMALLEST:g} SD of the strike) are "
        "shown while a lesson is running; they hold at every look together and are on the careful side. *Drift alone "
        "could explain it* is not settled, and is not counted as a claim; *too small to matter* is true here.", 120,
    )  # fmt: skip


ROWS = {
    "**verdict: a change of posture or strike is claimed**": (*STRIKE, *POSTURE_ALONE),
    "of these: a change of the strike": STRIKE,
    "of these: a change of the posture alone": POSTURE_ALONE,
    "a change that drift alone could explain": ("lesson_drift",),
    "not settled, or methods disagree": ("not_settled", "methods_disagree"),
    "too small to matter": ("too_small",),
    "p of a single look below .05 at some look (what the rule avoids)": ("once",),
    "0 outside the always-valid 95 % limits at some look": ("outside",),
}  # fmt: skip


def _share(keys: tuple[str, ...], own: dict[str, float]) -> float:
    return sum(own.get(key, 0.0) for key in keys)


if __name__ == "__main__":
    main(int(sys.argv[1]), int(sys.argv[2]))
