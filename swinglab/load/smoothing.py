"""Cut-off frequency of the low-pass filter for body points, by residual analysis (Winter 2009)."""

from __future__ import annotations

from functools import lru_cache
from typing import NamedTuple

import numpy as np

from swinglab.conventions import SEGMENT_LANDMARKS
from swinglab.signals.filters import SHORTEST_STRETCH, smooth

#: Lowest cut-offs that do not change posture in the downswing, and the largest cut-off as a share of the frame rate.
TRUNK_FLOOR_HZ, ARM_FLOOR_HZ, HIGHEST_PART = 12.0, 15.0, 0.2
#: A capture is static if it has at least this length and every marker stays within this distance (chosen limits).
STILL_M, STILL_FOR_S = 0.03, 1.0
#: This many frames are enough to decide whether a capture is static.
_FRAMES_FOR_STILL = 200
#: Duration around contact that is used for residual analysis.
BEFORE_CONTACT_S, AFTER_CONTACT_S = 0.4, 0.25
#: Cut-offs, as shares of the frame rate, whose residual consists of noise alone.
_NOISE_ONLY = np.linspace(0.25, 0.4, 6)
#: Longer windows are filtered directly, because the time of a matrix product grows with the square of their length.
MOST_IN_MATRIX = 300
#: No camera system has less noise (m) than this; points with less noise were smoothed before.
_SMOOTHED_M = 1e-5


# --- residual analysis -------------------------------------------------------------------------------------


def residual_cutoffs(columns: np.ndarray, rate_hz: float) -> np.ndarray:
    """Return the cut-off frequency (Hz) of each signal by residual analysis, (n_columns,).

    `columns` : (n_columns, n_samples) signals without NaN. The root-mean-square residual between filtered and raw
    signal is a function of the cut-off. A line through its straight part, where the residual is only noise, is
    extrapolated to 0 Hz. The result is the cut-off at which the residual equals the value of this line at 0 Hz.
    """
    grid, tail = _cutoffs_tried(rate_hz), _NOISE_ONLY * rate_hz
    if columns.shape[1] <= MOST_IN_MATRIX:
        apart = (_residual_matrix(columns.shape[1], rate_hz) @ columns.T).reshape(
            len(grid), *columns.shape[::-1]
        )
        residuals = np.sqrt(np.mean(apart**2, axis=1))
    else:
        residuals = np.stack(
            [np.sqrt(np.mean((columns - smooth(columns, rate_hz, cutoff)) ** 2, axis=-1)) for cutoff in grid]
        )
    noise, _ = np.polynomial.polynomial.polyfit(tail, residuals[-len(tail) :], 1)
    below = residuals <= noise
    first = np.where(below.any(axis=0), below.argmax(axis=0), len(grid) - 1)
    previous = np.maximum(first - 1, 0)
    across = np.arange(columns.shape[0])
    high, low = residuals[previous, across], residuals[first, across]
    share = np.ones_like(noise)
    np.divide(high - noise, high - low, out=share, where=high > low)
    return grid[previous] + np.clip(share, 0, 1) * (grid[first] - grid[previous])


def _cutoffs_tried(rate_hz: float) -> np.ndarray:
    """Cut-offs (Hz) of residual analysis: those that can be chosen, then those whose residual is only noise."""
    usable = np.linspace(min(4.0, 0.1 * rate_hz), HIGHEST_PART * rate_hz, 12)
    return np.concatenate([usable, _NOISE_ONLY * rate_hz])


@lru_cache(maxsize=4)
def _residual_matrix(samples: int, rate_hz: float) -> np.ndarray:
    """Matrix (cut-offs x samples, samples) that converts samples to their residuals at every cut-off.

    The filter is linear. For the window of a swing, one product takes a third of the time of 18 filters.
    """
    whole = np.eye(samples)
    return np.concatenate([whole - smooth(whole, rate_hz, cutoff).T for cutoff in _cutoffs_tried(rate_hz)])


def floor_hz(segment: str) -> float:
    """Return the lowest cut-off frequency (Hz) for a segment: 15 for arms and hands, 12 for other segments."""
    return ARM_FLOOR_HZ if segment.startswith(("arm", "hand")) else TRUNK_FLOOR_HZ


class Cutoffs(NamedTuple):
    """Cut-off frequencies: hz : segment -> cut-off in Hz. warnings : about segments that are smoothed too much."""

    hz: dict[str, float]
    warnings: tuple[str, ...]


