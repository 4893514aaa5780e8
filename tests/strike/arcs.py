"""Made arcs: paths of a clubhead written down as formulas, struck at a known place, with their true outcomes.

Written for the tests of the strike alone; nothing here is shared with the kit's own made golfer.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.optimize import brentq
from scipy.spatial.transform import Rotation

from swinglab.conventions import BALL_RADIUS_M, EVENTS
from swinglab.records import Event, Events, Setup, Trial

Path = Callable[[np.ndarray], np.ndarray]


@dataclass(frozen=True)
class Arc:
    """A path that meets the ball at time 0 (s) and what is true of it, in the columns' units."""

    path: Path
    truth: dict[str, float]


def plane_axes(inclination: float, direction: float) -> np.ndarray:
    """Rows: along the plane's level line, up its slope (toward the golfer), normal; published.md 4.5's axes."""
    phi, psi = np.radians([inclination, direction])
    level = np.array([np.cos(psi), 0.0, np.sin(psi)])
    slope = np.cos(phi) * np.array([np.sin(psi), 0.0, -np.cos(psi)]) + np.sin(phi) * np.array([0.0, 1.0, 0.0])
    return np.array([level, slope, np.cross(level, slope)])


def ellipse(width: float, height: float, tilt: float = 0.0) -> tuple[Callable, float]:
    """An ellipse of these half-axes (m), turned in its plane by `tilt` degrees; and a radius for its pace."""
    cos, sin = np.cos(np.radians(tilt)), np.sin(np.radians(tilt))

    def place(t: np.ndarray, u: np.ndarray) -> np.ndarray:
        a, b = width * np.sin(u), -height * np.cos(u)
        return np.stack([cos * a - sin * b, sin * a + cos * b, np.zeros_like(a)], axis=-1)

    return place, width


def moving_hub(radius: float, velocity: tuple, acceleration: tuple) -> tuple[Callable, float]:
    """A circle whose centre moves (m/s, m/s^2) along the level line, up the slope and off the plane."""

    def place(t: np.ndarray, u: np.ndarray) -> np.ndarray:
        circle = np.stack([radius * np.sin(u), -radius * np.cos(u), np.zeros_like(u)], axis=-1)
        return (
            circle
            + np.multiply.outer(t, np.array(velocity))
            + np.multiply.outer(t**2 / 2, np.array(acceleration))
        )

    return place, radius


def two_levers(release: float, askew: float = 0.0) -> tuple[Callable, float]:
    """An arm and a club, the wrist released over `release` seconds; off the plane by `askew` metres."""

    def place(t: np.ndarray, u: np.ndarray) -> np.ndarray:
        arm = 9.0 * t - 6.0 * t**2
        wrist = 0.12 - 1.8 * (1 - 1 / (1 + np.exp(-(t + 0.028) / release)))
        across = 0.68 * np.sin(arm) + 1.05 * np.sin(arm + wrist) + 0.3 * t
        up = -0.68 * np.cos(arm) - 1.05 * np.cos(arm + wrist) + 0.4 * t
        return np.stack([across, up, askew * (np.sin(arm) ** 2 + np.sin(wrist))], axis=-1)

    return place, 1.5


SHAPES: dict[str, tuple[Callable, float]] = {
    "circle": ellipse(1.5, 1.5),
    "ellipse 1.7 x 1.3": ellipse(1.7, 1.3),
    "ellipse 1.6 x 1.4": ellipse(1.6, 1.4),
    "ellipse 1.7 x 1.3, turned back 15": ellipse(1.7, 1.3, -15),
    "ellipse 1.6 x 1.4, turned up 15": ellipse(1.6, 1.4, 15),
    "hub moving to the target": moving_hub(1.5, (0.6, 0.3, 0.0), (-2.0, 2.5, 1.5)),
    "hub rising": moving_hub(1.5, (-0.2, 1.0, 0.1), (-6.0, 8.0, 5.0)),
    "hub leaving the plane": moving_hub(1.5, (0.5, 0.5, 0.8), (-6.0, 8.0, 5.0)),
    "two levers": two_levers(0.030),
    "two levers, askew": two_levers(0.030, 0.05),
}


