"""Timing and peak angular velocities of a swing: quantities with one value for the whole swing."""

from __future__ import annotations

import numpy as np

from swinglab.columns import error_column_name
from swinglab.records import Events, Posture, Trial
from swinglab.segments.noise import PointErrors, point_errors
from swinglab.segments.peaks import DRAWS, Peaks, find_peaks, peaks_of_noisy
from swinglab.segments.turning_speeds import (
    PARTS,
    noise_rate,
    swing_plane_normal,
    turn_noises,
    turning_speed,
    without_noise,
)

#: Frames needed outside the window of the peaks to compute the speeds at its ends.
_BESIDE = 12


def measure_swing(posture: Posture, events: Events, trial: Trial | None = None) -> dict[str, float]:
    """Return durations, and peak angular velocities with their times, of one swing.

    Parameters
    ----------
    posture : Posture
        A swing, frame by frame.
    events : Events
        The events of the same swing.
    trial : Trial, optional
        Landmarks of the same swing, from whose errors the standard errors of peaks are computed; without it, these are
        NaN.

    Returns
    -------
    dict
        Every quantity of ``columns.SWINGS`` and its standard error, by the names of their columns; NaN if it cannot be
        measured. Units are seconds, degrees and degrees per second. Times of peaks are relative to impact, negative
        before it.

    Notes
    -----
    Sign: angular velocities are positive toward the target. Those of pelvis and thorax are about their own long axes,
    those of lead arm and club about the normal of the plane that fits the path of the clubhead best from delivery to
    impact.

    Peaks are interpolated between frames and searched in the downswing, from top to impact: in the follow-through the
    lead arm can turn faster than before. The velocity of the club changes suddenly at impact; it is fitted separately
    before and after impact.
    Standard errors of durations are computed from those of the events; the standard error of the largest separation of
    pelvis and thorax is that of this angle at its peak. Standard errors of peaks and of their times are computed from
    random draws of the errors of the landmarks (for times, the error of impact is added). They do not include the bias
    of the filter at a peak.
    `peak_order_probability` is the share of draws in which the peaks occur in the order pelvis, thorax, lead arm, club.

    Examples
    --------
    >>> measure_swing(posture, events)["downswing_time_s"]  # doctest: +SKIP
    0.262
    """
    found = _times(events) | _separation(posture, events)
    window = _frames_between(posture.time_s, events.time_s("top"), events.time_s("impact"))
    found |= _peak_speeds(posture, events, window, trial)
    return found


def _peak_speeds(
    posture: Posture, events: Events, window: np.ndarray, trial: Trial | None
) -> dict[str, float]:
    """Peaks of the turning speeds with standard errors, and the probability of their order."""
    impact = events.time_s("impact")
    normal = swing_plane_normal(posture, events)
    found, drawn_times = dict[str, float](), []
    errors = None if trial is None else point_errors(trial)
    for part in PARTS:
        speed = turning_speed(posture, part, normal, impact)
        value, time_s = (float(one[0]) for one in find_peaks(posture.time_s, speed[None], window))
        drawn = Peaks(*np.full((2, DRAWS), np.nan))
        if trial is not None and errors is not None and len(window):
            drawn = _drawn_peaks(posture, trial, errors, part, speed, window, impact)
        stem = f"{part}_peak_axial_speed"
        found |= _peak(stem, "dps", value, time_s - impact)
        value_error, time_error = (float(np.sqrt(np.mean(moved**2))) for moved in drawn)
        found[error_column_name(f"{stem}_dps")] = value_error
        of_impact = events["impact"].standard_error_s
        found[error_column_name(f"{stem}_time_s")] = float(np.hypot(time_error, of_impact))
        drawn_times.append(time_s + drawn.time_s)
    times = np.array(drawn_times)
    known = np.isfinite(times).all()
    in_order = float((np.diff(times, axis=0) > 0).all(axis=0).mean()) if known else float("nan")
    return found | {"peak_order_probability": in_order}


def _drawn_peaks(
    posture: Posture, trial: Trial, errors: PointErrors, part: str, speed: np.ndarray, window: np.ndarray,
    impact: float,
) -> Peaks:  # fmt: skip
    """Deviation of a part's peak (value and time) from the noise-free peak in each draw of the noise.

    Deviations are not taken from the mean of the draws, because noise increases the maximum of a curve.
    """
    near = slice(max(window[0] - _BESIDE, 0), window[-1] + _BESIDE)
    time_s, window = posture.time_s[near], window - near.start
    calm = without_noise(part, speed[near], time_s, impact)
    drawn = peaks_of_noisy(
        time_s, calm, window, turn_noises(posture, trial, errors, part, near), noise_rate(part, time_s, impact),
        seed=list(PARTS).index(part),
    )  # fmt: skip
    still = find_peaks(time_s, calm[None], window)
    return Peaks(drawn.value - still.value, drawn.time_s - still.time_s)


def _peak(stem: str, unit_name: str, value: float, from_impact_s: float) -> dict[str, float]:
    return {f"{stem}_{unit_name}": value, f"{stem}_time_s": from_impact_s}


def _times(events: Events) -> dict[str, float]:
    found = {}
    for name, first, last in (
        ("backswing_time_s", "takeaway", "top"),
        ("downswing_time_s", "top", "impact"),
    ):
        found[name] = events.time_s(last) - events.time_s(first)
        found[error_column_name(name)] = float(
            np.hypot(events[first].standard_error_s, events[last].standard_error_s)
        )
    return found


def _separation(posture: Posture, events: Events) -> dict[str, float]:
    """Largest pelvis-thorax separation between takeaway and impact, its time, and its excess over that at the top."""
    name, stem = "pelvis_thorax_separation_deg", "pelvis_thorax_peak_separation"
    missing = np.full(len(posture.time_s), np.nan)
    there = name in posture.quantities
    curve = posture.curve(name) if there else missing
    takeaway, impact = events.time_s("takeaway"), events.time_s("impact")
    window = _frames_between(posture.time_s, takeaway, impact)
    peak = find_peaks(posture.time_s, curve[None], window)
    value, time_s = float(peak.value[0]), float(peak.time_s[0])
    errors = posture.standard_errors[:, posture.quantities.index(name)] if there else missing
    peak_error, top_error = np.interp([time_s, events.time_s("top")], posture.time_s, errors)
    found = _peak(stem, "deg", value, time_s - impact) | {error_column_name(f"{stem}_deg"): float(peak_error)}
    at_top = float(np.interp(events.time_s("top"), posture.time_s, curve))
    found["pelvis_thorax_stretch_deg"] = found[f"{stem}_deg"] - at_top
    found[error_column_name("pelvis_thorax_stretch_deg")] = float(np.hypot(peak_error, top_error))
    return found


def _frames_between(time_s: np.ndarray, first: float, last: float) -> np.ndarray:
    """Indices of the frames from the time `first` (s) to `last`; none if one of them is NaN."""
    return np.flatnonzero((time_s >= first) & (time_s <= last))
