"""Posture of noisy simulated swings: true error next to predicted error, by rate and kind of noise.

    nice python tests/calibration/posture_errors.py [swings]

Each swing is smoothed as a file would be (cut-offs by residual analysis) and read at its true events. The error is the
difference from the same swing without noise, smoothed by the same filter: what standard errors promise. A second
table takes the difference from the truth, which also holds what smoothing and the regressions of joint centres bring.
Writes references/evidence/posture_errors.md. Truth: made.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path

import numpy as np
import pandas as pd
from scipy.signal import lfilter

from swinglab.columns import QUANTITIES
from swinglab.conventions import EVENTS, SEGMENT_LANDMARKS, is_club_landmark
from swinglab.load import load_trial
from swinglab.records import Capture, Event, Events, Setup, Trial
from swinglab.segments import measure_at, measure_posture
from swinglab.signals import smooth
from swinglab.simulate import Golfer, Swing, make_golfer, make_swing

OUT = Path(__file__).resolve().parents[2] / "references" / "evidence" / "posture_errors.md"
PARTS = ("pelvis", "thorax", "trunk", "separation", "knee", "elbow", "shaft", "positions")
LOW, HIGH = 0.7, 1.4
#: Of a shared marker noise, the part that all markers have in common (of one standard deviation, level axes).
SHARED = 0.8
#: Time constant of the noise that remembers, and the band of the soft tissue.
MEMORY_S, TISSUE_HZ = 0.02, (2.0, 8.0)
KEY = ["event", "quantity"]
RATES = (60, 120, 240, 500)


@dataclass(frozen=True)
class Cell:
    """One setting: rate, noise of one coordinate in mm, its kind, and the size of the kind's own part in mm."""

    rate_hz: float
    noise_mm: float
    kind: str = "white"
    size_mm: float = 0.0

    def __str__(self) -> str:
        return f"{self.rate_hz:g} Hz, {self.noise_mm:g} mm {self.kind}" + (
            f" {self.size_mm:g} mm" if self.size_mm else ""
        )


CELLS = [
    *(Cell(rate, noise) for noise in (0.5, 2.0) for rate in RATES),
    *(Cell(rate, 1.0, "shared") for rate in RATES),
    *(Cell(rate, 0.3, "remembering", 1.0) for rate in RATES),
    *(Cell(rate, 0.3, "soft tissue", 3.0) for rate in RATES),
    *(Cell(rate, 0.4, "white, at 8 m/s", 1.5) for rate in RATES),
    *(Cell(rate, 0.2, "white, at 0.5 m/s", 1.0) for rate in RATES),
]


def make_noise(cell: Cell, exact: np.ndarray, body: np.ndarray, random: np.random.Generator) -> np.ndarray:
    """Noise of the cell's kind for points (n, k, 3); only body points are shared, remember or lie on tissue."""
    sd, size, shape = cell.noise_mm / 1000, cell.size_mm / 1000, exact.shape
    white = random.normal(0.0, sd, shape)
    if cell.kind.startswith("white, at"):
        speed = np.linalg.norm(np.gradient(exact, 1 / cell.rate_hz, axis=0), axis=2, keepdims=True)
        share = np.minimum(speed / float(cell.kind.split()[2]), 1.0)
        return white * (1 + (size / sd - 1) * share)
    if cell.kind == "shared":
        # Level coordinates share a part; heights have only the rest.
        shared = np.sqrt(1 - SHARED**2) * white
        shared[..., [0, 2]] += random.normal(0.0, sd * SHARED, (shape[0], 1, 2))
        return np.where(body[:, None], shared, white)
    if cell.kind == "remembering":
        keep = np.exp(-1 / (cell.rate_hz * MEMORY_S))
        slow = lfilter(
            [np.sqrt(1 - keep**2)], [1, -keep], random.normal(0.0, size, (shape[0] + 500, *shape[1:])), axis=0
        )
        return white + np.where(body[:, None], slow[500:], 0.0)
    if cell.kind == "soft tissue":
        # Four sines a coordinate at random frequencies and phases; the root mean square of their vector is `size`.
        time = np.arange(shape[0])[:, None, None] / cell.rate_hz
        wobble = sum(
            np.sin(
                2 * np.pi * (random.uniform(*TISSUE_HZ, shape[1:]) * time + random.uniform(0, 1, shape[1:]))
            )
            for _ in range(4)
        )
        return white + np.where(body[:, None], size / np.sqrt(3) * wobble / np.sqrt(2), 0.0)
    return white


