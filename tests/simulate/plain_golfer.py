"""A golfer of plain rotations and its strike, for the tests of what-if; nothing of the kit's own golfer is in it.

The hub (lead shoulder) is fixed in a thorax that turns about the vertical while it keeps its bend and tilt; arm and
club are two straight pieces that swing in two planes of fixed slope. Every position is a function of time, so that
the strike is known without frames; time 0 is near impact. Metres, study frame.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from scipy.interpolate import BPoly
from scipy.optimize import brentq, root

from swinglab.conventions import BALL_RADIUS_M
from swinglab.records import Events, Setup, Trial

BALL = np.array([0.0, BALL_RADIUS_M, 0.0])
#: Degrees at which arm and wrist stand, with their speeds (deg/s): still, top, near impact, finish.
TIMES = (-1.6, -1.15, -0.28, 0.0, 0.5)
ARM = BPoly.from_derivatives(TIMES, [[-4, 0, 0], [-4, 0, 0], [-118, 0, 8000], [-2, 640, -500], [95, 0, 0]])
WRIST = BPoly.from_derivatives(
    TIMES, [[-6, 0, 0], [-6, 0, 0], [-95, -30, -500], [-5, 1200, 2000], [70, 0, 0]]
)
TURN = BPoly.from_derivatives(TIMES, [[0, 0, 0], [0, 0, 0], [-80, 0, 4000], [20, 420, 0], [95, 0, 0]])
UPPER_ARM, FOREARM, CLUB = 0.31, 0.26, 1.02
HIPS = np.array([0.02, 0.93, -0.72])
#: Local places in the thorax (forward, up, to the trail side) from the pivot.
THORAX = {
    "jugular_notch": (0.06, 0.38, 0.0), "c7": (-0.06, 0.42, 0.0), "xiphoid": (0.10, 0.20, 0.0),
    "t8": (-0.10, 0.24, 0.0),
    "acromion_right": (0.0, 0.42, 0.18), "acromion_left": (0.0, 0.42, -0.18),
}  # fmt: skip


def turned(axis: int, degrees: float) -> np.ndarray:
    """(3, 3) a rotation about a coordinate axis by the right-hand rule."""
    c, s = np.cos(np.radians(degrees)), np.sin(np.radians(degrees))
    i, j = ((1, 2), (2, 0), (0, 1))[axis]
    matrix = np.eye(3)
    matrix[[i, i, j, j], [i, j, i, j]] = c, -s, s, c
    return matrix


def about(direction: np.ndarray, degrees: float) -> np.ndarray:
    """(3, 3) Rodrigues' rotation about a unit vector."""
    x, y, z = direction
    cross = np.array([[0, -z, y], [z, 0, -x], [-y, x, 0]])
    angle = np.radians(degrees)
    return np.eye(3) + np.sin(angle) * cross + (1 - np.cos(angle)) * cross @ cross


