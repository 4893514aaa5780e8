"""Peaks of turning speeds between frames, and what the errors of the points do to them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import NamedTuple

import numpy as np

from swinglab.signals import gain

#: Draws of the noise. They scatter a standard error by a fifteenth, a probability by at most 0.05.
DRAWS = 100
#: Soft tissue moves slower than this (references/evidence/posture_errors.md).
TISSUE_HZ = 8.0


class Peaks(NamedTuple):
    """(k,) largest values of k curves and their times (s); NaN where there is none."""

    value: np.ndarray
    time_s: np.ndarray


class TurnNoise(NamedTuple):
    """An error of an angle: its standard deviation (deg) and its spectrum.

    cutoff_hz : white noise that went through smoothing with this cut-off; None = not smoothed.
    """

    sd_deg: float
    cutoff_hz: float | None


def find_peaks(time_s: np.ndarray, curves: np.ndarray, window: np.ndarray) -> Peaks:
    """The largest value of each curve (k, n) among the frames of a window, by a parabola through three frames."""
    values, times = np.full((2, len(curves)), np.nan)
    inside = curves[:, window]
    seen = np.flatnonzero(np.isfinite(inside).any(axis=1))
    if not len(seen):
        return Peaks(values, times)
    top = window[np.nanargmax(inside[seen], axis=1)]
    beside = np.clip(top[:, None] + [-1, 0, 1], 0, curves.shape[1] - 1)
    before, at, after = curves[seen[:, None], beside].T
    bend = before - 2.0 * at + after
    with np.errstate(invalid="ignore", divide="ignore"):
        inner = (bend < 0) & (at > before) & (at > after)
        place = np.where(inner, 0.5 * (before - after) / bend, 0.0)
    values[seen] = at - np.where(inner, 0.25 * (before - after) * place, 0.0)
    step = (time_s[-1] - time_s[0]) / (len(time_s) - 1)
    times[seen] = time_s[top] + place * step
    return Peaks(values, times)


def peaks_of_noisy(
    time_s: np.ndarray, speed: np.ndarray, window: np.ndarray, noises: Sequence[TurnNoise],
    rate: Callable[[np.ndarray], np.ndarray], seed: int,
) -> Peaks:  # fmt: skip
    """Peaks of a speed (n,) free of noise with that of its angle added, `DRAWS` times: how far they move is the peak's
    error.

    A flat or double peak moves farther than its curvature says, so that the noise is drawn. noises : independent
    errors that add up to the angle's; NaN peaks without any. rate : from angles (k, n) to speeds. seed : fixed, so that
    a swing always gives the same errors.
    """
    if not noises or not np.isfinite(speed[window]).any() or any(np.isnan(one.sd_deg) for one in noises):
        return Peaks(*np.full((2, DRAWS), np.nan))
    random = np.random.default_rng(seed)
    rate_hz = (len(time_s) - 1) / (time_s[-1] - time_s[0])
    angle = np.zeros((DRAWS, len(time_s)))
    for one in noises:
        angle += one.sd_deg * _smooth_noise(random, len(time_s), rate_hz, one.cutoff_hz)
    return find_peaks(time_s, speed + rate(angle), window)


def _smooth_noise(
    random: np.random.Generator, frames: int, rate_hz: float, cutoff_hz: float | None
) -> np.ndarray:
    """(DRAWS, frames) noise of standard deviation 1 as smoothing leaves it."""
    white = random.normal(size=(DRAWS, frames))
    if cutoff_hz is None or cutoff_hz >= 0.49 * rate_hz:
        return white
    passed = gain(rate_hz, cutoff_hz, np.fft.rfftfreq(frames, 1 / rate_hz))
    left = np.fft.irfft(np.fft.rfft(white, axis=1) * passed, frames, axis=1)
    return left / left.std()
