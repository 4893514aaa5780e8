"""Bias of the low-pass filter in fast motion, estimated by smoothing a second time."""

from __future__ import annotations

from collections.abc import Mapping
from functools import partial

import numpy as np

from swinglab.conventions import SEGMENT_LANDMARKS
from swinglab.records import Trial
from swinglab.signals import filter_stretches, smooth, white_noise_passed

#: Bias of the smoothing, divided by the displacement of a point by a second smoothing. Where speed is lost abruptly,
#: the second smoothing moves a point by 0.3 to 0.4 of the displacement by the first; in motion that is slow for the
#: filter, it moves the point by as much as the first.
BIAS_OVER_SECOND = 3.0


def cutoffs_by_landmark(trial: Trial) -> dict[str, float]:
    """Return landmark -> cut-off frequency (Hz) of its smoothing; landmarks that were not smoothed are left out."""
    return {name: hz for segment, hz in trial.cutoff_hz.items() for name in SEGMENT_LANDMARKS[segment]}


def smoothed_again(trial: Trial, points: Mapping[str, np.ndarray]) -> dict[str, np.ndarray]:
    """Return the landmarks after smoothing a second time: landmark -> (n_frames, 3); club and ball are unchanged.

    When the hands suddenly lose speed at impact, a low-pass filter distorts their path. The change by the second
    smoothing is an estimate of the bias of the first ("twicing", Tukey 1977).
    """
    cutoffs, again = cutoffs_by_landmark(trial), dict(points)
    for cutoff in sorted({cutoffs[name] for name in points if name in cutoffs}):
        if white_noise_passed(trial.rate_hz, cutoff) == 1.0:  # a cut-off so high that nothing was smoothed
            continue
        names = [name for name in points if cutoffs.get(name) == cutoff]
        filtered = partial(smooth, rate_hz=trial.rate_hz, cutoff_hz=cutoff)
        both = filter_stretches(np.stack([points[name] for name in names], axis=1), filtered)
        again |= dict(zip(names, both.transpose(1, 0, 2), strict=True))
    return again
