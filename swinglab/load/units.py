"""Unit of length of a capture: as stated in the file, otherwise determined from the size of the body."""

from __future__ import annotations

import numpy as np

from swinglab.conventions import NO_SCALE
from swinglab.records import Capture

#: Factor from a unit to metres. A capture with unit "none" is scaled to a body of usual size (see `metres_in`), so
#: that the event search can use speeds.
METRES = {"m": 1.0, "cm": 0.01, "mm": 0.001, NO_SCALE: 1.0}
_USUAL_BODY_M = 1.25  # result of `body_size` for a person at address
_SPELLINGS = {
    "m": ("m", "meter", "meters", "metre", "metres"),
    "cm": ("cm", "centimeter", "centimeters", "centimetre", "centimetres"),
    "mm": ("mm", "millimeter", "millimeters", "millimetre", "millimetres"),
}
_BY_SPELLING = {spelling: unit for unit, spellings in _SPELLINGS.items() for spelling in spellings}
#: A body with its club spans about 0.5 to 4 m; the borders between units lie midway, in powers of ten.
_LARGEST_M, _LARGEST_CM = 14.0, 450.0
#: Range of plausible sizes; outside it a stated unit is doubted.
_SMALLEST_BODY_M, _LARGEST_BODY_M = 0.1, 12.0


def unit_named(text: str) -> str | None:
    """Return the unit (m, cm or mm) for a spelling of its name; None if it is not known.

    Examples
    --------
    >>> unit_named("Millimetres"), unit_named("mm  "), unit_named("furlong")
    ('mm', 'mm', None)
    """
    return _BY_SPELLING.get(text.strip().lower())


def body_size(points: np.ndarray) -> float:
    """Return the largest extent of the points along an axis, as the median over frames; NaN without any point.

    The extent is the range from the 10th to the 90th percentile of the points. `points` : (n_frames, n_points, 3); the
    result has the same unit.
    """
    step = max(1, len(points) // 50)
    some = points[::step]
    seen = np.isfinite(some).all(axis=-1).sum(axis=1) >= 2
    if not seen.any():
        return float("nan")
    # A tenth of the points is left out at each end of each axis: ghost markers and model outputs stored as points.
    low, high = (_at_share(np.sort(some[seen], axis=1), share) for share in (0.1, 0.9))
    return float(np.median((high - low).max(axis=-1)))


def _at_share(ordered: np.ndarray, share: float) -> np.ndarray:
    """Percentiles (n_frames, 3) of points (n_frames, n_points, 3) that are sorted by coordinate with NaN last.

    `share` : 0 to 1. The result is that of ``numpy.nanpercentile``, but about twenty times as fast, because numpy calls
    Python for each frame and axis.
    """
    place = share * (np.isfinite(ordered).sum(axis=1, keepdims=True) - 1)
    below = place.astype(int)
    low, high = (np.take_along_axis(ordered, k, axis=1) for k in (below, np.ceil(place).astype(int)))
    return (low + (place - below) * (high - low))[:, 0]


def metres_in(unit: str, points: np.ndarray) -> float:
    """Return the factor from a unit to metres; for "none", the factor with which the body has a usual size.

    `points` : (n_frames, n_points, 3) in this unit.
    """
    if unit != NO_SCALE:
        return METRES[unit]
    size = body_size(points)
    return _USUAL_BODY_M / size if size > 0 else 1.0


def unit_of(capture: Capture) -> float:
    """Return the length in metres of one unit of a capture file, by which lengths in its unit are multiplied."""
    return capture.unit_m if capture.unit == NO_SCALE else METRES[capture.unit]


def judge_unit(points: np.ndarray) -> str:
    """Return the unit in which the points (n_frames, n_points, 3) have the size of a body; "m" if it is not clear."""
    size = body_size(points)
    if not np.isfinite(size) or size < _LARGEST_M:
        return "m"
    return "cm" if size < _LARGEST_CM else "mm"


def doubt_unit(points_m: np.ndarray, unit: str) -> str | None:
    """Return a warning if the points do not have the size of a human body in the stated unit, otherwise None.

    `points_m` : (n_frames, n_points, 3) in metres.
    """
    size = body_size(points_m)
    if unit == NO_SCALE or not np.isfinite(size) or size == 0 or _SMALLEST_BODY_M <= size <= _LARGEST_BODY_M:
        return None
    return (
        f"with the unit {unit} the points extend over {size:.3g} m, which is not the size of a body: if the unit is "
        "wrong, set unit under [lab] in study.toml"
    )
