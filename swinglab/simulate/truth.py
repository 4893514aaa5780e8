"""True events and strike of a simulated swing, from its continuous motion.

The definitions of swinglab are applied to the exact motion of body and clubhead. None of the code that measures
captures is used.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from scipy.interpolate import BSpline, CubicSpline, PPoly
from scipy.optimize import brentq, minimize_scalar

from swinglab.conventions import BALL_RADIUS_M, EVENTS
from swinglab.simulate.impact import PATH_S, head_path
from swinglab.simulate.limbs import place_landmarks
from swinglab.simulate.linkage import Mover, move

#: Speeds of the clubhead that end the address and define the finish, as in swinglab's definitions of events.
STILL_MPS, FINISHED_MPS = 0.2, 1.0
GRID_S = 0.002


def find_true_events(
    mover: Mover, impact_s: float, start_s: float, end_s: float, *, arm_from: str = "acromion"
) -> dict[str, float]:
    """Return event -> its true time, in s from nominal impact; NaN if it is not between start_s and end_s.

    `arm_from` : start of the line from shoulder to wrist, "acromion" (markers) or "shoulder" (joint centres).
    Nominal impact is the time of impact of the golfer's habitual swing.
    """
    time = np.arange(start_s, end_s + GRID_S / 4, GRID_S)
    pose = move(mover, time)
    points = place_landmarks(mover, pose, time)
    lead = _elevation(points["wrist_left"] - points[f"{arm_from}_left"])
    trail = _elevation(points["wrist_right"] - points[f"{arm_from}_right"])
    shaft = _elevation(pose.shaft)
    speed = np.linalg.norm(np.gradient(pose.clubhead, GRID_S, axis=0), axis=1)
    events = dict.fromkeys(EVENTS, np.nan)
    events["impact"] = impact_s
    takeaway = _last(_crossings(time, speed - STILL_MPS, rising=True), before=impact_s - 0.35)
    events["takeaway"] = takeaway
    if np.isfinite(takeaway):
        events["address"] = (start_s + takeaway) / 2
    down = find_delivery(mover, impact_s)
    events["shaft_horizontal_down"] = down
    events["top"] = _find_top(mover, time, pose.shaft, down, impact_s, takeaway)
    top = events["top"]
    events["shaft_horizontal_back"] = _first(_crossings(time, shaft, rising=True), after=takeaway)
    events["lead_arm_horizontal_back"] = _first(_crossings(time, lead, rising=True), after=takeaway)
    events["lead_arm_horizontal_down"] = _last(_crossings(time, lead, rising=False), before=impact_s)
    events["shaft_45_down"] = _last(_crossings(time, shaft - 45.0, rising=False), before=impact_s)
    events["shaft_horizontal_through"] = _first(_crossings(time, shaft, rising=True), after=impact_s)
    events["trail_arm_horizontal_through"] = _first(_crossings(time, trail, rising=True), after=impact_s)
    events["finish"] = _first(_crossings(time, speed - FINISHED_MPS, rising=False), after=impact_s)
    turn = mover.value("pelvis_axial_rotation_deg", time)
    k = int(np.argmin(np.where((time > top - 0.4) & (time < impact_s), turn, np.inf)))
    found = minimize_scalar(
        lambda t: float(mover.value("pelvis_axial_rotation_deg", np.array(t))),
        bounds=(time[max(k - 5, 0)], time[min(k + 5, len(time) - 1)]), method="bounded",
        options={"xatol": 1e-7},
    )  # fmt: skip
    events["pelvis_reversal"] = float(found.x)
    if not start_s < events["lead_arm_horizontal_back"] < top:
        events["lead_arm_horizontal_back"] = np.nan
    return events


def find_delivery(mover: Mover, impact_s: float) -> float:
    """Return the true time of delivery, the last time before impact at which the shaft is horizontal.

    All times are in s from nominal impact. Nominal impact is the time of impact of the golfer's habitual swing.
    """
    time = np.linspace(impact_s - 0.16, impact_s, 81)
    shaft = _elevation(move(mover.undisturbed(), time).shaft)
    return _last(_crossings(time, shaft, rising=False), before=impact_s)


def _elevation(vectors: np.ndarray) -> np.ndarray:
    """Elevation (n,) of vectors (n, 3) above horizontal, degrees."""
    return np.degrees(np.arcsin(vectors[:, 1] / np.linalg.norm(vectors, axis=1)))


def _crossings(time: np.ndarray, signal: np.ndarray, *, rising: bool) -> np.ndarray:
    """Times at which a signal passes zero upward or downward."""
    up = (signal[:-1] < 0) & (signal[1:] >= 0) if rising else (signal[:-1] > 0) & (signal[1:] <= 0)
    curve = CubicSpline(time, signal)
    return np.array([_root(curve, time[k], time[k + 1]) for k in np.flatnonzero(up)])


def _root(curve: PPoly, low: float, high: float) -> float:
    return float(brentq(lambda t: float(curve(t)), low, high, xtol=1e-12))


def _first(times: np.ndarray, *, after: float) -> float:
    late = times[times > after]
    return float(late[0]) if len(late) else np.nan


def _last(times: np.ndarray, *, before: float) -> float:
    early = times[times < before]
    return float(early[-1]) if len(early) else np.nan


def swing_plane(mover: Mover, start_s: float, end_s: float) -> np.ndarray:
    """Return the unit normal (3,), pointing up, of the best-fitting plane of the clubhead path between two times.

    The path is computed without the effect of impact.
    """
    points = move(mover.undisturbed(), np.linspace(start_s, end_s, 201)).clubhead
    normal = np.linalg.svd(points - points.mean(axis=0))[2][2]
    return normal * np.sign(normal[1])


def _find_top(
    mover: Mover, time: np.ndarray, shaft: np.ndarray, down: float, impact_s: float, takeaway: float
) -> float:
    """Time at which the shaft's angle about the normal of the plane from delivery to impact reverses."""
    normal = swing_plane(mover, down, impact_s)
    along = np.cross(normal, [0.0, 1.0, 0.0])
    along /= np.linalg.norm(along)
    up = np.cross(normal, along)
    angle = np.unwrap(np.arctan2(shaft @ up, shaft @ along))
    angle -= angle[0]
    inside = (time > max(takeaway, impact_s - 0.6)) & (time < impact_s)
    angle *= np.sign(angle[inside][np.argmax(np.abs(angle[inside]))])
    k = int(np.argmax(np.where(inside, angle, -np.inf)))
    curve = CubicSpline(time, angle).derivative()
    return _root(curve, time[k - 2], time[k + 2])


