"""Curves of a posture quantity over the whole swing, one for each swing."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from swinglab.errors import SwinglabError
from swinglab.segments.at_events import FROM_ADDRESS
from swinglab.study.measuring import Progress
from swinglab.study.opening import Study
from swinglab.study.swing import load_swing


def measure_curves(
    study: Study,
    swings: Sequence[str],
    quantity: str,
    time_s: np.ndarray,
    *,
    progress: Progress | None = None,
) -> np.ndarray:
    """Return a posture quantity over time for each swing, measured from its capture, with time relative to impact.

    Parameters
    ----------
    study : Study
    swings : sequence of str
        Names of the k swings.
    quantity : str
        Name of a posture quantity.
    time_s : numpy.ndarray, (n,)
        Seconds from impact, negative before it.
    progress : callable, optional
        Called with (swings done, swings in all, swing) after each swing.

    Returns
    -------
    numpy.ndarray, (k, n)
        Values in the quantity's unit, interpolated linearly between frames; NaN outside the capture, and all NaN for a
        swing that cannot be measured. As in posture.csv, positions are displacements from the position at address.
    """
    curves = np.full((len(swings), len(time_s)), np.nan)
    for place, swing in enumerate(swings):
        try:
            records = load_swing(study, str(swing))
            own, at = records.posture.curve(quantity), records.posture.time_s
            impact, address = records.events.time_s("impact"), records.events.time_s("address")
        except SwinglabError:
            own, at, impact, address = np.zeros(0), np.zeros(0), np.nan, np.nan
        if np.isfinite(impact) and len(at):
            start = np.interp(address, at, own) if quantity in FROM_ADDRESS else 0.0
            curves[place] = np.interp(np.asarray(time_s) + impact, at, own, left=np.nan, right=np.nan) - start
        if progress is not None:
            progress(place + 1, len(swings), str(swing))
    return curves
