"""Timing of a swing and its peaks: one number a swing."""

from __future__ import annotations

import numpy as np
from scipy.spatial.transform import Rotation

from swinglab.columns import error_column_name
from swinglab.records import Events, Posture
from swinglab.signals import cross, principal_axes, sliding_rate, unit

#: Angles of arm and club are fitted by a parabola over this long (at least three frames) for their speed.
SPEED_OVER_S = 0.02


def measure_swing(posture: Posture, events: Events) -> dict[str, float]:
    """Measure times and peak speeds of one swing.

    Parameters
    ----------
    posture : Posture
        A swing, frame by frame.
    events : Events
        The events of the same swing.

    Returns
    -------
    dict
        Every quantity of ``columns.SWINGS`` by its name, NaN where it cannot be had, and the standard error
        of those that have one by the name of its column. Seconds, degrees, degrees per second; times of
        peaks from impact, before it negative.

    Notes
    -----
    Sign: speeds are positive toward the target. Pelvis and thorax turn about their own long axes; lead arm
    and club about the normal of the plane that fits the clubhead best from delivery to impact.

    Peaks are read between frames, between top and finish (the capture's end where there is no finish). The
    club is jolted at impact, so its speeds before and after are fitted apart. Standard errors of times are
    those of their events, of the peak separation the angle's; speeds have none.

    Examples
    --------
    >>> measure_swing(posture, events)["downswing_time_s"]  # doctest: +SKIP
    0.262
    """
    impact = events.time_s("impact")
    found = _times(events) | _separation(posture, events)
    window = _frames_between(posture.time_s, events.time_s("top"), events.time_s("finish"))
    for part in ("pelvis", "thorax"):
        speed = _own_axis_speed(posture, part)
        found |= _peak(f"{part}_peak_axial_speed", "dps", posture.time_s, speed, window, impact)
    normal = _swing_plane_normal(posture, events)
    for part, ends in (("lead_arm", ("arm_top_left", "wrist_left")), ("club", ("shaft_top", "shaft_bottom"))):
        jolt = impact if part == "club" else np.nan
        speed = _speed_in_plane(posture, ends, normal, jolt)
        found |= _peak(f"{part}_peak_axial_speed", "dps", posture.time_s, speed, window, impact)
    return found


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
    """Largest pelvis minus thorax turn between takeaway and impact, when, and how much larger than at the top."""
    name, stem = "pelvis_thorax_separation_deg", "pelvis_thorax_peak_separation"
    missing = np.full(len(posture.time_s), np.nan)
    there = name in posture.quantities
    curve = posture.curve(name) if there else missing
    takeaway, impact = events.time_s("takeaway"), events.time_s("impact")
    window = _frames_between(posture.time_s, takeaway, impact)
    if not np.isfinite(impact):
        window = window[:0]
    found = _peak(stem, "deg", posture.time_s, curve, window, impact)
    errors = posture.standard_errors[:, posture.quantities.index(name)] if there else missing
    when = found[f"{stem}_time_s"] + impact
    peak_error, top_error = np.interp([when, events.time_s("top")], posture.time_s, errors)
    found[error_column_name(f"{stem}_deg")] = float(peak_error)
    at_top = float(np.interp(events.time_s("top"), posture.time_s, curve))
    found["pelvis_thorax_stretch_deg"] = found[f"{stem}_deg"] - at_top
    found[error_column_name("pelvis_thorax_stretch_deg")] = float(np.hypot(peak_error, top_error))
    return found


def _frames_between(time_s: np.ndarray, first: float, last: float) -> np.ndarray:
    """Frames from one instant to another, to the capture's end where the last is missing."""
    if not np.isfinite(first):
        return np.arange(0)
    return np.flatnonzero((time_s >= first) & (time_s <= (last if np.isfinite(last) else np.inf)))


