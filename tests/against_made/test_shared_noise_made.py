"""Made swings whose markers shake together, from samples to values at events: errors as predicted; truth: made."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd

from swinglab.conventions import EVENTS
from swinglab.load import load_trial
from swinglab.records import Capture, Event, Events, Setup, Trial
from swinglab.segments import measure_at, measure_posture
from swinglab.simulate import make_golfer, make_swing

SETUP = Setup(up="+Y", target="+X", ball_position=(0.0, 0.0, 0.0), unit="m", reference_behind_face_cm=0.0)


def test_errors_hold_where_markers_shake_together() -> None:
    """Ten captures of one swing, level shake of 1 mm in common: pooled ratios near 1, off by 1.5 as independent."""
    swing = make_swing(make_golfer(), seed=4)
    names = tuple(name for name in swing.trial().landmarks if name != "ball")
    exact = np.stack([swing.exact[name] for name in names], axis=1)
    rng = np.random.default_rng(12)
    events = Events(
        "s", "G", swing.rate_hz, tuple(Event(e, swing.true_events[e], 0.0, "true") for e in EVENTS)
    )

    def read(trial: Trial) -> pd.DataFrame:
        return measure_at(measure_posture(trial), events).set_index(["event", "quantity"])

    values, together, apart = [], [], []
    for _ in range(10):
        shake = rng.normal(0, 0.0006, exact.shape)
        shake[..., [0, 2]] += rng.normal(0, 0.0008, (len(exact), 1, 2))
        trial = load_trial(Capture("m", names, exact + shake, swing.rate_hz), SETUP, swing="s", golfer="G")
        table = read(trial)
        values.append(table["value"])
        together.append(table["standard_error"])
        apart.append(read(replace(trial, noise_covariance=None))["standard_error"])
    scatter = pd.concat(values, axis=1).std(axis=1, ddof=1)
    for found, low, high in ((together, 0.85, 1.15), (apart, 0.0, 0.75)):
        ratio = _pooled(
            scatter, found, lambda q: q.endswith("_deg") and q.startswith(("pelvis", "thorax", "trunk"))
        )
        assert low < ratio < high, ratio
    for found, low, high in ((together, 0.8, 1.2), (apart, 1.4, 2.5)):
        ratio = _pooled(scatter, found, lambda q: "_centre_toward_" in q)
        assert low < ratio < high, ratio


def _pooled(scatter: pd.Series, predicted: list[pd.Series], wanted) -> float:
    """Root-mean-square of scatter over predicted error, over the quantities that are wanted at all events."""
    mean = pd.concat(predicted, axis=1).mean(axis=1)
    keep = np.array([bool(wanted(q)) for _, q in scatter.index]) & (mean > 0) & scatter.notna()
    return float(np.sqrt(np.mean((scatter[keep] / mean[keep]) ** 2)))