def load(swing: Swing, cell: Cell, random: np.random.Generator) -> tuple[Trial, Trial]:
    """The swing with the cell's noise as a trial, and its exact points smoothed in the same way."""
    names = tuple(name for name in swing.trial().landmarks if name != "ball")
    exact = np.stack([swing.exact[name] for name in names], axis=1)
    noise = make_noise(cell, exact, np.array([not is_club_landmark(name) for name in names]), random)
    # The study frame is the laboratory's here: X to the target, Y up.
    setup = Setup(up="+Y", target="+X", ball_position=(0.0, 0.0, 0.0), unit="m", reference_behind_face_cm=0.0)
    trial = load_trial(
        Capture("simulated", names, exact + noise, swing.rate_hz), setup, swing=swing.name, golfer="G"
    )
    shift = np.mean(trial.raw_m - exact - noise, axis=(0, 1))  # the origin lies on the turf under the ball
    still = exact + shift
    for segment, cutoff in trial.cutoff_hz.items():
        for k in [names.index(name) for name in SEGMENT_LANDMARKS[segment] if name in names]:
            still[:, k] = smooth(still[:, k].T, swing.rate_hz, cutoff).T
    none = np.zeros(len(names))
    return trial, replace(trial, points_m=still, raw_m=exact + shift, noise_m=none, deformation_m=none)


def read(trial: Trial, times: dict[str, float]) -> pd.DataFrame:
    """Quantities at events without timing error."""
    found = tuple(Event(name, times[name], 0.0, "true") for name in EVENTS)
    return measure_at(measure_posture(trial), Events(trial.swing, "G", trial.rate_hz, found))


def measure(swing: Swing, cell: Cell, random: np.random.Generator) -> pd.DataFrame:
    """One swing: value, predicted error, that of white noise alone, value without noise, truth."""
    trial, exact = load(swing, cell, random)
    table = read(trial, swing.true_events)
    table["exact"] = read(exact, swing.true_events)["value"]
    alone = replace(trial, deformation_m=None, common_noise=0.0)
    table["by_white"] = read(alone, swing.true_events)["standard_error"]
    truth = swing.true_posture()
    table["true"] = [
        truth.get(e, {}).get(q, np.nan) for e, q in zip(table["event"], table["quantity"], strict=True)
    ]
    return table.dropna(subset=["value", "true", "standard_error"])


def part_of(quantity: str) -> str:
    """The column of the table that a quantity counts in."""
    if quantity.endswith("_cm"):
        return "positions"
    return next(part for part in PARTS if part in quantity.replace("pelvis_thorax_", ""))


@cache
def make_golfers() -> list[Golfer]:
    """Five golfers from 1.62 to 1.82 m."""
    return [make_golfer(name=f"G{k}", stature_m=1.62 + 0.05 * k) for k in range(5)]


