"""Angular velocities (turning speeds) of pelvis, thorax, lead arm and club, and the errors of their angles."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from scipy.spatial.transform import Rotation

from swinglab.conventions import shaft_points
from swinglab.records import Events, Posture, Trial
from swinglab.segments.filter_bias import cutoffs_by_landmark
from swinglab.segments.noise import PointErrors
from swinglab.segments.peaks import TISSUE_HZ, TurnNoise
from swinglab.signals import cross, principal_axes, sliding_polynomial, unit

#: Duration of the parabola that is fitted to angles of arm and club for their speed (at least three frames).
SPEED_OVER_S = 0.02
#: Duration over which a speed is smoothed before simulated noise is added; otherwise noise would be counted twice.
CALM_OVER_S = 0.12
#: Parts whose peak turning speeds are measured, in order from the ground to the club; for lines, their two ends.
PARTS: dict[str, tuple[str, str] | None] = {
    "pelvis": None,
    "thorax": None,
    "lead_arm": ("arm_top_left", "wrist_left"),
    "club": ("shaft_top", "shaft_bottom"),
}


def turning_speed(posture: Posture, part: str, normal: np.ndarray | None, impact_s: float) -> np.ndarray:
    """Return the angular velocity (n_frames,) of a body part or the club, deg/s; positive toward the target.

    Pelvis and thorax : about their own long axis. Lead arm and club : about `normal`, (3,), the normal of the swing
    plane. `part` : pelvis, thorax, lead_arm or club. `impact_s` : time of impact; the velocity of the club is fitted
    separately before and after it. NaN where the velocity cannot be computed.
    """
    ends = PARTS[part]
    if ends is None:
        return _own_axis_speed(posture, part)
    return _speed_in_plane(posture, ends, normal, impact_s if part == "club" else np.nan)


def noise_rate(part: str, time_s: np.ndarray, impact_s: float) -> Callable[[np.ndarray], np.ndarray]:
    """Return a function from errors of the angle of a part, (k, n), deg, to errors of its angular velocity, deg/s."""
    if PARTS[part] is None:
        return lambda angle: np.gradient(angle, time_s, axis=1)
    jolt = impact_s if part == "club" else np.nan
    return lambda angle: _local_parabola(angle, time_s, jolt, SPEED_OVER_S, 1)


def without_noise(part: str, speed: np.ndarray, time_s: np.ndarray, impact_s: float) -> np.ndarray:
    """Return the angular velocity of a part, (n,), smoothed to remove noise; unchanged if it cannot be smoothed."""
    smooth = _local_parabola(speed, time_s, impact_s if part == "club" else np.nan, CALM_OVER_S, 0)
    return np.where(np.isnan(smooth), speed, smooth)


def turn_noises(
    posture: Posture, trial: Trial, errors: PointErrors, part: str, frames: slice
) -> list[TurnNoise]:
    """Return the random errors of the angle whose derivative is the turning speed of a part; empty if not known.

    `part` : pelvis, thorax, lead_arm or club. For pelvis and thorax, the SDs of the errors are medians over `frames`;
    for lead arm and club, they are computed from `errors`, the errors of the landmarks.
    """
    ends = PARTS[part]
    if ends is None:
        return _own_axis_noises(posture, trial, part, frames)
    if part == "club":
        shaft = shaft_points(trial.landmarks)
        groups = [shaft[:1], shaft[-1:]] if len(shaft) > 1 else []
    else:
        tops = tuple(name for name in ("acromion_left", "shoulder_left") if trial.has(name))
        wrist = tuple(n for n in ("wrist_radial_left", "wrist_ulnar_left", "wrist_left") if trial.has(n))
        groups = [tops[:1], wrist] if tops and wrist else []
    top, bottom = (posture.centres_m.get(end) for end in ends)
    if not groups or top is None or bottom is None:
        return []
    cutoffs = cutoffs_by_landmark(trial)
    length = np.nanmedian(np.linalg.norm(bottom - top, axis=1))
    found = []
    for name, of in [(name, len(names)) for names in groups for name in names]:
        sd = np.degrees(errors.own_m[name] / of / length)
        share = errors.noise_share[name]
        found += _noise_and_tissue(sd * np.sqrt(share), sd * np.sqrt(1 - share), cutoffs.get(name))
    return found


def _own_axis_noises(posture: Posture, trial: Trial, part: str, frames: slice) -> list[TurnNoise]:
    """Noise and deformation of a segment's axial rotation; deformation has the low frequencies of soft tissue."""
    name = f"{part}_axial_rotation_deg"
    if name not in posture.quantities:
        return []
    k, cutoff = posture.quantities.index(name), trial.cutoff_hz.get(part)
    total, noise = (
        np.asarray(errors)[frames, k] for errors in (posture.standard_errors, posture.noise_errors)
    )
    known = np.isfinite(total)
    if not known.any():
        return []
    tissue = np.sqrt(np.maximum(total**2 - noise**2, 0.0))
    return _noise_and_tissue(float(np.median(noise[known])), float(np.median(tissue[known])), cutoff)


