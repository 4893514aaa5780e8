"""A simulated swing: trajectories of markers as in a capture, and all true values."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np

from swinglab.conventions import (
    BALL_LANDMARK,
    CENTRE_LANDMARKS,
    CLUB_LANDMARKS,
    MARKER_LANDMARKS,
    SHAFT_POINT_STEM,
)
from swinglab.errors import BadRequest, near_names
from swinglab.records import Setup, Trial
from swinglab.simulate.body import CLUBS
from swinglab.simulate.golfer import Golfer, make_curves
from swinglab.simulate.impact import BALL_AT_REST_M, ball_path, collide, find_impact, head_path
from swinglab.simulate.limbs import place_landmarks
from swinglab.simulate.linkage import Mover, move
from swinglab.simulate.parameters import CURVES, KNOTS
from swinglab.simulate.posture import is_from_address, measure_true_posture
from swinglab.simulate.truth import find_true_events, measure_true_strike, true_contact

#: Knots to which a change of posture given as a single number applies.
LATE_KNOTS = ("delivery", "impact", "through")
Offsets = Mapping[str, float | Mapping[str, float]]


@dataclass(frozen=True, eq=False)
class Swing:
    """A simulated swing, always as a right-hander in the study frame (metres, origin on the turf under the ball).

    points : landmark -> (n, 3) as captured, with noise and gaps. exact : the same without errors. start_s : time of
    the first frame, in s from nominal impact (the time of impact of the golfer's habitual swing). impact_s : time of
    impact, also from nominal impact. noise_m : SD of the noise. offsets : change of posture from the habitual swing.
    kind : "markers" or "joint_centres"; for the events of the arm, the line of the arm begins at the acromion (markers)
    or at the shoulder centre (joint centres).
    """

    name: str
    golfer: Golfer
    mover: Mover
    rate_hz: float
    start_s: float
    impact_s: float
    exact: Mapping[str, np.ndarray]
    points: Mapping[str, np.ndarray]
    noise_m: float = 0.0
    offsets: Mapping[str, Mapping[str, float]] = field(default_factory=dict)
    kind: str = "markers"

    @property
    def time_s(self) -> np.ndarray:
        """Time (n,) of each frame, in s from the first frame."""
        return np.arange(len(next(iter(self.exact.values())))) / self.rate_hz

    @property
    def hand(self) -> str:
        """Hand of the golfer, "right" or "left"."""
        return self.golfer.parameters.hand

    @cached_property
    def _events(self) -> dict[str, float]:
        end = self.start_s + self.time_s[-1]
        arm = "acromion" if self.kind == "markers" else "shoulder"
        return find_true_events(self.mover, self.impact_s, self.start_s, end, arm_from=arm)

    @property
    def true_events(self) -> dict[str, float]:
        """Event -> its true time, in s from the first frame; NaN if it is not in the capture."""
        return {name: time - self.start_s for name, time in self._events.items()}

    @cached_property
    def true_strike(self) -> dict[str, float]:
        """Name -> true value of the quantities in strike.csv, and of `sole_at_impact_cm` (height above the turf)."""
        return measure_true_strike(self.mover, self._events)

    def true_contact(self, *, fat_behind_cm: float = 1.0, thin_above_cm: float = 1.0) -> str:
        """Return the true contact: fat, clean or thin.

        It is fat if the sole meets the turf more than `fat_behind_cm` behind the ball, otherwise thin if the sole is
        higher than `thin_above_cm` at impact, otherwise clean.
        """
        return true_contact(self.true_strike, fat_behind_cm=fat_behind_cm, thin_above_cm=thin_above_cm)

    @cached_property
    def true_curves(self) -> dict[str, np.ndarray]:
        """Return posture quantity -> true values (n,) in all frames; positions in cm from the origin under the ball."""
        return measure_true_posture(self.mover, self.start_s + self.time_s)

    def true_posture(self) -> dict[str, dict[str, float]]:
        """Event -> posture quantity -> its true value; positions are relative to address, as in posture.csv."""
        there = {name: time for name, time in self._events.items() if np.isfinite(time)}
        values = measure_true_posture(self.mover, np.array(list(there.values())))
        at: dict[str, dict[str, float]] = {}
        for k, event in enumerate(there):
            at[event] = {name: float(curve[k]) for name, curve in values.items()}
        address = dict(at.get("address", {}))
        for row in at.values():
            for name in row:
                if is_from_address(name):
                    row[name] -= address.get(name, np.nan)
        return at

    def trial(self, setup: Setup | None = None, *, kind: str = "markers") -> Trial:
        """Return this swing as a `Trial`, with points as captured, without gap filling and smoothing.

        `kind` : "markers" or "joint_centres".
        """
        setup = setup or Setup(soled_at_address=True, reference_behind_face_cm=0.0, hand=self.hand)
        names = landmarks_of(kind, self.points)
        points = np.stack([self.points[name] for name in names], axis=1)
        return Trial(
            self.name, self.golfer.name, f"{self.name}.c3d", self.hand, kind, self.rate_hz, self.time_s,
            names, points, points.copy(), np.zeros(points.shape[:2], dtype=bool),
            np.full(len(names), max(self.noise_m, 1e-6)), setup, BALL_AT_REST_M.copy(), "marker", 0.0,
            self.impact_s - self.start_s,
        )  # fmt: skip


def landmarks_of(kind: str, points: Mapping[str, np.ndarray]) -> tuple[str, ...]:
    """Return those landmarks in `points` that a capture contains.

    `kind` : "markers", or "joint_centres" as in a pose table.
    """
    club = [n for n in points if n in CLUB_LANDMARKS or n.startswith(SHAFT_POINT_STEM)]
    body = (
        MARKER_LANDMARKS if kind == "markers" else (*CENTRE_LANDMARKS, *(f"{f}_{s}" for f in ("heel", "toe")
                                                    for s in ("left", "right")))
    )  # fmt: skip
    return (*(n for n in body if n in points), *club, *([BALL_LANDMARK] if BALL_LANDMARK in points else []))


def spread_offsets(posture: Offsets) -> dict[str, dict[str, float]]:
    """Return a change of posture as posture curve -> key moment (knot) -> amount.

    In `posture`, a single number instead of amounts at knots applies from delivery until after impact.
    """
    spread = {}
    for curve, change in posture.items():
        if curve not in CURVES:
            raise BadRequest(
                f"a simulated golfer has no posture curve {curve}",
                do=near_names(curve, CURVES) or f"choose one of {', '.join(CURVES)}",
            )
        at = dict.fromkeys(LATE_KNOTS, float(change)) if isinstance(change, int | float) else dict(change)
        for knot in at:
            if knot not in KNOTS:
                raise BadRequest(
                    f"a posture curve has no key moment (knot) {knot}", do=f"choose one of {', '.join(KNOTS)}"
                )
        spread[curve] = {knot: float(value) for knot, value in at.items()}
    return spread


def vary(golfer: Golfer, posture: Offsets) -> Mover:
    """Return the motion of a golfer's swing with a changed posture; the hands compensate a part of the resulting miss.

    The part is set by `Compensation`. `posture` : as in `make_swing`.
    """
    asked = golfer.parameters
    answer = asked.compensation
    knots = golfer.knots.copy()
    changes = spread_offsets(posture)
    for curve, at in changes.items():
        for knot, change in at.items():
            knots[KNOTS.index(knot), CURVES.index(curve)] += change
    elbow = CURVES.index("lead_elbow_flexion_deg")
    missing_tilt = -changes.get("thorax_lateral_flexion_deg", {}).get("delivery", 0.0)
    for knot in LATE_KNOTS:
        knots[KNOTS.index(knot), elbow] += answer.lead_elbow_per_tilt * missing_tilt
    knots[:, elbow] = np.maximum(knots[:, elbow], 0.5)
    mover = _mover(golfer, knots)
    if not changes:
        return mover
    gap = 100 * (move(mover, np.zeros(1)).clubhead[0] - golfer.home_m)
    turn = np.linalg.solve(golfer.steering, -np.array([answer.up, answer.toward_ball]) * gap[1:])
    for curve, degrees in zip(("lead_arm_plane_deg", "shaft_plane_deg"), turn, strict=True):
        for knot, share in zip(LATE_KNOTS, (0.5, 1.0, 0.5), strict=True):
            knots[KNOTS.index(knot), CURVES.index(curve)] += share * degrees
    return _mover(golfer, knots)


def _mover(golfer: Golfer, knots: np.ndarray) -> Mover:
    asked = golfer.parameters
    return Mover(
        golfer.body,
        CLUBS[asked.club],
        asked.tempo,
        asked.stance,
        golfer.solved,
        make_curves(asked.tempo, knots),
    )


def make_swing(
    golfer: Golfer, posture: Offsets | None = None, *, seed: int = 0, rate_hz: float = 240.0,
    noise_m: float = 0.0, name: str = "", before_s: float | None = None, after_s: float | None = None,
    speed_loss: float | None = None, turn_deg: float | None = None,
) -> Swing:  # fmt: skip
    """Simulate one swing of a golfer.

    Parameters
    ----------
    golfer : Golfer
        The golfer.
    posture : mapping, optional
        Change from the habitual swing: posture curve (a field of `Habit`, in its unit) -> a number, which applies from
        delivery until after impact, or a mapping of key moment (knot) -> number.
    seed : int
        Seed of the random numbers: times of the frames relative to impact, effect of impact on the club, and noise.
    rate_hz : float
        Frame rate.
    noise_m : float
        SD of the noise of one coordinate of a marker, in metres.
    name : str
        Name of the swing.
    before_s, after_s : float, optional
        Duration of the capture before and after impact; by default from address to finish.
    speed_loss : float, optional
        Share of clubhead speed that is lost at impact; by default random between 0.18 and 0.24; 0 for a swing without a
        ball.
    turn_deg : float, optional
        Change of direction of the path at impact; by default random between 0 and 4 degrees.

    Returns
    -------
    Swing

    Raises
    ------
    BadRequest
        An unknown curve or knot, a frame rate of 0 or less, or a posture with which the club misses the ball.

    Examples
    --------
    >>> swing = make_swing(make_golfer(), {"thorax_lateral_flexion_deg": -4.0})  # doctest: +SKIP
    """
    if not rate_hz > 0:
        raise BadRequest(
            f"a swing cannot be simulated with a frame rate of {rate_hz} Hz",
            do="set rate_hz to a number above 0",
        )
    random = np.random.default_rng(seed)
    tempo = golfer.parameters.tempo
    mover = vary(golfer, posture or {})
    path = head_path(mover)
    impact = find_impact(path)
    loss = random.uniform(0.18, 0.24) if speed_loss is None else speed_loss
    turn = random.uniform(0.0, 4.0) if turn_deg is None else turn_deg
    velocity = path(impact, 1)
    if loss > 0:
        mover = collide(mover, impact, speed_loss=loss, turn_deg=turn)
    before = tempo.still_s + tempo.backswing_s + tempo.downswing_s if before_s is None else before_s
    after = tempo.follow_s + 0.1 if after_s is None else after_s
    start = impact - before - random.uniform(0.0, 1.0) / rate_hz
    time = start + np.arange(int((before + after) * rate_hz) + 1) / rate_hz
    exact = place_landmarks(mover, move(mover, time), time)
    exact["ball"] = ball_path(time, impact, velocity, mover.club.loft_deg)
    points = dict(exact)
    if noise_m > 0:
        points = {key: value + random.normal(0.0, noise_m, value.shape) for key, value in exact.items()}
    return Swing(name or f"{golfer.name}_{seed}", golfer, mover, rate_hz, start, impact, exact, points, noise_m,
                 spread_offsets(posture or {}))  # fmt: skip


def as_kind(swing: Swing, kind: str) -> Swing:
    """Return the same swing with its true values defined as for captures of this kind, "markers" or "joint_centres"."""
    return swing if swing.kind == kind else replace(swing, kind=kind)


def with_points(swing: Swing, points: Mapping[str, np.ndarray], noise_m: float) -> Swing:
    """Return the same swing with other captured points, landmark -> (n, 3) m, and the SD of their noise."""
    return replace(swing, points=points, noise_m=noise_m)
