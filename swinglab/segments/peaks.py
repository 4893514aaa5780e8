"""Peaks of turning speeds between frames, and what the errors of the points do to them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import lru_cache
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
    """Peaks of a speed (n,) free of noise with that of its angle added, `DRAWS` times: how far they move is the peak's
    error.

    A flat or double peak moves farther than its curvature says, so that the noise is drawn. noises : independent
    errors that add up to the angle's; NaN peaks without any. rate : from angles (k, n) to speeds. seed : fixed, so that
    a swing always gives the same errors.
    """
    if not noises or not np.isfinite(speed[window]).any() or any(np.isnan(one.sd_deg) for one in noises):
        return Peaks(*np.full((2, DRAWS), np.nan))
    length = 1 << (len(time_s) - 1).bit_length()
    rate_hz = (len(time_s) - 1) / (time_s[-1] - time_s[0])
    spectrum = _white_spectrum(seed, length) * _amplitude(noises, length, rate_hz)
    angle = np.fft.irfft(spectrum, length, axis=1)[:, : len(time_s)]
    return find_peaks(time_s, speed + rate(angle), window)


def _amplitude(noises: Sequence[TurnNoise], length: int, rate_hz: float) -> np.ndarray:
    """(length // 2 + 1,) what white noise of standard deviation 1 is multiplied by at each frequency to become the sum
    of these errors."""
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
    """(DRAWS, length // 2 + 1) spectra of white noise of standard deviation 1, the same for every swing."""
    white = np.fft.rfft(np.random.default_rng(seed).normal(size=(DRAWS, length)), axis=1)
    white.setflags(write=False)
    return white
