"""Postures near a singularity (gimbal lock), in which small marker errors cause large errors of an angle."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np


class Limit(NamedTuple):
    """Range of an angle outside of which other angles of the same rotation sequence are nearly undefined (gimbal lock).

    angle : name of the angle. low, high : ends of its range (deg). affected : names of the other angles.
    """

    angle: str
    low: float
    high: float
    affected: tuple[str, ...]


def _cardan(part: str, suffix: str) -> Limit:
    others = tuple(f"{part}_{motion}{suffix}_deg" for motion in ("axial_rotation", "flexion"))
    return Limit(f"{part}_lateral_flexion{suffix}_deg", -75.0, 75.0, others)


LIMITS = (
    *(_cardan(part, suffix) for part in ("pelvis", "thorax") for suffix in ("", "_isb")),
    _cardan("trunk", ""),
    *(Limit(f"{part}_lean_deg", 5.0, 175.0, (f"{part}_lean_direction_deg",)) for part in ("pelvis", "thorax")),
    *(
        Limit(f"{side}_hip_adduction_deg", -75.0, 75.0,
              (f"{side}_hip_flexion_deg", f"{side}_hip_internal_rotation_deg"))
        for side in ("lead", "trail")
    ),
    *(
        Limit(f"{side}_shoulder_elevation_deg", 15.0, 165.0,
              (f"{side}_shoulder_plane_of_elevation_deg", f"{side}_shoulder_internal_rotation_deg"))
        for side in ("lead", "trail")
    ),
)  # fmt: skip


def near_singular(quantities: tuple[str, ...], values: np.ndarray, time_s: np.ndarray) -> list[str]:
    """Return a warning for each angle that is beyond its limit in some frames; it names the affected angles.

    `quantities` : names of n quantities. `values` : (n_frames, n) in degrees or cm. `time_s` : (n_frames,).
    """
    found = []
    for limit in LIMITS:
        affected = [name for name in limit.affected if name in quantities]
        if limit.angle not in quantities or not affected:
            continue
        angle = values[:, quantities.index(limit.angle)]
        beyond = np.flatnonzero((angle < limit.low) | (angle > limit.high))
        if len(beyond):
            found.append(
                f"{' and '.join(affected)} {'is' if len(affected) == 1 else 'are'} close to undefined in "
                f"{len(beyond)} of {len(time_s)} frames ({time_s[beyond[0]]:.3f} to {time_s[beyond[-1]]:.3f} s), "
                f"where {limit.angle} is outside {limit.low:g} to {limit.high:g}"
            )
    return found