def measure_true_strike(mover: Mover, events: Mapping[str, float]) -> dict[str, float]:
    """Return name -> true value of the quantities in strike.csv, and of `sole_at_impact_cm` (height above the turf)."""
    path = head_path(mover)
    course = path.derivative()
    impact = events["impact"]
    place, velocity = path(impact), course(impact)
    speed = float(np.linalg.norm(velocity))
    sole = place[1] - mover.club.face_up_m
    lowest = _lowest(path, impact)
    low, v, a = path(lowest), course(lowest), path(lowest, 2)
    radius = float(np.linalg.norm(v) ** 3 / np.linalg.norm(np.cross(v, a)))
    normal = swing_plane(mover, events["shaft_horizontal_down"], impact)
    base = np.array([normal[2], 0.0, -normal[0]])  # the plane's horizontal line
    base *= np.sign(base[0])
    low_height = low[1] - mover.club.face_up_m
    entry = _turf_entry(path, lowest, mover.club.face_up_m)
    heel = place_landmarks(mover, move(mover, np.array([impact])), np.array([impact]))["heel_left"][0, 0]
    return {
        "clubhead_speed_mps": speed,
        "attack_angle_deg": float(np.degrees(np.arcsin(velocity[1] / speed))),
        "club_path_in_to_out_deg": float(np.degrees(np.arctan2(velocity[2], velocity[0]))),
        "low_point_ahead_cm": 100 * float(low[0]),
        "low_point_ahead_of_lead_heel_cm": 100 * float(low[0] - heel),
        "low_point_height_cm": 100 * float(low_height),
        "turf_entry_ahead_cm": 100 * entry,
        "arc_plane_inclination_deg": float(np.degrees(np.arccos(normal[1]))),
        "arc_plane_direction_in_to_out_deg": float(np.degrees(np.arctan2(base[2], base[0]))),
        "arc_radius_m": radius,
        "sole_at_impact_cm": 100 * float(sole),
    }


def true_contact(
    strike: Mapping[str, float], *, fat_behind_cm: float = 1.0, thin_above_cm: float = 1.0
) -> str:
    """Return the true contact, fat, clean or thin, from the true strike.

    It is fat if the sole meets the turf more than `fat_behind_cm` behind the ball, otherwise thin if the sole is higher
    than `thin_above_cm` at impact, otherwise clean.
    """
    entry = strike["turf_entry_ahead_cm"]
    if np.isfinite(entry) and entry < -100 * BALL_RADIUS_M - fat_behind_cm:
        return "fat"
    return "thin" if strike["sole_at_impact_cm"] > thin_above_cm else "clean"


def _lowest(path: BSpline, impact_s: float) -> float:
    """Time near impact at which the path is lowest."""
    grid = np.linspace(max(impact_s - 0.02, PATH_S[0]), min(impact_s + 0.03, PATH_S[1]), 101)
    climb = path.derivative()
    k = int(np.argmin(path(grid)[:, 1]))
    low, high = grid[max(k - 1, 0)], grid[min(k + 1, 100)]
    return float(brentq(lambda t: float(climb(t)[1]), low, high, xtol=1e-12))


def _turf_entry(path: BSpline, lowest_s: float, face_up_m: float) -> float:
    """Position along the target line, m from the ball centre, where the sole first meets the turf; NaN if never."""
    if path(lowest_s)[1] >= face_up_m:
        return np.nan
    entry = brentq(lambda t: float(path(t)[1]) - face_up_m, PATH_S[0], lowest_s, xtol=1e-12)
    return float(path(entry)[0])