def stands_still(points: np.ndarray, rate_hz: float) -> bool:
    """Return whether a capture is static: it lasts 1 s or more, and all points stay within 3 cm in 98 % of the frames.

    `points` : (n_frames, k, 3) in metres.
    """
    if len(points) < STILL_FOR_S * rate_hz:
        return False
    some = points[:: max(1, len(points) // _FRAMES_FOR_STILL)]
    seen = some[:, np.isfinite(some).all(axis=2).any(axis=0)]
    if not seen.size:
        return False
    whole = np.isfinite(seen).all(axis=(0, 2))
    # Most captures are not static. Markers without gaps show this faster, because numpy needs more time with NaN.
    for part, percentile in ((seen[:, whole], np.percentile), (seen[:, ~whole], np.nanpercentile)):
        if part.size:
            # The coordinate with the largest range is checked first, because it nearly always decides.
            columns = part.reshape(len(part), -1)
            for some_columns in (columns[:, [np.argmax(np.ptp(columns, axis=0))]], columns):
                low, high = percentile(some_columns, [1, 99], axis=0)
                if not (high - low).max() < STILL_M:
                    return False
    return True


def choose_cutoffs(
    names: tuple[str, ...], points: np.ndarray, rate_hz: float, middle_s: float | None, wanted: float | str
) -> Cutoffs:
    """Return the cut-off frequency of the low-pass filter for each segment.

    `names`, `points` : landmarks and their positions (n_frames, n_landmarks, 3) in metres. `middle_s` : time of
    contact, None if unknown; residual analysis uses the frames around it. `wanted` : "residual" or a cut-off (Hz). With
    "residual", every coordinate of the segment's landmarks has a cut-off by residual analysis, and the largest of these
    is used, but at least `floor_hz(segment)`. In both cases the cut-off is at most 0.2 times the frame rate.
    """
    members = {
        segment: [k for k, name in enumerate(names) if name in stems]
        for segment, stems in SEGMENT_LANDMARKS.items()
    }
    members = {segment: places for segment, places in members.items() if places}
    highest = HIGHEST_PART * rate_hz
    if isinstance(wanted, str):
        found = _residual_by_segment(members, points, rate_hz, middle_s)
        cutoffs = {s: min(max(found.get(s, 0.0), floor_hz(s)), highest) for s in members}
    else:
        cutoffs = {s: min(float(wanted), highest) for s in members}
    warnings = []
    if any(floor_hz(s) > highest + 1e-9 for s in members):
        what = (
            "arm and hand quantities"
            if highest >= TRUNK_FLOOR_HZ
            else "posture in the downswing, arms most of all,"
        )
        warnings.append(
            f"at a frame rate of {rate_hz:g} Hz the cut-off is at most {highest:.3g} Hz, so {what} are smoothed more "
            "than they should be"
        )
    return Cutoffs(cutoffs, tuple(warnings))


def _residual_by_segment(
    members: dict[str, list[int]], points: np.ndarray, rate_hz: float, middle_s: float | None
) -> dict[str, float]:
    window = points
    if middle_s is not None:
        first = max(0, round((middle_s - BEFORE_CONTACT_S) * rate_hz))
        window = points[first : round((middle_s + AFTER_CONTACT_S) * rate_hz) + 1]
    if len(window) < 2 * SHORTEST_STRETCH:
        return {}
    places = [k for some in members.values() for k in some]
    whole = [k for k in places if np.isfinite(window[:, k]).all()]
    if not whole:
        return {}
    columns = window[:, whole].transpose(1, 2, 0).reshape(3 * len(whole), -1)
    largest = residual_cutoffs(np.ascontiguousarray(columns), rate_hz).reshape(-1, 3).max(axis=1)
    by_place = dict(zip(whole, largest, strict=True))
    return {
        segment: float(max(by_place[k] for k in some if k in by_place))
        for segment, some in members.items()
        if any(k in by_place for k in some)
    }


def warn_of_smoothed_points(noise_m: np.ndarray) -> list[str]:
    """Return a list with a warning if most points have less noise than any measurement system; otherwise empty.

    `noise_m` : (k,) standard deviation of the noise of one coordinate, in metres.
    """
    seen = noise_m[np.isfinite(noise_m)]
    if not len(seen) or np.median(seen) >= _SMOOTHED_M:
        return []
    return [
        f"the noise of the points is only {1000 * np.median(seen):.1g} mm: they were smoothed before (or simulated "
        "without noise), so standard errors from noise are too small"
    ]
