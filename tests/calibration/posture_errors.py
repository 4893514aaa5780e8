"""Posture of noisy made swings: true error beside predicted error, by rate and noise. Run by hand, some minutes.

    python tests/calibration/posture_errors.py [swings]

Each swing goes through a file's way (smoothing, cut-offs by residual analysis) and is read at its true events, in
one block at events moved by a known error. Two errors are told apart: off the same swing measured the same way
without noise and at its true events, which is what standard errors promise, and off the truth, which holds what
smoothing and the regressions of joint centres bring besides. In the last blocks markers share a level shake, or shake
the more the faster they move. The tables stand in references/evidence/posture_errors.md. Truth: made.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cache

import numpy as np
import pandas as pd

from swinglab.columns import QUANTITIES
from swinglab.conventions import EVENTS, SEGMENT_LANDMARKS
from swinglab.load import load_trial
from swinglab.records import Capture, Event, Events, Setup, Trial
from swinglab.segments import measure_at, measure_posture
from swinglab.signals import smooth
from swinglab.simulate import Golfer, Swing, make_golfer, make_swing

PARTS = ("pelvis", "thorax", "trunk", "separation", "knee", "elbow", "shaft")
LOW, HIGH = 0.8, 1.25
#: Of a shaken marker's level noise, the part that all markers have in common (of one standard deviation).
SHARED = 0.8
KEY = ["event", "quantity"]
#: From the start to impact in swings whose noise grows with speed: most of it is address.
LONG_BEFORE_S = 5.0


@dataclass(frozen=True)
class Cell:
    """One setting; shared says whether the markers shake together.

    moving_mm : the noise of a marker that moves at `at_mps` or faster, up to which noise grows with speed; 0 where it
    is steady. Such swings have an address of four seconds.
    """

    rate_hz: float
    noise_mm: float
    timing_ms: float = 0.0
    shared: bool = False
    moving_mm: float = 0.0
    at_mps: float = 1.0

    def __str__(self) -> str:
        shake = ", shared" if self.shared else ""
        if self.moving_mm:
            shake += f" to {self.moving_mm:g} mm at {self.at_mps:g} m/s"
        timing = f", {self.timing_ms:g} ms" if self.timing_ms else ""
        return f"{self.rate_hz:g} Hz, {self.noise_mm:g} mm{timing}{shake}"


CELLS = [Cell(rate, noise) for rate in (60, 120, 240, 500) for noise in (0.5, 1.0, 2.0)]
CELLS += [Cell(240, 1.0, 3.0), *(Cell(rate, 1.0, shared=True) for rate in (60, 240, 500))]
CELLS += [
    Cell(rate, still, moving_mm=moving, at_mps=at)
    for still, moving, at in ((0.4, 1.5, 8.0), (0.2, 0.4, 0.5), (0.2, 1.0, 0.5))
    for rate in (60, 120, 240, 500)
]


def make_noise(cell: Cell, exact: np.ndarray, random: np.random.Generator) -> np.ndarray:
    """Noise of the cell's size; where it is shared, level coordinates share a part and heights have the rest only."""
    sd, shape = cell.noise_mm / 1000, exact.shape
    if cell.moving_mm:
        speed = np.linalg.norm(np.gradient(exact, 1 / cell.rate_hz, axis=0), axis=2, keepdims=True)
        moving = np.minimum(speed / cell.at_mps, 1.0)
        return random.normal(0.0, 1.0, shape) * (sd + (cell.moving_mm / 1000 - sd) * moving)
    if not cell.shared:
        return random.normal(0.0, sd, shape)
    noise = random.normal(0.0, sd * np.sqrt(1 - SHARED**2), shape)
    noise[..., [0, 2]] += random.normal(0.0, sd * SHARED, (shape[0], 1, 2))
    return noise