def _noise_and_tissue(noise: float, tissue: float, cutoff_hz: float | None) -> list[TurnNoise]:
    """Smoothed noise, and deformation of a segment with the low frequencies of soft tissue."""
    slow = [TurnNoise(tissue, min(cutoff_hz or TISSUE_HZ, TISSUE_HZ))] if tissue else []
    return [TurnNoise(noise, cutoff_hz), *slow]


def _own_axis_speed(posture: Posture, part: str) -> np.ndarray:
    """Turning speed (n_frames,), deg/s, about a segment's own long axis, positive toward the target; NaN at both ends.

    It is computed from the rotation between the frames before and after each frame.
    """
    speed = np.full(len(posture.time_s), np.nan)
    # If the rotation itself is missing, so is its speed.
    frame = posture.rotations.get(part) if f"{part}_axial_rotation_deg" in posture.quantities else None
    if frame is None or len(speed) < 3:
        return speed
    step = np.swapaxes(frame[:-2], -1, -2) @ frame[2:]
    good = np.isfinite(step).all(axis=(1, 2))
    if good.any():
        turned = Rotation.from_matrix(step[good]).as_rotvec(degrees=True)
        speed[1:-1][good] = turned[:, 1] / (posture.time_s[2:] - posture.time_s[:-2])[good]
    return speed


def swing_plane_normal(posture: Posture, events: Events) -> np.ndarray | None:
    """Return the unit normal (3,) of the plane of the clubhead from delivery to impact; None if it is not known.

    Its direction is such that the rotation of the club in the downswing is positive.
    """
    head, top = posture.centres_m.get("clubhead"), posture.centres_m.get("shaft_top")
    start, impact = events.time_s("shaft_horizontal_down"), events.time_s("impact")
    if head is None or top is None or not np.isfinite(start + impact):
        return None
    window = np.flatnonzero((posture.time_s >= start) & (posture.time_s <= impact))
    window = window[np.isfinite(head[window]).all(axis=1) & np.isfinite(top[window]).all(axis=1)]
    if len(window) < 3:
        return None
    path = head[window]
    normal = principal_axes(path - path.mean(axis=0))[2]
    shaft = (head - top)[window]
    turning = cross(shaft[:-1], shaft[1:]).sum(axis=0) @ normal
    return normal if turning > 0 else -normal


def _speed_in_plane(
    posture: Posture, ends: tuple[str, str], normal: np.ndarray | None, jolt_s: float
) -> np.ndarray:
    """Turning speed (n_frames,), deg/s, of the line between two points (`ends`) about a normal.

    It is fitted separately before and after the time `jolt_s`, unless this is NaN.
    """
    missing = np.full(len(posture.time_s), np.nan)
    top, bottom = (posture.centres_m.get(end) for end in ends)
    if normal is None or top is None or bottom is None:
        return missing
    along = unit(bottom - top)
    first = unit(cross(normal, cross(along[np.isfinite(along).all(axis=1)][0], normal)))
    angle = np.arctan2(along @ cross(normal, first), along @ first)
    good = np.isfinite(angle)
    angle[good] = np.degrees(np.unwrap(angle[good]))
    return _local_parabola(angle, posture.time_s, jolt_s, SPEED_OVER_S, 1)


def _local_parabola(
    values: np.ndarray, time_s: np.ndarray, jolt_s: float, over_s: float, derivative: int
) -> np.ndarray:
    """Values (..., n) of local parabolas, or their rates of change, fitted separately before and after `jolt_s`.

    `derivative` : 0 for values, 1 for rates. `over_s` : duration of a parabola in s. With `jolt_s` NaN, all values are
    fitted together.
    """
    step = (time_s[-1] - time_s[0]) / (len(time_s) - 1)
    sides = [values]
    if np.isfinite(jolt_s):
        sides = np.split(values, [int(np.searchsorted(time_s, jolt_s, side="right"))], axis=-1)
    return np.concatenate([_fitted(side, step, over_s, derivative) for side in sides], axis=-1)


def _fitted(values: np.ndarray, step: float, over_s: float, derivative: int) -> np.ndarray:
    """Values or rates of local parabolas over an odd number (3 or more) of frames; NaN if there are fewer."""
    out = np.full(values.shape, np.nan)
    seen = np.flatnonzero(np.isfinite(values).reshape(-1, values.shape[-1]).all(axis=0))
    window = max(3, 2 * round(over_s / step / 2) + 1)
    if not len(seen) or seen[-1] - seen[0] + 1 < window:
        return out
    # Missing samples at either end of a capture are left out, so that the parabola at the edge uses measured samples.
    inner = values[..., seen[0] : seen[-1] + 1]
    fitted, half = sliding_polynomial(inner, window, 2, step, derivative), window // 2
    if not (np.isfinite(inner[..., :window]).all() and np.isfinite(inner[..., -window:]).all()):
        fitted[..., :half] = fitted[..., fitted.shape[-1] - half :] = np.nan
    out[..., seen[0] : seen[-1] + 1] = fitted
    return out