def _peak(
    stem: str, unit_name: str, time_s: np.ndarray, curve: np.ndarray, window: np.ndarray, impact: float
) -> dict[str, float]:
    """The largest value of a curve in a window and its time from impact, by a parabola through three frames."""
    names = f"{stem}_{unit_name}", f"{stem}_time_s"
    inside = curve[window]
    if not np.isfinite(inside).any():
        return dict.fromkeys(names, np.nan)
    top = int(window[np.nanargmax(inside)])
    value, place = float(curve[top]), 0.0
    if 0 < top < len(curve) - 1 and np.isfinite(curve[top - 1 : top + 2]).all():
        before, at, after = curve[top - 1 : top + 2]
        bend = before - 2.0 * at + after
        if bend < 0 and at > before and at > after:
            place = 0.5 * (before - after) / bend
            value = at - 0.25 * (before - after) * place
    step = (time_s[-1] - time_s[0]) / (len(time_s) - 1)
    return {names[0]: float(value), names[1]: float(time_s[top] + place * step - impact)}


def _own_axis_speed(posture: Posture, part: str) -> np.ndarray:
    """(n_frames,) deg/s about a segment's own long axis, + open to the target; NaN at both ends."""
    speed = np.full(len(posture.time_s), np.nan)
    # Where the turn itself is missing, its speed is too.
    frame = posture.rotations.get(part) if f"{part}_axial_rotation_deg" in posture.quantities else None
    if frame is None or len(speed) < 3:
        return speed
    step = np.swapaxes(frame[:-2], -1, -2) @ frame[2:]
    good = np.isfinite(step).all(axis=(1, 2))
    if good.any():
        turned = Rotation.from_matrix(step[good]).as_rotvec(degrees=True)
        speed[1:-1][good] = turned[:, 1] / (posture.time_s[2:] - posture.time_s[:-2])[good]
    return speed


def _swing_plane_normal(posture: Posture, events: Events) -> np.ndarray | None:
    """Unit normal of the clubhead's plane from delivery to impact, the club turning positively about it."""
    head, top = posture.centres_m.get("clubhead"), posture.centres_m.get("shaft_top")
    start, impact = events.time_s("shaft_horizontal_down"), events.time_s("impact")
    if head is None or top is None or not np.isfinite(start + impact):
        return None
    window = _frames_between(posture.time_s, start, impact)
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
    """(n_frames,) deg/s of a line's turn about a normal; fitted apart before and after a jolt."""
    missing = np.full(len(posture.time_s), np.nan)
    top, bottom = (posture.centres_m.get(end) for end in ends)
    if normal is None or top is None or bottom is None:
        return missing
    along = unit(bottom - top)
    first = unit(cross(normal, cross(along[np.isfinite(along).all(axis=1)][0], normal)))
    angle = np.arctan2(along @ cross(normal, first), along @ first)
    good = np.isfinite(angle)
    angle[good] = np.degrees(np.unwrap(angle[good]))
    if not np.isfinite(jolt_s):
        return _rate(angle, posture.time_s)
    split = int(np.searchsorted(posture.time_s, jolt_s, side="right"))
    return np.concatenate([_rate(part, posture.time_s) for part in np.split(angle, [split])])


def _rate(values: np.ndarray, time_s: np.ndarray) -> np.ndarray:
    """Rate of change by local parabolas; NaN where there are fewer than three frames."""
    step = (time_s[-1] - time_s[0]) / (len(time_s) - 1)
    window = max(3, 2 * round(SPEED_OVER_S / step / 2) + 1)
    rate = np.full(len(values), np.nan)
    seen = np.flatnonzero(np.isfinite(values))
    if not len(seen) or seen[-1] - seen[0] + 1 < window:
        return rate
    # What is missing at either end of a capture is left out, so that the parabola at its edge is one of samples.
    inner = values[seen[0] : seen[-1] + 1]
    fitted, half = sliding_rate(inner, window, 2, step), window // 2
    if not (np.isfinite(inner[:window]).all() and np.isfinite(inner[-window:]).all()):
        fitted[:half] = fitted[len(fitted) - half :] = np.nan
    rate[seen[0] : seen[-1] + 1] = fitted
    return rate
