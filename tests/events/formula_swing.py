"""Swings by formula, with the exact times of their events, for testing the events alone.

A lead arm and a club turn in a tilted plane about a moving shoulder; their angles are smooth functions of
time (quintic splines through a few knots), so every event is the root of a known function. At impact the
club loses speed and the path may kink. This is not the made golfer of `simulate`: nothing is shared.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from scipy.interpolate import make_interp_spline
from scipy.optimize import brentq
from scipy.signal import butter, filtfilt

from swinglab.conventions import BALL_RADIUS_M
from swinglab.records import Setup, Trial

BODY = ("acromion_left", "acromion_right", "wrist_radial_left", "wrist_ulnar_left", "wrist_radial_right",
        "wrist_ulnar_right")  # fmt: skip
CLUB = ("club_butt", "club_shaft_1", "club_hosel", "clubhead")


@dataclass
class FormulaSwing:
    """Parameters of one swing (degrees, metres, seconds) and its exact positions at any time."""

    inclination: float = 55.0
    direction: float = 3.0  # the plane's heading off the target line
    address_s: float = 0.6
    backswing_s: float = 0.8
    downswing_s: float = 0.26
    through_s: float = 0.75
    arm_top: float = -135.0
    cock_top: float = -95.0
    arm_m: float = 0.66
    club_m: float = 1.0
    speed_loss: float = 0.2
    kink: float = 2.0
    slow: float = 1.0  # by how much the takeaway's start is slower
    size: float = 1.0  # of the backswing
    waggle: float = 0.0  # degrees of wrist motion before takeaway
    off_plane: float = 0.06  # radians of shaft off the plane, varying
    reference_cm: float = 0.0
    lateral_m: float = 0.0  # by how far the path misses the ball's centre, sideways
    events: dict[str, float] = field(default_factory=dict)

    def __post_init__(self) -> None:
        a, top = self.address_s, self.address_s + self.backswing_s
        bottom, end = top + self.downswing_s, top + self.downswing_s + self.through_s
        b, d = self.backswing_s, self.downswing_s
        t = [a - 0.4, a - 0.2, a - 0.1, a, a + 0.1 * b, a + 0.25 * b, a + 0.55 * b, a + 0.8 * b,
             top, top + 0.3 * d, top + 0.62 * d, top + 0.85 * d,
             bottom, bottom + 0.035, bottom + 0.09, bottom + 0.2, bottom + 0.45, end, end + 0.3]  # fmt: skip
        arm = [4, 4, 4, 4, 1.5, -17, -78, self.arm_top + 17,
               self.arm_top, self.arm_top + 17, -72, -24,
               8, 31, 64, 108, 150, 166, 168]  # fmt: skip
        cock = [-4, -4, -4, -4, -4.4, -8, -45, self.cock_top + 14,
                self.cock_top, self.cock_top - 2, self.cock_top + 6, -62,
                -2, 54, 98, 116, 121, 120, 120]  # fmt: skip
        for angles in (arm, cock):  # a shorter backswing, all else alike
            angles[4:12] = [angles[0] + self.size * (angle - angles[0]) for angle in angles[4:12]]
        self._arm, self._cock = (make_interp_spline(t, np.radians(y), k=5) for y in (arm, cock))
        self._start, self._stop = t[0], t[-1]
        self.duration_s = end + 0.1
        i, h = np.radians(self.inclination), np.radians(self.direction)
        self._e1 = np.array([np.cos(h), 0, np.sin(h)])
        across = np.array([-np.sin(h), 0, np.cos(h)])
        self._e2 = np.array([0, np.sin(i), 0]) - np.cos(i) * across
        self._normal = np.cross(self._e1, self._e2)
        self._ball_time = bottom - 0.004
        self._shoulder0 = np.zeros(3)
        self.ball_m = np.zeros(3)
        self.impact_s = np.inf
        # place the shoulder so that the undisturbed path meets the ball at the chosen time
        head, before = self._free(self._ball_time)["clubhead"], self._free(self._ball_time - 1e-5)["clubhead"]
        along = (head - before) / np.linalg.norm(head - before)
        side = np.cross(along, [0, 1, 0])
        self.ball_m = np.array([0, BALL_RADIUS_M, 0])
        reach = BALL_RADIUS_M + self.reference_cm / 100
        self._shoulder0 = self.ball_m - along * reach + side * self.lateral_m - head
        self.impact_s = self._ball_time
        self._find_events()

    def _angles(self, t: float | np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        t = np.asarray(t, float)
        x = np.clip((t - self.address_s) / self.backswing_s, 0.0, 1.0)
        late = (1 - 1 / self.slow) * x * (1 - x) ** 4 * self.backswing_s
        s = np.clip(t - late, self._start, self._stop)
        arm, cock = self._arm(s), self._cock(s)
        still = np.asarray(s < self.address_s - 0.2)
        arm, cock = (
            np.where(still, self._arm(self._start), arm),
            np.where(still, self._cock(self._start), cock),
        )
        centre, width = self.address_s - 0.32, 0.05
        cock = cock + np.radians(self.waggle) * np.exp(-(((t - centre) / width) ** 2))
        return arm, cock

    def _free(self, t: float | np.ndarray, club_lag: float | np.ndarray = 0.0) -> dict[str, np.ndarray]:
        t = np.asarray(t, float)
        arm, cock = self._angles(t)
        shaft = arm + cock - club_lag
        # everything but arm and club moves in the course of the swing alone: u runs from 0 to 1
        u = np.clip((t - self.address_s) / (self.duration_s - 0.3 - self.address_s), 0.0, 1.0)
        u = u**4 * (35 - 84 * u + 70 * u**2 - 20 * u**3)
        bow = self.off_plane * np.sin(5 * u + 0.4)
        sway, rise = 0.06 * np.sin(3 * u), 0.03 * np.sin(4 * u)
        shoulder = self._shoulder0 + sway[..., None] * self._e1 + rise[..., None] * np.array([0, 1, 0])

        def ray(angle: np.ndarray, lift: float | np.ndarray) -> np.ndarray:
            flat = np.sin(angle)[..., None] * self._e1 - np.cos(angle)[..., None] * self._e2
            lift = np.broadcast_to(lift, angle.shape)[..., None]
            return np.cos(lift) * flat + np.sin(lift) * self._normal

        wrist = shoulder + self.arm_m * ray(arm, 0.12 + 0.03 * np.sin(4 * u))
        along, off = ray(shaft, bow), ray(shaft + np.pi / 2, 0.0)
        trail_shoulder = shoulder - 0.33 * self._e1 + 0.05 * np.sin(2 * u)[..., None] * np.array([0, 1, 0])
        grip = wrist + 0.1 * along
        return {
            "acromion_left": shoulder,
            "acromion_right": trail_shoulder,
            "wrist_radial_left": wrist + 0.03 * off,
            "wrist_ulnar_left": wrist - 0.03 * off,
            "wrist_radial_right": grip + 0.03 * off,
            "wrist_ulnar_right": grip - 0.03 * off,
            "club_butt": wrist - 0.05 * along,
            "club_shaft_1": wrist + 0.45 * along,
            "club_hosel": wrist + (self.club_m - 0.04) * along,
            "clubhead": wrist + self.club_m * along + 0.035 * off,
        }

    def points(self, t: float | np.ndarray) -> dict[str, np.ndarray]:
        """Positions at any time, the club slowed and its path kinked after impact."""
        t = np.asarray(t, float)
        since = np.maximum(t - self.impact_s, 0.0)
        h = 1e-6
        rate = np.diff(np.add(*self._angles(np.array([self.impact_s - h, self.impact_s]))))[0] / h
        # the lag grows at the lost rate and is made up within about 60 ms
        lag = self.speed_loss * rate * since * np.exp(-((since / 0.06) ** 2))
        points = self._free(t, lag)
        turn = np.tan(np.radians(self.kink)) * 30.0 * since * np.exp(-((since / 0.06) ** 2))
        for name, share in zip(CLUB, (0.0, 0.45, 0.95, 1.0), strict=True):
            points[name] = points[name] - share * turn[..., None] * np.array([0, 1, 0])
        return points

    # --- exact events ---------------------------------------------------------------------------------

    def elevation(self, which: str, t: float | np.ndarray) -> np.ndarray:
        p = self.points(t)
        if which == "shaft":
            way = p["club_hosel"] - p["club_butt"]
        else:
            side = "left" if which == "lead_arm" else "right"
            way = (p[f"wrist_radial_{side}"] + p[f"wrist_ulnar_{side}"]) / 2 - p[f"acromion_{side}"]
        return np.degrees(np.arcsin(way[..., 1] / np.linalg.norm(way, axis=-1)))

    def speed(self, t: float | np.ndarray) -> np.ndarray:
        h = 1e-5
        t = np.asarray(t, float)
        return np.linalg.norm(self.points(t + h)["clubhead"] - self.points(t - h)["clubhead"], axis=-1) / (
            2 * h
        )

    def _root(self, f, lo: float, hi: float, rising: bool, pick: str) -> float:
        grid = np.linspace(lo, hi, 6000)
        sign = np.sign(f(grid)) * (1 if rising else -1)
        hits = np.flatnonzero((sign[:-1] < 0) & (sign[1:] >= 0))
        if not len(hits):
            return np.nan
        k = hits[0 if pick == "first" else -1]
        return brentq(lambda x: float(f(np.array(x))), grid[k], grid[k + 1], xtol=1e-10)

    def _find_events(self) -> None:
        impact, end = self.impact_s, self.duration_s
        mid = self.address_s + 0.5 * self.backswing_s
        takeaway = self._root(lambda t: self.speed(t) - 0.2, 0.0, mid, True, "last")

        def shaft_angle_rate(t: np.ndarray) -> np.ndarray:
            h = 1e-5
            return (np.add(*self._angles(t + h)) - np.add(*self._angles(t - h))) / (2 * h)

        top = self._root(shaft_angle_rate, mid, impact - 0.1, True, "last")
        e = {
            "takeaway": takeaway,
            "top": top,
            "impact": impact,
            "finish": self._root(lambda t: self.speed(t) - 1.0, impact + 0.01, end, False, "first"),
        }
        table = [
            ("shaft_horizontal_back", "shaft", 0, takeaway, top, True, "first"),
            ("lead_arm_horizontal_back", "lead_arm", 0, takeaway, top, True, "first"),
            ("lead_arm_horizontal_down", "lead_arm", 0, takeaway, impact, False, "last"),
            ("shaft_45_down", "shaft", 45, top, impact, False, "last"),
            ("shaft_horizontal_down", "shaft", 0, top, impact, False, "last"),
            ("shaft_horizontal_through", "shaft", 0, impact + 1e-6, end, True, "first"),
            ("trail_arm_horizontal_through", "trail_arm", 0, impact + 1e-6, end, True, "first"),
        ]
        for name, which, level, lo, hi, rising, pick in table:
            e[name] = self._root(lambda t, w=which, v=level: self.elevation(w, t) - v, lo, hi, rising, pick)
        self.events = e

    # --- the trial ------------------------------------------------------------------------------------

    def trial(
        self, *, rate_hz: float = 240.0, noise_mm: float = 0.0, seed: int = 0, phase: float = 0.0,
        start_s: float = 0.0, stop_s: float | None = None, landmarks: tuple[str, ...] = (*BODY, *CLUB),
        kind: str = "markers", ball: bool = True, cutoff_hz: float = 15.0, **setup: object,
    ) -> Trial:  # fmt: skip
        """The swing as a Trial; `phase` shifts the frames by a part of one frame. Times count from frame 0."""
        stop_s = self.duration_s if stop_s is None else stop_s
        time = np.arange(0, stop_s - start_s - phase / rate_hz, 1 / rate_hz)
        self.first_frame_s = start_s + phase / rate_hz
        exact = self.points(time + self.first_frame_s)
        for side in ("left", "right"):
            exact[f"wrist_{side}"] = (exact[f"wrist_radial_{side}"] + exact[f"wrist_ulnar_{side}"]) / 2
            exact[f"shoulder_{side}"] = exact[f"acromion_{side}"]
        raw = np.stack([exact[name] for name in landmarks], axis=1)
        raw = raw + np.random.default_rng(seed).normal(0, noise_mm / 1000, raw.shape)
        points = raw.copy()
        body = [k for k, name in enumerate(landmarks) if not name.startswith("club")]
        fc = min(cutoff_hz, 0.2 * rate_hz)
        design = rate_hz / np.pi * np.arctan(np.tan(np.pi * fc / rate_hz) / 0.80224)
        b, a = butter(2, design / (rate_hz / 2))
        points[:, body] = filtfilt(b, a, raw[:, body], axis=0)
        return Trial(
            swing="made", golfer="X", file="made.c3d", hand="right", kind=kind, rate_hz=rate_hz, time_s=time,
            landmarks=landmarks, points_m=points, raw_m=raw, filled=np.zeros(raw.shape[:2], bool),
            noise_m=np.full(len(landmarks), noise_mm / 1000),
            setup=Setup(**{"reference_behind_face_cm": self.reference_cm, **setup}),  # type: ignore[arg-type]
            ball_m=self.ball_m if ball else None, ball_method="marker" if ball else "none",
            contact_time_s=None,
        )  # fmt: skip

    def truth(self, name: str) -> float:
        """Seconds from the first frame of the trial made last."""
        return self.events[name] - self.first_frame_s

    def times(self) -> dict[str, float]:
        """Every event of the trial made last, seconds from its first frame."""
        return {name: self.truth(name) for name in self.events}


def various_swings(number: int, seed: int) -> list[FormulaSwing]:
    """Swings of different planes, tempos, tops, takeaways and balls."""
    rng = np.random.default_rng(seed)
    return [
        FormulaSwing(
            inclination=rng.uniform(50, 62), direction=rng.uniform(-4, 6), backswing_s=rng.uniform(0.65, 1.0),
            downswing_s=rng.uniform(0.22, 0.32), arm_top=rng.uniform(-150, -120), cock_top=rng.uniform(-115, -80),
            kink=rng.uniform(0, 4), speed_loss=rng.uniform(0.18, 0.24), slow=rng.uniform(1, 3),
            lateral_m=rng.uniform(-0.02, 0.02),
        )
        for _ in range(number)
    ]  # fmt: skip