def make_arc(
    shape: str | tuple[Callable, float] = "circle", *, inclination: float = 61.0, direction: float = 0.0,
    attack: float = -4.0, speed: float = 36.0, gain: float = 3.0, reference_behind_face: float = 0.0,
) -> Arc:  # fmt: skip
    """The path of one swing that meets the ball at the given attack angle and speed.

    gain : how fast the pace grows (1/s). The ball centre stands at (0, ball radius, 0); at time 0 the
    clubhead is one ball radius and `reference_behind_face` (m) behind it along its path.
    """
    place, pace_radius = SHAPES[shape] if isinstance(shape, str) else shape
    axes = plane_axes(inclination, direction)

    def raw(t: np.ndarray) -> np.ndarray:
        t = np.asarray(t, dtype=float)
        return place(t, speed / pace_radius * (t + gain * t**2 / 2)) @ axes

    def velocity(t: float, h: float = 1e-6) -> np.ndarray:
        return (raw(t + h) - raw(t - h)) / (2 * h)

    def angle(t: float) -> float:
        v = velocity(t)
        return float(np.degrees(np.arctan2(v[1], np.hypot(v[0], v[2]))))

    grid = np.linspace(-0.06, 0.06, 601)
    angles = np.array([angle(t) for t in grid])

    def time_of(level: float) -> float:
        rising = np.flatnonzero((angles[:-1] <= level) & (angles[1:] > level))
        i = rising[np.argmin(np.abs(grid[rising]))]
        return float(brentq(lambda t: angle(t) - level, grid[i], grid[i + 1], xtol=1e-12))

    impact, low = time_of(attack), time_of(0.0)
    pace = float(np.linalg.norm(velocity(impact))) / speed
    heading = velocity(impact) / np.linalg.norm(velocity(impact))
    shift = (
        np.array([0.0, BALL_RADIUS_M, 0.0]) - (BALL_RADIUS_M + reference_behind_face) * heading - raw(impact)
    )
    h = 2e-4
    bend = (raw(low + h) - 2 * raw(low) + raw(low - h)) / h**2
    slope = velocity(low)
    bottom = raw(low) + shift
    truth = {
        "clubhead_speed_mps": speed,
        "attack_angle_deg": attack,
        "club_path_in_to_out_deg": float(np.degrees(np.arctan2(heading[2], heading[0]))),
        "low_point_ahead_cm": 100 * float(bottom[0]),
        "low_point_y_cm": 100 * float(bottom[1]),
        "arc_radius_m": float(np.linalg.norm(slope) ** 3 / np.linalg.norm(np.cross(slope, bend))),
    }
    return Arc(lambda t: raw(impact + np.asarray(t) / pace) + shift, truth)


def strike_points(
    arc: Arc, time: np.ndarray, *, turn: np.ndarray | None = None, loss: float = 0.0, contact_s: float = 0.0,
    straighter: float = 0.0,
) -> np.ndarray:  # fmt: skip
    """The clubhead with a real impact: after it the path is turned (rotation vector, rad) and slower.

    contact_s : how long the turn takes, at an even rate. straighter : share by which the path's curvature is
    less after it (the hands keep their pace: of two levers in line about a twentieth for a fifth of the speed).
    """
    points = arc.path(time)
    after = time > 0
    if after.any():
        start, since = arc.path(0.0), time[after]
        beyond = arc.path((1 - loss) * since) - start
        if straighter:
            h = 1e-4
            forward = (arc.path(h) - arc.path(-h)) / (2 * h)
            bend = (arc.path(h) - 2 * start + arc.path(-h)) / h**2
            bend -= (bend @ forward) / (forward @ forward) * forward
            beyond -= np.multiply.outer(straighter * ((1 - loss) * since) ** 2 / 2, bend)
        turned = beyond if turn is None else Rotation.from_rotvec(turn).apply(beyond)
        if contact_s and turn is not None:
            # The direction turns evenly: while it does, and for good, the path lags behind a turn at once.
            part = np.minimum(since / contact_s, 1.0)
            lag = np.where(part < 1, part - part**2 / 2, 0.5) * contact_s
            forward = (1 - loss) * (arc.path(1e-4) - arc.path(-1e-4)) / 2e-4
            turned = turned - np.multiply.outer(lag, Rotation.from_rotvec(turn).apply(forward) - forward)
        points[after] = start + turned
    return points


