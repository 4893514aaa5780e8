"""The unit of length of a capture: as written, else judged from the size of what moves in it."""

from __future__ import annotations

import numpy as np

from swinglab.conventions import NO_SCALE

#: A capture without scale is read as a body of usual size: the search for events has speeds to go by.
METRES = {"m": 1.0, "cm": 0.01, "mm": 0.001, NO_SCALE: 1.0}
_USUAL_BODY_M = 1.25  # as `body_size` sees a person at address
_SPELLINGS = {
    "m": ("m", "meter", "meters", "metre", "metres"),
    "cm": ("cm", "centimeter", "centimeters", "centimetre", "centimetres"),
    "mm": ("mm", "millimeter", "millimeters", "millimetre", "millimetres"),
}
_BY_SPELLING = {spelling: unit for unit, spellings in _SPELLINGS.items() for spelling in spellings}
#: A body with its club spans about 0.5 to 4 m; the borders between units lie midway, in powers of ten.
_LARGEST_M, _LARGEST_CM = 14.0, 450.0
#: Sizes no whole body and no room has; outside them a written unit is doubted.
_SMALLEST_BODY_M, _LARGEST_BODY_M = 0.1, 12.0


def unit_named(text: str) -> str | None:
    """The unit a spelling stands for (m, cm or mm), or None.

    Examples
    --------
    >>> unit_named("Millimetres"), unit_named("mm  "), unit_named("furlong")
    ('mm', 'mm', None)
    """
    return _BY_SPELLING.get(text.strip().lower())


def body_size(points: np.ndarray) -> float:
    """Largest extent of the points along an axis, median over frames; NaN where nothing was measured."""
    step = max(1, len(points) // 50)
    some = points[::step]
    seen = np.isfinite(some).all(axis=-1).sum(axis=1) >= 2
    if not seen.any():
        return float("nan")
    # A tenth is left out at either end of each axis: ghosts and model outputs stored as points.
    low, high = np.nanpercentile(some[seen], [10, 90], axis=1)
    return float(np.median((high - low).max(axis=-1)))


def metres_in(unit: str, points: np.ndarray) -> float:
    """What coordinates in a unit are multiplied by; without scale, what gives the body a usual size."""
    if unit != NO_SCALE:
        return METRES[unit]
    size = body_size(points)
    return _USUAL_BODY_M / size if size > 0 else 1.0


def judge_unit(points: np.ndarray) -> str:
    """The unit in which the points have the size of a body (metres where nothing can be judged)."""
    size = body_size(points)
    if not np.isfinite(size) or size < _LARGEST_M:
        return "m"
    return "cm" if size < _LARGEST_CM else "mm"


def doubt_unit(points_m: np.ndarray, unit: str) -> str | None:
    """A warning where the points have not the size of a body in the unit that was written."""
    size = body_size(points_m)
    if unit == NO_SCALE or not np.isfinite(size) or size == 0 or _SMALLEST_BODY_M <= size <= _LARGEST_BODY_M:
        return None
    return (
        f"in the file's unit ({unit}) the points span {size:.3g} m, which is no body: "
        "if the unit is wrong, give unit in study.toml"
    )
