"""A simulated golfer, with parameters solved so that the club is behind the ball at address and hits it at impact."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace

import numpy as np
from scipy.interpolate import CubicSpline, PPoly
from scipy.optimize import least_squares

from swinglab.conventions import BALL_RADIUS_M
from swinglab.errors import BadRequest, near_names
from swinglab.simulate.body import CLUBS, Body
from swinglab.simulate.curves import through_knots
from swinglab.simulate.linkage import Mover, Solved, move
from swinglab.simulate.parameters import CURVES, KNOTS, GolferParameters, Tempo

BEFORE_S, AFTER_S = 0.25, 0.45  # duration of the rest before address and after finish
#: Time step of finite differences.
DT_S = 2e-4
#: Share of the backswing after which the lead arm is about horizontal.
BACK_SHARE = 0.56


@dataclass(frozen=True, slots=True, eq=False)
class Golfer:
    """A simulated golfer whose habitual swing hits the ball.

    knots : values of the posture curves of the habitual swing at the key moments of the swing, shape (number of key
    moments, number of curves). solved : parameters that were solved by `make_golfer`. home_m : (3,) position of the
    clubhead at nominal impact, which is the time of impact of the habitual swing. steering : (2, 2) displacement of the
    clubhead at nominal impact, in cm up and toward the ball (rows), for one degree more inclination of the plane of the
    lead arm and of that of the shaft (columns).
    """

    parameters: GolferParameters
    body: Body
    knots: np.ndarray
    solved: Solved
    home_m: np.ndarray
    steering: np.ndarray

    @property
    def name(self) -> str:
        """Code of the golfer, such as "G01"."""
        return self.parameters.name

    def habit(self, curve: str, knot: str) -> float:
        """Return the value of a posture curve at a key moment (knot) of the habitual swing, in its unit."""
        return float(self.knots[KNOTS.index(knot), CURVES.index(curve)])


def knot_times(tempo: Tempo, curve: str) -> np.ndarray:
    """Return the times of the key moments (knots) of a posture curve, in s from nominal impact.

    The shape is (number of knots,). Pelvis and thorax reach their knots earlier than the arms.
    Nominal impact is the time of impact of the golfer's habitual swing.
    """
    lead = {"pelvis": tempo.pelvis_leads_s, "thorax": tempo.thorax_leads_s}.get(curve.split("_")[0], 0.0)
    top = -tempo.downswing_s
    start = top - tempo.backswing_s
    back = start + BACK_SHARE * tempo.backswing_s
    return np.array([start, back, top - lead, -0.055, 0.0, tempo.through_s, tempo.follow_s])


def make_curves(tempo: Tempo, knots: np.ndarray) -> CubicSpline:
    """Return the posture curves of one swing as functions of time.

    `knots` : values at the key moments, (number of knots, number of curves).
    """
    takeaway = -tempo.downswing_s - tempo.backswing_s
    span = (takeaway - tempo.still_s - BEFORE_S, tempo.follow_s + AFTER_S)
    families: dict[tuple[float, ...], list[int]] = {}
    for column, name in enumerate(CURVES):
        families.setdefault(tuple(knot_times(tempo, name)), []).append(column)
    pieces = {times: through_knots(np.array(times), knots[:, columns], *span)
              for times, columns in families.items()}  # fmt: skip
    grid = next(iter(pieces.values())).x
    values = np.empty((len(grid), len(CURVES)))
    for times, columns in families.items():
        values[:, columns] = pieces[times](grid)
    return CubicSpline(grid, values)


def head_at_impact(mover: Mover) -> tuple[np.ndarray, np.ndarray]:
    """Return position (3,), m, and velocity (3,), m/s, of the clubhead at nominal impact (time 0).

    Nominal impact is the time of impact of the golfer's habitual swing.
    """
    before, at, after = move(mover, np.array([-DT_S, 0.0, DT_S])).clubhead
    return at, (after - before) / (2 * DT_S)


def make_golfer(**parameters: object) -> Golfer:
    """Return a simulated golfer whose club is behind the ball at address and hits it in the habitual swing.

    Parameters
    ----------
    **parameters
        Fields of `GolferParameters` (name, hand, stature_m, club, habit, tempo, stance, aim, compensation, ...); all
        have defaults. The unit is the end of the name.

    Returns
    -------
    Golfer

    Raises
    ------
    BadRequest
        An unknown parameter, club or hand, or a body that cannot reach the ball with these habits.

    Examples
    --------
    >>> golfer = make_golfer(name="G01", stature_m=1.80)
    >>> golfer.parameters.club
    '7 iron'
    """
    known = [item.name for item in fields(GolferParameters)]
    unknown = sorted(set(parameters) - set(known))
    if unknown:
        raise BadRequest(
            f"a simulated golfer has no parameter {', '.join(unknown)}",
            do=near_names(unknown[0], known) or f"use {', '.join(known)}",
        )
    asked = GolferParameters(**parameters)  # type: ignore[arg-type]
    if asked.club not in CLUBS:
        raise BadRequest(
            f"a simulated golfer cannot have the club {asked.club}", do=f"choose one of {', '.join(CLUBS)}"
        )
    if asked.hand not in ("right", "left"):
        raise BadRequest(
            f"the parameter hand of a simulated golfer must be right or left, not {asked.hand}",
            do="set hand to right or left",
        )
    body = Body(asked.stature_m, asked.sex, asked.mass_kg)
    knots = np.column_stack([getattr(asked.habit, name) for name in CURVES])
    solved = Solved()
    knots, solved = _solve_impact(asked, body, knots, solved)
    knots, solved = _solve_address(asked, body, knots, solved)
    knots, solved = _solve_impact(asked, body, knots, solved)  # the address changed the later curves slightly
    knots, solved = _solve_address(asked, body, knots, solved)
    home, steering = _steering(asked, body, knots, solved)
    return Golfer(asked, body, knots, solved, home, steering)


def _mover(asked: GolferParameters, body: Body, knots: np.ndarray, solved: Solved) -> Mover:
    curves = make_curves(asked.tempo, knots)
    return Mover(body, CLUBS[asked.club], asked.tempo, asked.stance, solved, curves)


def _with(knots: np.ndarray, changes: dict[tuple[str, str], float]) -> np.ndarray:
    changed = knots.copy()
    for (curve, knot), value in changes.items():
        changed[KNOTS.index(knot), CURVES.index(curve)] = value
    return changed


def _solve_impact(
    asked: GolferParameters, body: Body, knots: np.ndarray, solved: Solved
) -> tuple[np.ndarray, Solved]:
    """Solve six free parameters for six aims at impact.

    The parameters are the position of the feet (2), shaft plane, wrist angle, plane direction and release duration.
    """
    aim, club = asked.aim, CLUBS[asked.club]
    target = np.array([-BALL_RADIUS_M, club.face_up_m + aim.sole_at_impact_cm / 100, 0.0])
    slope = knots[KNOTS.index("impact"), CURVES.index("shaft_plane_deg")]
    here, steeper = (
        make_curves(asked.tempo, _with(knots, {("shaft_plane_deg", "impact"): slope + d})) for d in (0.0, 1.0)
    )

    def unpack(x: np.ndarray) -> tuple[np.ndarray, Solved]:
        new = replace(
            solved, stance_x_m=x[0] / 100, stance_z_m=x[1] / 100, wrist_impact_deg=x[3],
            plane_direction_deg=x[4], release_lasts_s=x[5] / 100,
        )  # fmt: skip
        return _with(knots, {("shaft_plane_deg", "impact"): x[2]}), new

    def miss(x: np.ndarray) -> np.ndarray:
        # The curves depend almost linearly on the knot that is solved; the second iteration corrects the rest.
        curves = PPoly.construct_fast(here.c + (x[2] - slope) * (steeper.c - here.c), here.x)
        mover = Mover(body, club, asked.tempo, asked.stance, unpack(x)[1], curves)
        place, velocity = head_at_impact(mover)
        speed = np.linalg.norm(velocity)
        attack = np.degrees(np.arcsin(velocity[1] / speed))
        path = np.degrees(np.arctan2(velocity[2], velocity[0]))
        return np.array([
            *(100 * (place - target)), attack - aim.attack_angle_deg, path - aim.club_path_in_to_out_deg,
            speed - aim.clubhead_speed_mps,
        ])  # fmt: skip

    start = np.array([100 * solved.stance_x_m, 100 * solved.stance_z_m, slope, solved.wrist_impact_deg,
                      solved.plane_direction_deg, 100 * solved.release_lasts_s])  # fmt: skip
    low = np.array([-60.0, -150.0, 45.0, -45.0, -30.0, 14.0])
    high = np.array([60.0, -30.0, 80.0, 20.0, 30.0, 60.0])
    found = least_squares(miss, start, bounds=(low, high), x_scale=[5, 5, 3, 5, 3, 2], xtol=1e-12, ftol=1e-14)
    if np.abs(found.fun).max() > 1e-3:
        raise BadRequest(
            f"the simulated golfer {asked.name} cannot hit the ball with these habits "
            f"(remaining errors in cm, deg and m/s: {np.round(found.fun, 2)})",
            do="choose values of aim and habit that are closer to the defaults",
        )  # fmt: skip
    return unpack(found.x)


def _solve_address(
    asked: GolferParameters, body: Body, knots: np.ndarray, solved: Solved
) -> tuple[np.ndarray, Solved]:
    """Solve for a sole flat on the turf behind the ball, with the smallest change of the requested address."""
    club = CLUBS[asked.club]
    back = BALL_RADIUS_M + asked.aim.head_behind_ball_cm / 100
    target = np.array([-back, club.face_up_m, 0.0])
    time = knot_times(asked.tempo, "")[0] - asked.tempo.still_s / 2
    names = ("lead_arm_plane_deg", "thorax_flexion_deg", "pelvis_toward_ball_cm", "pelvis_up_cm")
    row = KNOTS.index("address")
    habit = np.array([getattr(asked.habit, name)[row] for name in names])
    prior = np.array([*habit, 2.0, asked.tempo.address_lean_deg * -1.0])
    spread = np.array([8.0, 3.0, 2.0, 1.0, 8.0, 2.0])

    def unpack(x: np.ndarray) -> tuple[np.ndarray, Solved]:
        changes = {(name, "address"): value for name, value in zip(names, x[:4], strict=True)}
        changes["shaft_plane_deg", "address"] = club.lie_deg
        return _with(knots, changes), replace(solved, arm_address_deg=x[4], shaft_address_deg=x[5])

    def place(x: np.ndarray) -> np.ndarray:
        new_knots, new_solved = unpack(x)
        still = CubicSpline([time - 1, time + 1], np.tile(new_knots[row], (2, 1)))  # nothing moves yet
        mover = Mover(body, club, asked.tempo, asked.stance, new_solved, still)
        return move(mover, np.array([time])).clubhead[0]

    def miss(x: np.ndarray) -> np.ndarray:
        return np.concatenate([3000 * (place(x) - target), (x - prior) / spread])

    x = least_squares(miss, prior).x
    for _ in range(4):  # final correction: the least-norm step onto the target
        gap = target - place(x)
        slope = np.column_stack([(place(x + 1e-4 * e) - place(x)) / 1e-4 for e in np.eye(6)])
        weighted = slope * spread
        x = x + spread * (np.linalg.pinv(weighted) @ gap)
    if np.linalg.norm(place(x) - target) > 1e-6 or np.abs((x - prior) / spread).max() > 8:
        raise BadRequest(
            f"the club of the simulated golfer {asked.name} does not reach the turf behind the ball at address",
            do="change the posture at address",
        )
    return unpack(x)


def _steering(
    asked: GolferParameters, body: Body, knots: np.ndarray, solved: Solved
) -> tuple[np.ndarray, np.ndarray]:
    base, _ = head_at_impact(_mover(asked, body, knots, solved))
    columns = []
    for curve in ("lead_arm_plane_deg", "shaft_plane_deg"):
        value = knots[KNOTS.index("impact"), CURVES.index(curve)]
        moved, _ = head_at_impact(_mover(asked, body, _with(knots, {(curve, "impact"): value + 1}), solved))
        columns.append(100 * (moved - base)[1:])
    return base, np.column_stack(columns)