def errors_of(cell: Cell, swings: int) -> pd.DataFrame:
    """One row for each event and quantity: root-mean-square errors, predicted errors, bias."""
    random, golfers = np.random.default_rng([20, CELLS.index(cell)]), make_golfers()
    before = 5.0 if cell.kind.startswith("white, at") else None  # most of such a capture is address
    simulated = (
        make_swing(golfers[k % 5], seed=1000 + k, rate_hz=cell.rate_hz, before_s=before)
        for k in range(swings)
    )
    table = pd.concat([measure(swing, cell, random) for swing in simulated])
    table = table[table["standard_error"] > 0]
    angle = table["unit"] == "deg"
    for name, other in (("noise", "exact"), ("off", "true")):
        off = table["value"] - table[other]
        table[name] = off.where(~angle, (off + 180) % 360 - 180)
    groups = table.groupby(KEY)
    root = groups[["noise", "off", "standard_error", "by_white"]].agg(lambda d: np.sqrt(np.mean(d**2)))
    root["bias"] = np.sqrt(np.maximum(root["off"] ** 2 - root["noise"] ** 2, 0.0))
    root["ratio"] = root["noise"] / root["standard_error"]
    root["ratio_white"] = root["noise"] / root["by_white"]
    root["to_truth"] = root["off"] / root["standard_error"]
    root["part"] = [part_of(quantity) for _, quantity in root.index]
    return root.assign(cell=str(cell), kind=cell.kind).reset_index()


def summary(every: pd.DataFrame) -> Iterator[str]:
    """Medians by part, and how many ratios lie in the wanted range."""
    yield "| cell | " + " | ".join(PARTS) + " | in range |"
    yield "|" + "---|" * (len(PARTS) + 2)
    for cell, rows in every.groupby("cell", sort=False):
        by = rows.groupby("part")[["ratio", "ratio_white"]].median()
        shown = [f"{r:.2f} ({w:.2f})" for r, w in by.loc[list(PARTS)].itertuples(index=False)]
        yield (
            f"| {cell} | "
            + " | ".join(shown)
            + f" | {rows['ratio'].between(LOW, HIGH).sum()} of {len(rows)} |"
        )


def biased(every: pd.DataFrame) -> Iterator[str]:
    """Quantities whose error against the truth leaves the range though noise is predicted well."""
    rows = every[every["ratio"].between(LOW, HIGH) & ~every["to_truth"].between(LOW, HIGH)]
    yield "| quantity | events and cells | difference from the truth besides noise, by event |"
    yield "|---|---|---|"
    for quantity, some in rows[rows["kind"] == "white"].groupby("quantity", sort=False):
        by_event = some.groupby("event", sort=False)["bias"].median()
        words = ", ".join(f"{event} {bias:.2f}" for event, bias in by_event.items())
        yield f"| {quantity} | {len(some)} | {words} {QUANTITIES[quantity].unit} |"


TEXT = """# Calibration of posture's standard errors

Written by `python tests/calibration/posture_errors.py {swings}`: {swings} simulated swings of five golfers in each
cell. Each swing is smoothed with its own cut-offs and read at its true events. A ratio is the root mean square error
over the root mean square predicted standard error of one quantity at one event; a cell shows the median over the
pairs of a part, in brackets the ratio if white noise alone were predicted. Wanted: 0.7 to 1.4. The error is the
difference from the same swing without noise, smoothed by the same filter. With few swings chance alone scatters a
single ratio, and so the last column, by 1 / sqrt(2 swings); the medians are surer.

White: independent noise of one coordinate. Shared: 0.8 of each level coordinate's noise is common to all body markers,
heights have 0.6. Remembering: first-order autoregressive noise with a time constant of 20 ms. Soft tissue: each body
marker moves separately by 3 mm (root mean square of the vector) at 2 to 8 Hz. White, at 8 or 0.5 m/s: noise grows with
the marker's speed up to the second size, after four seconds at address.

## Error over standard error

{summary}

## Difference from the truth

What no standard error covers: smoothing near impact and the regressions of joint centres. Root mean square besides
noise, median over the cells of white noise whose ratio to the truth leaves the range.

{biased}
"""


def main(swings: int) -> None:
    """Measure every cell and write the tables."""
    found = []
    for cell in CELLS:
        found.append(errors_of(cell, swings))
        by = found[-1].groupby("part")["ratio"].median().round(2)
        print(cell, by.to_dict(), file=sys.stderr, flush=True)
    every = pd.concat(found)
    tables = {f.__name__: "\n".join(f(every)) for f in (summary, biased)}
    OUT.write_text(TEXT.format(swings=swings, **tables), encoding="utf-8")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 40)