def load(swing: Swing, cell: Cell, random: np.random.Generator) -> tuple[Trial, Trial]:
    """The swing with the cell's noise as a trial, and its exact points smoothed in the same way."""
    names = tuple(name for name in swing.trial().landmarks if name != "ball")
    exact = np.stack([swing.exact[name] for name in names], axis=1)
    noise = make_noise(cell, exact, random)
    # The study frame is the laboratory's here: X to the target, Y up.
    setup = Setup(up="+Y", target="+X", ball_position=(0.0, 0.0, 0.0), unit="m", reference_behind_face_cm=0.0)
    trial = load_trial(
        Capture("made", names, exact + noise, swing.rate_hz), setup, swing=swing.name, golfer="G"
    )
    shift = np.mean(trial.raw_m - exact - noise, axis=(0, 1))  # the origin lies on the turf under the ball
    still = exact + shift
    for segment, cutoff in trial.cutoff_hz.items():
        for k in [names.index(name) for name in SEGMENT_LANDMARKS[segment] if name in names]:
            still[:, k] = smooth(still[:, k].T, swing.rate_hz, cutoff).T
    none = np.zeros(len(names))
    return trial, replace(trial, points_m=still, raw_m=exact + shift, noise_m=none, noise_covariance=None)


def read(trial: Trial, times: dict[str, float], timing_s: float = 0.0) -> pd.DataFrame:
    """Quantities at events that have this timing error."""
    found = tuple(Event(name, times[name], timing_s, "true") for name in EVENTS)
    return measure_at(measure_posture(trial), Events(trial.swing, "G", trial.rate_hz, found))


def measure(swing: Swing, cell: Cell, random: np.random.Generator) -> pd.DataFrame:
    """One swing: value, predicted error (and as of independent and of steady noise), value without noise, truth."""
    trial, exact = load(swing, cell, random)
    timing_s, times = cell.timing_ms / 1000, swing.true_events
    moved = {name: time + (random.normal(0.0, timing_s) if timing_s else 0.0) for name, time in times.items()}
    table = read(trial, moved, timing_s)
    table["exact"] = read(exact, times)["value"]
    table["independent"] = np.nan
    if cell.shared:
        table["independent"] = read(replace(trial, noise_covariance=None), times)["standard_error"]
    table["steady"] = np.nan
    if cell.moving_mm:
        table["steady"] = read(replace(trial, noise_in_time=None), times)["standard_error"]
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
    """One row for each event and quantity: root-mean-square errors, predicted error, bias."""
    random, golfers = np.random.default_rng([20, CELLS.index(cell)]), make_golfers()
    before = LONG_BEFORE_S if cell.moving_mm else None
    made = (
        make_swing(golfers[k % 5], seed=1000 + k, rate_hz=cell.rate_hz, before_s=before)
        for k in range(swings)
    )
    table = pd.concat([measure(swing, cell, random) for swing in made])
    table = table[table["standard_error"] > 0]
    angle = table["unit"] == "deg"
    for name, other in (("noise", "exact"), ("off", "true")):
        off = table["value"] - table[other]
        table[name] = off.where(~angle, (off + 180) % 360 - 180)
    made_of = table.groupby(KEY)
    root = made_of[["noise", "off"]].agg(lambda d: np.sqrt(np.mean(d**2)))
    errors = root.join(made_of[["standard_error", "independent", "steady"]].mean())
    errors["bias"] = np.sqrt(np.maximum(errors["off"] ** 2 - errors["noise"] ** 2, 0.0))
    errors["ratio"] = errors["noise"] / errors["standard_error"]
    errors["to_truth"] = errors["off"] / errors["standard_error"]
    errors["as_independent"] = errors["noise"] / errors["independent"]
    errors["as_steady"] = errors["noise"] / errors["steady"]
    errors["part"] = [part_of(quantity) for _, quantity in errors.index]
    kind = "shared" if cell.shared else "moving" if cell.moving_mm else "steady"
    return errors.assign(cell=str(cell), kind=kind).reset_index()


def inside(ratio: pd.Series) -> pd.Series:
    """Whether a ratio lies in the wanted range."""
    return ratio.between(LOW, HIGH)


