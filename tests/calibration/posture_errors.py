"""Posture of noisy made swings: true error beside predicted error, by rate and noise. Run by hand, some minutes.

    python tests/calibration/posture_errors.py [swings]

Each swing goes through a file's way (smoothing, cut-offs by residual analysis) and is read at its true events
with no timing error; the last block moves the events by a known error instead. The table it prints stands in
DEVELOPERS.md.
"""

from __future__ import annotations

import sys

import numpy as np
import pandas as pd

from swinglab.conventions import EVENTS
from swinglab.load import load_trial
from swinglab.records import Capture, Event, Events, Setup
from swinglab.segments import measure_at, measure_posture
from swinglab.simulate import Swing, make_golfer, make_swing

SETTINGS = [(rate, noise, 0.0) for rate in (60, 120, 240, 500) for noise in (0.5, 1.0, 2.0)]
SETTINGS += [(240, 1.0, 0.003)]
PARTS = ("pelvis", "thorax", "trunk", "separation", "knee", "elbow", "shaft")


def measure(swing: Swing, timing_s: float, random: np.random.Generator) -> pd.DataFrame:
    """One swing's quantities at events, with what is true and the part each belongs to."""
    names = tuple(name for name in swing.trial().landmarks if name != "ball")
    points = np.stack([swing.points[name] for name in names], axis=1)
    # The study frame is the laboratory's here: X to the target, Y up.
    capture = Capture("made", names, points, swing.rate_hz)
    setup = Setup(up="+Y", target="+X", ball_position=(0.0, 0.0, 0.0), unit="m", reference_behind_face_cm=0.0)
    trial = load_trial(capture, setup, swing=swing.name, golfer="G")
    found = []
    for name in EVENTS:
        off = random.normal(0.0, timing_s) if timing_s else 0.0
        found.append(Event(name, swing.true_events[name] + off, timing_s, "true"))
    table = measure_at(measure_posture(trial), Events(swing.name, "G", swing.rate_hz, tuple(found)))
    truth = swing.true_posture()
    table["true"] = [
        truth.get(e, {}).get(q, np.nan) for e, q in zip(table["event"], table["quantity"], strict=True)
    ]
    return table.dropna(subset=["value", "true", "standard_error"])


def part_of(quantity: str) -> str:
    """The row of the table that a quantity counts in."""
    if quantity.endswith("_cm"):
        return "positions"
    return next((part for part in PARTS if part in quantity.replace("pelvis_thorax_", "")), "")


def main(swings: int) -> None:
    """Print the table."""
    random = np.random.default_rng(20)
    golfers = [make_golfer(name=f"G{k}", stature_m=1.62 + 0.05 * k) for k in range(5)]
    rows = []
    for rate, noise_mm, timing_s in SETTINGS:
        tables = [
            measure(
                make_swing(golfers[k % 5], seed=1000 + k, rate_hz=rate, noise_m=noise_mm / 1000),
                timing_s,
                random,
            )
            for k in range(swings)
        ]
        table = pd.concat(tables)
        table = table[table["standard_error"] > 0]
        off = table["value"] - table["true"]
        # What a noise-free swing is off by is the smoothing's and the regressions' error, not noise.
        grouped = table.assign(off=off, part=table["quantity"].map(part_of)).groupby(
            ["part", "event", "quantity"]
        )
        errors = grouped.agg(rms=("off", lambda d: np.sqrt(np.mean(d**2))), bias=("off", "mean"),
                             spread=("off", "std"), predicted=("standard_error", "mean"))  # fmt: skip
        ratio = errors["spread"] / errors["predicted"]
        whole = errors["rms"] / errors["predicted"]
        for part, index in errors.groupby("part").groups.items():
            r, w = ratio[index], whole[index]
            rows.append((rate, noise_mm, 1000 * timing_s, part, errors.loc[index, "rms"].median(),
                         errors.loc[index, "predicted"].median(), r.median(), r.quantile(0.05), r.quantile(0.95),
                         w.median(), errors.loc[index, "bias"].abs().max()))  # fmt: skip
        print(rate, noise_mm, timing_s, "done", file=sys.stderr, flush=True)
    names = ["Hz", "noise mm", "timing ms", "part", "rms", "predicted", "spread/predicted", "5 %", "95 %",
             "rms/predicted", "largest bias"]  # fmt: skip
    print("| " + " | ".join(names) + " |\n" + "|---" * len(names) + "|")
    for row in rows:
        print("| " + " | ".join(f"{v:.3g}" if isinstance(v, float) else str(v) for v in row) + " |")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 40)