@dataclass(frozen=True)
class PlainGolfer:
    """Degrees and metres. `still`: no turn of the thorax, so that rotations have one axis. arm_turn, club_turn : about
    `travel`, the answer of arm and club."""

    flexion: float = 30.0
    tilt: float = 14.0
    shift: tuple[float, float, float] = (0.0, 0.0, 0.0)
    turn: float = 0.0
    bend: float = 12.0  # of the lead elbow
    arm_slope: float = 72.0
    club_slope: float = 58.0
    still: bool = False
    place: tuple[float, float, float] = (0.0, 0.0, 0.0)  # of the whole golfer
    arm_turn: float = 0.0
    club_turn: float = 0.0
    travel: tuple[float, float, float] = (1.0, 0.0, 0.0)

    def pivot(self) -> np.ndarray:
        """The point about which the thorax turns."""
        return HIPS + np.array([0.0, 0.12, 0.0]) + np.array(self.shift) + np.array(self.place)

    def thorax(self, t: float) -> np.ndarray:
        """(3, 3) axes as columns: golfer's frame, then turn (up), tilt (forward), bend (to the trail side)."""
        golfer = np.column_stack([[0, 0, 1], [0, 1, 0], [-1, 0, 0]]).astype(float)
        facing = (0.0 if self.still else float(TURN(t))) + self.turn
        return golfer @ turned(1, facing) @ turned(0, self.tilt) @ turned(2, -self.flexion)

    def hub(self, t: float) -> np.ndarray:
        """The lead shoulder: 0.17 of the distance between the acromia below the acromion, along the thorax."""
        return self.pivot() + self.thorax(t) @ (np.array(THORAX["acromion_left"]) - [0, 0.17 * 0.36, 0])

    def reach(self) -> float:
        """Shoulder to wrist."""
        cosine = np.cos(np.radians(self.bend))
        return float(np.sqrt(UPPER_ARM**2 + FOREARM**2 + 2 * UPPER_ARM * FOREARM * cosine))

    def arm(self, t: float) -> np.ndarray:
        """Shoulder to wrist, a vector."""
        return about(np.array(self.travel), self.arm_turn) @ (
            self.reach() * hanging(float(ARM(t)), self.arm_slope)
        )

    def club(self, t: float) -> np.ndarray:
        """Wrist to clubhead, a vector."""
        return about(np.array(self.travel), self.club_turn) @ (
            CLUB * hanging(float(ARM(t) + WRIST(t)), self.club_slope)
        )

    def head(self, t: float) -> np.ndarray:
        """(3,) the clubhead, as if there were no ball."""
        return self.hub(t) + self.arm(t) + self.club(t)

    def points(self, t: float) -> dict[str, np.ndarray]:
        """Landmark -> (3,)."""
        hips = HIPS + np.array(self.shift) + np.array(self.place)
        lead = {
            "hip": (0.09, 0.0, 0.0), "asis": (0.12, 0.08, 0.05), "psis": (0.05, 0.08, -0.10), "heel": (0.2, 0.02, -0.8),
            "ankle": (0.2, 0.08, -0.74), "knee": (0.15, 0.49, -0.60),
        }  # fmt: skip
        spots = {}
        for stem, spot in lead.items():
            origin = hips if stem in ("hip", "asis", "psis") else np.array(self.place)
            spots[f"{stem}_left"] = origin + np.array(spot)
            spots[f"{stem}_right"] = origin + np.array(spot) * [-1.0, 1.0, 1.0]
        spots |= {n: self.pivot() + self.thorax(t) @ np.array(p) for n, p in THORAX.items()}
        hub, wrist = self.hub(t), self.hub(t) + self.arm(t)
        out = np.cross(self.arm(t), self.club(t))
        out /= np.linalg.norm(out)
        spots["wrist_radial_left"], spots["wrist_ulnar_left"] = wrist + 0.03 * out, wrist - 0.03 * out
        spots["wrist_radial_right"] = spots["wrist_ulnar_right"] = wrist + 0.10 * self.club(t)
        along = self.arm(t) / self.reach()
        part = (UPPER_ARM**2 - FOREARM**2 + self.reach() ** 2) / (2 * self.reach())
        off = np.sqrt(max(UPPER_ARM**2 - part**2, 0.0))
        spots["elbow_left"] = hub + part * along + off * out
        spots["clubhead"] = self.head(t)
        spots["club_butt"] = wrist - 0.06 * self.club(t)
        spots["club_shaft_1"] = wrist + 0.4 * self.club(t)
        spots["ball"] = BALL
        return spots


def hanging(angle: float, slope: float) -> np.ndarray:
    """(3,) unit vector in a plane that rises away from the ball: 0 down the slope, 90 to the target."""
    a, s = np.radians([angle, slope])
    upslope = np.array([0.0, np.sin(s), -np.cos(s)])
    return -np.cos(a) * upslope + np.sin(a) * np.array([1.0, 0.0, 0.0])