def summary(every: pd.DataFrame) -> Iterator[str]:
    """Medians by part, and how many ratios lie in the wanted range."""
    parts = [*PARTS, "positions"]
    yield "| cell | " + " | ".join(parts) + " | in range | off the truth in range |"
    yield "|" + "---|" * (len(parts) + 3)
    for cell, rows in every.groupby("cell", sort=False):
        by = rows.groupby("part")[["noise", "standard_error", "ratio"]].median()
        shown = [f"{n:.2f} / {s:.2f} ({r:.2f})" for n, s, r in by.loc[parts].itertuples(index=False)]
        counts = f"{inside(rows['ratio']).sum()} of {len(rows)} | {inside(rows['to_truth']).sum()}"
        yield f"| {cell} | " + " | ".join(shown) + f" | {counts} |"


def outside(every: pd.DataFrame) -> Iterator[str]:
    """Every quantity and event whose ratio lies outside in some cell."""
    rows = every[~inside(every["ratio"]) & (every["kind"] == "steady")]
    yield "| quantity | event | ratio by cell |"
    yield "|---|---|---|"
    for (quantity, event), some in rows.groupby(["quantity", "event"], sort=False):
        told = "; ".join(
            f"{cell}: {ratio:.2f}" for cell, ratio in zip(some["cell"], some["ratio"], strict=True)
        )
        yield f"| {quantity} | {event} | {told} |"


def biased(every: pd.DataFrame) -> Iterator[str]:
    """Quantities whose error off the truth leaves the range though noise is predicted well, with what is besides."""
    rows = every[~inside(every["to_truth"]) & inside(every["ratio"]) & (every["kind"] == "steady")]
    yield "| quantity | events and cells | off the truth besides noise, by event |"
    yield "|---|---|---|"
    for quantity, some in rows.groupby("quantity", sort=False):
        unit = QUANTITIES[quantity].unit
        by_event = some.groupby("event", sort=False)["bias"].median()
        told = ", ".join(f"{event} {bias:.2f}" for event, bias in by_event.items())
        yield f"| {quantity} | {len(some)} | {told} {unit} |"


def together(every: pd.DataFrame) -> Iterator[str]:
    """Ratios where markers shake together, beside what independent noise would have predicted."""
    yield (
        "| cell | part | ratio: least, median, most | as independent: least, median, most | in range "
        "| as independent |"
    )
    yield "|---|---|---|---|---|---|"
    for (cell, part), rows in every[every["kind"] == "shared"].groupby(["cell", "part"], sort=False):
        ranges = [
            f"{r.min():.2f}, {r.median():.2f}, {r.max():.2f}" for r in (rows["ratio"], rows["as_independent"])
        ]
        counts = [f"{inside(r).sum()} of {len(r)}" for r in (rows["ratio"], rows["as_independent"])]
        yield f"| {cell} | {part} | " + " | ".join([*ranges, *counts]) + " |"


def in_motion(every: pd.DataFrame) -> Iterator[str]:
    """Ratios by event where noise grows with speed, beside what steady noise would have predicted."""
    yield "| cell | " + " | ".join(EVENTS) + " | in range | as steady |"
    yield "|" + "---|" * (len(EVENTS) + 3)
    for cell, rows in every[every["kind"] == "moving"].groupby("cell", sort=False):
        by = rows.groupby("event")[["ratio", "as_steady"]].median()
        shown = [f"{r:.2f} ({s:.2f})" for r, s in by.loc[list(EVENTS)].itertuples(index=False)]
        counts = [f"{inside(r).sum()} of {len(r)}" for r in (rows["ratio"], rows["as_steady"])]
        yield f"| {cell} | " + " | ".join([*shown, *counts]) + " |"


def main(swings: int, raw: str | None) -> None:
    """Print the tables, and keep every row where a file is named."""
    found = []
    for cell in CELLS:
        found.append(errors_of(cell, swings))
        print(cell, "done", file=sys.stderr, flush=True)
    every = pd.concat(found)
    if raw:
        every.to_csv(raw, index=False)
    for title, rows in (("Errors and predictions", summary), ("Outside the range", outside),
                        ("Off the truth", biased), ("Markers that shake together", together),
                        ("Noise that grows with speed", in_motion)):  # fmt: skip
        print(f"\n## {title}\n\n" + "\n".join(rows(every)))


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 40, sys.argv[2] if len(sys.argv) > 2 else None)
