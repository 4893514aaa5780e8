"""Detection of the lab axes, the turf, the unit and the golfer's hand from bodies and swings, with their certainty."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from swinglab.begin import anatomy
from swinglab.begin.decisions import Decision
from swinglab.begin.motion import FoundSwing, direction_at, swung_point
from swinglab.conventions import AXIS_NAMES, BALL_RADIUS_M, axis_vector

#: The long axis of a standing body lies within this angle of vertical (a judgement).
_UP_CERTAIN_DEG, _UP_LIKELY_DEG = 25.0, 40.0
#: Largest angle between clubhead direction at the ball and nearest lab axis for which the target is decided.
TARGET_DEG = 15.0
#: Statures of people, m.
_SMALLEST_M, _TALLEST_M = 1.0, 2.3
#: Lowest and highest place, m above the turf, of a ball on turf or tee, and of a marker on a foot.
_BALL_M, _FOOT_M = (-0.01, 0.1), (-0.02, 0.13)

Points = Mapping[str, np.ndarray]


@dataclass(frozen=True, slots=True, eq=False)
class Body:
    """Landmarks of a capture (name -> (n, 3) positions in metres), its frame rate (Hz) and its swings."""

    points: Points
    rate_hz: float
    swings: tuple[FoundSwing, ...] = ()


def find_up(bodies: Sequence[Body]) -> Decision:
    """Return the decision on which lab axis points up: the axis nearest to the long axes of the bodies."""
    axes = [axis for body in bodies if (axis := anatomy.long_axis(body.points)) is not None]
    if not axes:
        return Decision("up", None, "open", "no capture shows two parts of a body at different heights")
    name, off = nearest_axis(np.mean(axes, axis=0))
    why = f"the long axis of the bodies is {off:.0f} deg from this axis"
    if off > _UP_LIKELY_DEG:
        return Decision("up", None, "open", why, (name,))
    return Decision("up", name, "certain" if off <= _UP_CERTAIN_DEG else "likely", why)


def nearest_axis(vector: np.ndarray) -> tuple[str, float]:
    """Return the name of the lab axis nearest to a vector, and the angle between them in degrees."""
    length = float(np.linalg.norm(vector))
    cosines = {name: float(axis_vector(name) @ vector) / length for name in AXIS_NAMES}
    best = max(cosines, key=lambda name: cosines[name])
    return best, float(np.degrees(np.arccos(np.clip(cosines[best], -1, 1))))


def find_target(bodies: Sequence[Body], up: str | None) -> Decision:
    """Return the decision on which lab axis points to the target: the one along which clubheads pass the ball.

    up : the lab axis that points up; None if not decided. The target line is always one of the lab axes, because
    a line fitted to clubhead directions would bias club path toward 0.
    """
    if up is None:
        return Decision("target", None, "open", "it is not decided which axis points up")
    ways = []
    for body in bodies:
        for swing in body.swings:
            way = way_at_ball(body, swing, up)
            if way is not None:
                level = way - (way @ axis_vector(up)) * axis_vector(up)
                if np.linalg.norm(level) > 0.5:  # steeper directions are not those of a strike
                    ways.append(level / np.linalg.norm(level))
    if not ways:
        return Decision(
            "target", None, "open", "no swing shows the direction in which the club moves through the ball"
        )
    what = (
        "the clubhead's" if all("clubhead" in body.points for body in bodies if body.swings) else "the hands'"
    )
    mean = np.mean(ways, axis=0)
    if np.linalg.norm(mean) < 0.5:
        return Decision("target", None, "open", f"{what} directions at the ball disagree between swings")
    name, off = nearest_axis(mean)
    swings = f"{len(ways)} swing{'s' if len(ways) > 1 else ''}"
    why = f"{what} direction at the ball is {off:.0f} deg from this axis in {swings}"
    if off > TARGET_DEG:
        return Decision("target", None, "open", f"{why}, more than {TARGET_DEG:.0f} deg", (name,))
    return Decision("target", name, "likely", f"{why}; assumed, not measured with an aim line")


def way_at_ball(body: Body, swing: FoundSwing, up: str) -> np.ndarray | None:
    """Return the unit vector (3,) along which the clubhead moves at its lowest point, in lab axes.

    If the clubhead has no landmark, the hands take its place. None if the point is not visible there. up : lab axis
    that points up, such as "+Z".
    """
    path, _ = swung_point(body.points)
    return (
        None if path is None else direction_at(path, _low_time(path, swing, body.rate_hz, up), body.rate_hz)
    )


def _low_time(path: np.ndarray, swing: FoundSwing, rate_hz: float, up: str) -> float:
    """Return the time (s) at which the path is lowest, within 0.15 s of its greatest speed."""
    first = max(0, round((swing.peak_s - 0.15) * rate_hz))
    heights = path[first : round((swing.peak_s + 0.15) * rate_hz) + 1] @ axis_vector(up)
    if not np.isfinite(heights).any():
        return swing.peak_s
    return float((first + int(np.nanargmin(heights))) / rate_hz)


def find_hand(bodies: Sequence[tuple[Body, str | None, str | None]], golfer: str) -> Decision:
    """Return the decision on a golfer's hand, from the direction that the body faces at address.

    bodies : captures of the golfer, each with the lab axes that point up and to the target (None if not decided).
    """
    name = f"hand of {golfer}"
    signs = []
    for body, up, target in bodies:
        if up is None or target is None:
            continue
        side = np.cross(axis_vector(target), axis_vector(up))  # the study's Z, which a right-hander faces
        ways = [_facing(body, swing, up) for swing in body.swings]
        signs += [float(way @ side) for way in ways if way is not None]
    if not signs:
        is_open = all(up is None or target is None for _, up, target in bodies)
        why = (
            "it is not decided which axes point up and to the target"
            if is_open
            else "no swing shows the direction that the body faces"
        )
        return Decision(name, None, "open", why, ("right", "left"))
    rights = sum(sign > 0 for sign in signs)
    if min(rights, len(signs) - rights) > 0 or abs(np.mean(signs)) < 0.5:
        why = (
            f"the body faces as a right-hander's in {rights} of {len(signs)} swings; check whether one golfer made "
            "all of them"
        )
        return Decision(name, None, "open", why, ("right", "left"))
    hand = "left" if np.mean(signs) < 0 else "right"
    return Decision(
        name,
        hand,
        "likely",
        "from the direction that the body faces; a capture with a mirrored axis would give the wrong hand",
    )


def _facing(body: Body, swing: FoundSwing, up: str) -> np.ndarray | None:
    """Return the horizontal unit vector that the body faces before the swing; None where it cannot be determined."""
    start = swing.from_s or 0.0
    first, last = round(start * body.rate_hz), round(max(start + 0.1, swing.peak_s - 1.0) * body.rate_hz) + 1
    early = {name: path[first:last] for name, path in body.points.items()}
    vertical = axis_vector(up)
    for part in ("pelvis", "thorax"):
        _, left, forward = anatomy.directions(early, part)
        for way in (forward, None if left is None else np.cross(left, vertical)):
            if way is None:
                continue
            mean = np.array([anatomy.typical(way[:, axis]) for axis in range(3)])
            level = mean - (mean @ vertical) * vertical
            length = np.linalg.norm(level)
            if np.isfinite(length) and length > 0:
                return level / length
    return None


def find_scale(bodies: Sequence[Body], written: str | None, stated: bool) -> Decision:
    """Return the decision on the unit of length, from the size of the bodies.

    Its value is a unit, or "none" if the segment lengths are those of a person in no unit. written : the unit with
    which the captures were read. stated : whether the files give this unit.
    """
    sizes = np.array([anatomy.stature(body.points) for body in bodies])
    size = anatomy.typical(sizes)
    if not np.isfinite(size):
        return Decision("unit", written, "likely", "no segment length is known with which to check the unit")
    if _SMALLEST_M <= size <= _TALLEST_M:
        why = f"segment lengths are those of a person of about {size:.2f} m"
        return Decision("unit", written, "certain" if stated else "likely", why)
    shown = f"{float(f'{size:.3g}'):g} m"  # 1700 m, not 1.7e+03 m
    factors = {"m": 1.0, "cm": 0.01, "mm": 0.001}
    own = factors.get(written or "m", 1.0)
    fitting = [unit for unit, factor in factors.items() if _SMALLEST_M <= size / own * factor <= _TALLEST_M]
    if fitting:
        why = f"in {written} segment lengths would be those of a person of {shown}"
        return Decision("unit", fitting[0], "likely", why)
    spread = float(np.nanmax(sizes) / np.nanmin(sizes))
    why = f"segment lengths are not those of a person in any unit; in metres the person would be {shown} tall"
    return Decision(
        "unit",
        "none",
        "likely" if spread < 1.5 else "open",
        f"{why}; without a scale, only angles are measured",
    )


def find_ground(bodies: Sequence[Body], up: str | None) -> Decision:
    """Return the decision on the height of the turf, in m along the lab axis `up`, estimated from ball and feet.

    Its value is 0 if the heights of ball and feet fit a turf at height 0. It is None if `up` is not decided (None).
    """
    if up is None:
        return Decision("ground", None, "open", "it is not decided which axis points up")
    ball, foot = _ball_and_foot(bodies, up)
    seen = [
        f"the {what} is {abs(100 * h):.1f} cm {'above' if h >= 0 else 'below'} 0"
        for what, h in (("ball", ball), ("lowest foot marker", foot))
        if np.isfinite(h)
    ]
    if not seen:
        return Decision("ground", 0.0, "open", "neither ball nor feet show where the turf is")
    if is_ground(bodies, up, 0.0):
        return Decision("ground", 0.0, "likely", ", ".join(seen))
    if np.isfinite(ball):
        return Decision(
            "ground",
            round(ball - BALL_RADIUS_M, 4),
            "likely",
            f"{seen[0]}; this is taken as the height of a ball on the turf",
        )
    return Decision(
        "ground",
        round(foot - 0.03, 3),
        "open",
        f"{seen[0]}; a marker on a foot is assumed to be 3 cm above the turf",
    )


def is_ground(bodies: Sequence[Body], up: str, height_m: float) -> bool:
    """Return whether the heights of ball and feet fit a turf at `height_m`, in m along the lab axis `up`.

    The result is also True if neither ball nor feet are seen.
    """
    ball, foot = (height - height_m for height in _ball_and_foot(bodies, up))
    return not (ball < _BALL_M[0] or ball > _BALL_M[1] or foot < _FOOT_M[0] or foot > _FOOT_M[1])


def _ball_and_foot(bodies: Sequence[Body], up: str) -> tuple[float, float]:
    """Typical heights (m) of the ball, and of the lowest marker on a foot, in the first quarter of the captures."""
    balls, feet = [], []
    for body in bodies:
        quarter = max(5, len(next(iter(body.points.values()), np.zeros((0, 3)))) // 4)
        heights = {
            name: anatomy.typical(path[:quarter] @ axis_vector(up)) for name, path in body.points.items()
        }
        balls.append(heights.get("ball", np.nan))
        low = [
            h for name, h in heights.items() if name.startswith(("heel", "toe", "ankle")) and np.isfinite(h)
        ]
        feet.append(min(low) if low else np.nan)
    return anatomy.typical(np.array(balls)), anatomy.typical(np.array(feet))
