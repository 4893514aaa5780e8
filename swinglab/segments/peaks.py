"""Peaks of angular velocities (turning speeds), interpolated between frames, and the effect of noise on them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import lru_cache
from typing import NamedTuple

import numpy as np

from swinglab.signals import gain

#: Number of random draws of the noise. The random error of a standard error is then 7 %, that of a probability at most
#: 0.05.
DRAWS = 100
#: Soft tissue moves slower than this (references/evidence/posture_errors.md).
TISSUE_HZ = 8.0


class Peaks(NamedTuple):
    """Largest values (k,) of k curves, and their times (k,) in s; NaN if a curve has none."""

    value: np.ndarray
    time_s: np.ndarray


class TurnNoise(NamedTuple):
    """A random error of an angle: its standard deviation sd_deg (deg) and its spectrum.

    cutoff_hz : the error is white noise after a low-pass filter with this cut-off; None for white noise without filter.
    """

    sd_deg: float
    cutoff_hz: float | None


def find_peaks(time_s: np.ndarray, curves: np.ndarray, window: np.ndarray) -> Peaks:
    """Return the largest value of each of k curves, (k, n), and its time, by a parabola through three frames.

    `time_s` : (n,). `window` : (n,) mask of the frames in which the peak is searched.
    """
    values, times = np.full((2, len(curves)), np.nan)
    if not len(window):
        return Peaks(values, times)
    inside = curves[:, window]
    top = window[np.argmax(np.where(np.isnan(inside), -np.inf, inside), axis=1)]
    seen = np.flatnonzero(np.isfinite(curves[np.arange(len(curves)), top]))
    top = top[seen]
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
    """Return the peaks of an angular velocity to which simulated noise was added, `DRAWS` times.

    `speed` : (n,) angular velocity without noise, deg/s. The SD of the returned peaks is the standard error of the
    peak. Noise is simulated because the time of a flat or double peak varies more than its curvature predicts.
    `noises` : independent parts of the error of the angle; if empty, the peaks are NaN. `rate` : function from angles
    (k, n) to angular velocities (k, n). `seed` : fixed, so that a swing always has the same standard errors.
    """
    if not noises or not np.isfinite(speed[window]).any() or any(np.isnan(one.sd_deg) for one in noises):
        return Peaks(*np.full((2, DRAWS), np.nan))
    length = 1 << (len(time_s) - 1).bit_length()
    rate_hz = (len(time_s) - 1) / (time_s[-1] - time_s[0])
    spectrum = _white_spectrum(seed, length) * _amplitude(noises, length, rate_hz)
    angle = np.fft.irfft(spectrum, length, axis=1)[:, : len(time_s)]
    return find_peaks(time_s, speed + rate(angle), window)


def _amplitude(noises: Sequence[TurnNoise], length: int, rate_hz: float) -> np.ndarray:
    """Factor (length // 2 + 1,) for each frequency of the spectrum of white noise with standard deviation 1.

    Multiplied by it, the white noise becomes the sum of the errors `noises`.
    """
    frequency = np.fft.rfftfreq(length, 1 / rate_hz)
    # All but the first and the last stand for two frequencies of the whole spectrum.
    worth = np.full(len(frequency), 2.0)
    worth[[0, -1]] = 1.0
    power = np.zeros(len(frequency))
    for one in noises:
        passed = np.ones(len(frequency))
        if one.cutoff_hz is not None and one.cutoff_hz < 0.49 * rate_hz:
            passed = gain(rate_hz, one.cutoff_hz, frequency) ** 2
        power += one.sd_deg**2 * passed * length / (worth @ passed)
    return np.sqrt(power)


@lru_cache(maxsize=8)
def _white_spectrum(seed: int, length: int) -> np.ndarray:
    """Spectra (DRAWS, length // 2 + 1) of white noise with standard deviation 1, the same for every swing."""
    white = np.fft.rfft(np.random.default_rng(seed).normal(size=(DRAWS, length)), axis=1)
    white.setflags(write=False)
    return white
