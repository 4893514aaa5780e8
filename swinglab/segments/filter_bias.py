"""Bias of the low-pass filter in fast motion, estimated by smoothing a second time."""

from __future__ import annotations

from collections.abc import Mapping
from functools import partial

import numpy as np

from swinglab.conventions import SEGMENT_LANDMARKS
from swinglab.records import Trial
from swinglab.signals import filter_stretches, smooth, white_noise_passed

#: Where speed is lost abruptly, a second smoothing moves a point by 0.3 to 0.4 of the displacement of the first; where
#: the motion is slower than the filter, by as much as the first.
BIAS_OVER_SECOND = 3.0


def cutoffs_by_landmark(trial: Trial) -> dict[str, float]:
    """Cut-off frequency (Hz) with which each landmark was smoothed, by landmark."""
    return {name: hz for segment, hz in trial.cutoff_hz.items() for name in SEGMENT_LANDMARKS[segment]}


def smoothed_again(trial: Trial, points: Mapping[str, np.ndarray]) -> dict[str, np.ndarray]:
    """Points (n_frames, 3) by landmark after a second smoothing; points of club and ball are unchanged.

    Where the hands lose speed at impact, a low-pass filter rounds off their path. The change made by the second pass
    estimates the bias of the first ("twicing", Tukey 1977).
    """
    cutoffs, again = cutoffs_by_landmark(trial), dict(points)
    for cutoff in sorted({cutoffs[name] for name in points if name in cutoffs}):
        if white_noise_passed(trial.rate_hz, cutoff) == 1.0:  # so high that nothing was smoothed
            continue
        names = [name for name in points if cutoffs.get(name) == cutoff]
        filtered = partial(smooth, rate_hz=trial.rate_hz, cutoff_hz=cutoff)
        both = filter_stretches(np.stack([points[name] for name in names], axis=1), filtered)
        again |= dict(zip(names, both.transpose(1, 0, 2), strict=True))
    return again