def make_events(rate: float, **times: float | tuple[float, float]) -> Events:
    """Events by hand: name=seconds, or (seconds, standard error); the rest are missing."""
    made = []
    for name in EVENTS:
        time, error = np.broadcast_to(times.get(name, np.nan), 2) if name not in times else _pair(times[name])
        note = "" if np.isfinite(time) else "not made"
        made.append(Event(name, float(time), float(error), "made", note))
    return Events("s1", "G01", rate, tuple(made))


def _pair(value: float | tuple[float, float]) -> tuple[float, float]:
    return value if isinstance(value, tuple) else (value, 1e-4)


def make_trial(
    arc: Arc, rate: float = 240.0, *, noise: float = 0.0, kink: float = 0.0, loss: float = 0.0,
    sole_at_impact: float | None = None,
    sole_error: float = 0.0, seed: int = 0, impact_error: float = 0.0, impact_se: float = 1e-4,
    know_noise: bool = False, before: float = 0.13, after: float = 0.08, ball: bool = True,
    contact_s: float = 0.0, straighter: float = 0.0, **setup: object,
) -> tuple[Trial, Events]:  # fmt: skip
    """A trial of clubhead and ball with half a second of address, and its events.

    The frames' phase and the kink's direction come from the seed. sole_at_impact : height of the sole above
    the turf at impact (m); then the club is soled at address. sole_error : how much the clubhead at address
    stands too high for that (m), as when the shaft leans otherwise.
    """
    rng = np.random.default_rng(seed)
    phase = rng.uniform()
    frames = np.arange(-int(before * rate), int(after * rate)) + phase
    time = frames / rate
    turn = np.cross(arc.path(1e-6) - arc.path(-1e-6), rng.normal(size=3))
    turn *= np.radians(kink) / np.linalg.norm(turn)
    swing = strike_points(arc, time, turn=turn, loss=loss, contact_s=contact_s, straighter=straighter)
    still = int(0.5 * rate)
    height = arc.path(0.0)[1] - (sole_at_impact or 0.0) + sole_error
    address = np.tile([-0.03, height, 0.0], (still, 1))
    head = np.concatenate([address, swing])
    head = head + rng.normal(scale=noise, size=head.shape) if noise else head
    centre = np.array([0.0, BALL_RADIUS_M, 0.0])
    points = np.stack([head, np.tile(centre, (len(head), 1))], axis=1)
    options: dict = {"reference_behind_face_cm": 0.0, "soled_at_address": sole_at_impact is not None, **setup}
    clock = np.arange(len(head)) / rate
    start = clock[still] - time[0]  # the clock's reading at impact
    trial = Trial(
        "s1", "G01", "made.c3d", "right", "markers", rate, clock, ("clubhead", "ball"), points, points,
        np.zeros(points.shape[:2], dtype=bool), np.array([noise if know_noise else np.nan, np.nan]),
        Setup(**options), ball_m=centre if ball else None, ball_method="marker" if ball else "none",
    )  # fmt: skip
    impact = start + impact_error + (rng.normal(scale=impact_se) if noise else 0.0)
    events = make_events(
        rate, address=0.25, top=start + time[0] - 0.25 / rate, shaft_horizontal_down=start - 0.055,
        impact=(impact, impact_se),
    )  # fmt: skip
    return trial, events