def placed(golfer: PlainGolfer) -> PlainGolfer:
    """The golfer moved so that the face meets the ball at time 0."""
    way = velocity(golfer.head, 0.0)
    return replace(golfer, place=tuple(BALL - BALL_RADIUS_M * way / np.linalg.norm(way) - golfer.head(0.0)))


def velocity(path: Callable[[float], np.ndarray], t: float) -> np.ndarray:
    """(3,) m/s."""
    return (path(t + 1e-5) - path(t - 1e-5)) / 2e-5


def contact_time(path: Callable[[float], np.ndarray]) -> float:
    """When the ball's centre is one radius ahead along the path."""

    def ahead(t: float) -> float:
        way = velocity(path, t)
        return float((BALL - path(t)) @ way / np.linalg.norm(way)) - BALL_RADIUS_M

    return float(brentq(ahead, -0.012, 0.012))


def true_strike(path: Callable[[float], np.ndarray]) -> dict[str, float]:
    """Attack angle, path and low point of a path, in the kit's names and units."""
    t = contact_time(path)
    way = velocity(path, t)
    low = brentq(lambda s: float(velocity(path, s)[1]), t - 0.012, t + 0.02)
    return {
        "attack_angle_deg": float(np.degrees(np.arctan2(way[1], np.hypot(way[0], way[2])))),
        "club_path_in_to_out_deg": float(np.degrees(np.arctan2(way[2], way[0]))),
        "low_point_ahead_cm": 100 * float(path(low)[0]),
    }


def meeting_the_ball(golfer: PlainGolfer, before: PlainGolfer) -> PlainGolfer:
    """Arm and club turned about the direction of travel so that the path passes the ball as it did before."""
    way = velocity(before.head, contact_time(before.head))
    travel = tuple(way / np.linalg.norm(way))

    def beside(path: Callable[[float], np.ndarray]) -> np.ndarray:
        t = contact_time(path)
        way = velocity(path, t) / np.linalg.norm(velocity(path, t))
        apart = path(t) - BALL
        away = np.cross([1.0, 0.0, 0.0], [0.0, 1.0, 0.0])
        return np.array([apart[1] - way[1] * (apart @ way), (apart - way * (apart @ way)) @ away])

    def miss(angles: np.ndarray) -> np.ndarray:
        tried = replace(golfer, travel=travel, arm_turn=angles[0], club_turn=angles[1])
        return 100 * (beside(tried.head) - beside(before.head))

    found = root(miss, np.zeros(2), tol=1e-10)
    assert found.success
    return replace(golfer, travel=travel, arm_turn=found.x[0], club_turn=found.x[1])


def capture(golfer: PlainGolfer, rate_hz: float = 500.0, *, ball_takes: float = 0.0) -> Trial:
    """The golfer's swing as a trial, without noise. ball_takes : share of the clubhead's speed lost at contact."""
    time = np.arange(-1.55, 0.42, 1 / rate_hz)
    contact = contact_time(golfer.head) if ball_takes else np.inf
    slowed = [contact + (1 - ball_takes) * (t - contact) if t > contact else t for t in time]
    rows = [golfer.points(t) for t in time]
    names = tuple(rows[0])
    points = np.array([[row[n] for n in names] for row in rows])
    if ball_takes:
        points[:, names.index("clubhead")] = [golfer.head(t) for t in slowed]
    return Trial(
        "s1", "G01", "s1.c3d", "right", "markers", rate_hz, time - time[0], names, points, points.copy(),
        np.zeros(points.shape[:2], dtype=bool), np.full(len(names), 1e-6),
        Setup(soled_at_address=True, reference_behind_face_cm=0.0), BALL.copy(), "marker", 0.0, -time[0],
    )  # fmt: skip


def no_events(events: Events) -> list[str]:
    """Names of the events that are missing."""
    return [event.name for event in events.events if not np.isfinite(event.time_s)]
