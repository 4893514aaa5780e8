"""Body lengths of a golfer from a whole capture, as percentiles over frames, which are robust to single bad frames."""

from __future__ import annotations

import numpy as np

from swinglab.conventions import shaft_points
from swinglab.errors import MissingInput
from swinglab.segments.body import Body, Sizes
from swinglab.segments.centres import knee
from swinglab.segments.trunk import back_of_pelvis


def measure_sizes(body: Body) -> Sizes:
    """Return pelvis width and depth, leg length, distance between the acromia, and positions along the shaft, in m.

    The leg length is the distance from the ASIS via the knee centre to the medial malleolus, as the mean of both
    sides; it is NaN if knee or malleolus are missing. The parts of the leg length and the distance between the acromia
    are 95th percentiles over frames, because flexed hips and arms held forward shorten these distances, whereas the
    regressions that use them were derived in upright standing.
    """
    depth = width = between = np.nan
    if body.has("asis_left", "asis_right"):
        left, right = body.need("asis_left", "asis_right")
        width = _median_length(left - right)
        try:
            depth = _median_length((left + right) / 2 - back_of_pelvis(body)[0])
        except MissingInput:
            depth = np.nan  # the pelvis frame reports which landmark is missing
    if body.has("acromion_left", "acromion_right"):
        between = _widest_length(body.points["acromion_left"] - body.points["acromion_right"])
    shaft = shaft_points(tuple(body.points))
    along = {name: _median_length(body.points[name] - body.points[shaft[0]]) for name in shaft}
    return Sizes(width, depth, _leg_length(body), between, along)


def _leg_length(body: Body) -> float:
    lengths = []
    for side in ("left", "right"):
        here = body.side(side)
        try:
            top, foot = here.need("asis_right", "ankle_medial_right")
            # With a lateral marker alone, the knee centre needs the hip centre, which needs the leg length. The marker
            # is used instead, to avoid this circle.
            alone = here.has("knee_lateral_right") and not (
                here.has("knee_right") or here.has("knee_medial_right")
            )
            joint = here.points["knee_lateral_right"] if alone else knee(here).value
        except MissingInput:
            return np.nan
        lengths.append(_widest_length(top - joint) + _widest_length(joint - foot))
    return float(np.mean(lengths))


def _median_length(vectors: np.ndarray) -> float:
    return _length_at(vectors, 50)


def _widest_length(vectors: np.ndarray) -> float:
    return _length_at(vectors, 95)


def _length_at(vectors: np.ndarray, percentile: float) -> float:
    lengths = np.sqrt((vectors**2).sum(axis=-1))
    seen = np.isfinite(lengths)
    return float(np.percentile(lengths[seen], percentile)) if seen.any() else np.nan
