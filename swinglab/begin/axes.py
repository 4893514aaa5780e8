"""Detection of up, target, turf, unit and the golfer's hand from bodies and swings, each with its certainty."""

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
#: Heights, m, at which a ball on turf or tee, and a marker on a foot, may lie above a turf at 0.
_BALL_M, _FOOT_M = (-0.01, 0.1), (-0.02, 0.13)

Points = Mapping[str, np.ndarray]


@dataclass(frozen=True, slots=True, eq=False)
class Body:
    """A capture's landmarks (name -> (n, 3) positions in metres), frame rate and swings."""

    points: Points
    rate_hz: float
    swings: tuple[FoundSwing, ...] = ()


def find_up(bodies: Sequence[Body]) -> Decision:
    """Return the lab axis nearest to the bodies' long axes, as up."""
    axes = [axis for body in bodies if (axis := anatomy.long_axis(body.points)) is not None]
    if not axes:
        return Decision("up", None, "open", "no two heights of a body are known")
    name, off = nearest_axis(np.mean(axes, axis=0))
    why = f"the bodies' long axis lies {off:.0f} deg from it"
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
    """Return the horizontal lab axis along which clubheads pass the ball, as the target.

    Only the axis and its sign are chosen: a target line fitted to clubhead directions would bias club path toward 0.
    """
    if up is None:
        return Decision("target", None, "open", "up is open")
    ways = []
    for body in bodies:
        for swing in body.swings:
            way = way_at_ball(body, swing, up)
            if way is not None:
                level = way - (way @ axis_vector(up)) * axis_vector(up)
                if np.linalg.norm(level) > 0.5:  # else it moves up or down there, and not through a ball
                    ways.append(level / np.linalg.norm(level))
    if not ways:
        return Decision("target", None, "open", "no swing shows which way the club moves through the ball")
    what = (
        "the clubhead's" if all("clubhead" in body.points for body in bodies if body.swings) else "the hands'"
    )
    mean = np.mean(ways, axis=0)
    if np.linalg.norm(mean) < 0.5:
        return Decision("target", None, "open", f"{what} ways through the ball contradict one another")
    name, off = nearest_axis(mean)
    why = f"{what} way through the ball lies {off:.0f} deg from it in {len(ways)} swing{'s' if len(ways) > 1 else ''}"
    if off > TARGET_DEG:
        return Decision("target", None, "open", f"{why}, more than {TARGET_DEG:.0f}", (name,))
    return Decision("target", name, "likely", f"{why}; target assumed, not calibrated")


def way_at_ball(body: Body, swing: FoundSwing, up: str) -> np.ndarray | None:
    """Return the direction (3,) of the clubhead, or else of the hands, at the lowest point; None if not seen."""
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
    """Determine a golfer's hand from the direction the body faces at address, relative to the target.

    bodies : each with up and target of its session, None where not decided.
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
        why = "up or target is open" if is_open else "no swing shows which way the body faces"
        return Decision(name, None, "open", why, ("right", "left"))
    rights = sum(sign > 0 for sign in signs)
    if min(rights, len(signs) - rights) > 0 or abs(np.mean(signs)) < 0.5:
        why = f"faces as a right-hander in {rights} of {len(signs)} swings: more than one golfer?"
        return Decision(name, None, "open", why, ("right", "left"))
    hand = "left" if np.mean(signs) < 0 else "right"
    return Decision(name, hand, "likely", "by the way the body faces; a mirrored capture would look the same")


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
    """Check whether body size is human in the unit that was read (`written`); `stated`: the files give this unit."""
    sizes = np.array([anatomy.stature(body.points) for body in bodies])
    size = anatomy.typical(sizes)
    if not np.isfinite(size):
        return Decision("unit", written, "likely", "no segment lengths to check it by")
    if _SMALLEST_M <= size <= _TALLEST_M:
        why = f"segment lengths are those of a person of about {size:.2f} m"
        return Decision("unit", written, "certain" if stated else "likely", why)
    factors = {"m": 1.0, "cm": 0.01, "mm": 0.001}
    own = factors.get(written or "m", 1.0)
    fitting = [unit for unit, factor in factors.items() if _SMALLEST_M <= size / own * factor <= _TALLEST_M]
    if fitting:
        why = f"in {written} segment lengths would be those of a person of {size:.3g} m"
        return Decision("unit", fitting[0], "likely", why)
    spread = float(np.nanmax(sizes) / np.nanmin(sizes))
    why = f"segment lengths would be those of a person of {size:.3g} m, in no unit a person's"
    return Decision("unit", "none", "likely" if spread < 1.5 else "open", f"{why}: no scale, angles only")


def find_ground(bodies: Sequence[Body], up: str | None) -> Decision:
    """Estimate the turf's height along up, in metres; 0 where ball and feet are as on a turf at 0."""
    if up is None:
        return Decision("ground", None, "open", "up is open")
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
    ball, foot = anatomy.typical(np.array(balls)), anatomy.typical(np.array(feet))
    seen = [
        f"the {what} lies {abs(100 * h):.1f} cm {'above' if h >= 0 else 'below'} 0"
        for what, h in (("ball", ball), ("lowest foot marker", foot))
        if np.isfinite(h)
    ]
    fits = (not np.isfinite(ball) or _BALL_M[0] <= ball <= _BALL_M[1]) and (
        not np.isfinite(foot) or _FOOT_M[0] <= foot <= _FOOT_M[1]
    )
    if not seen:
        return Decision("ground", 0.0, "open", "neither ball nor feet show where the turf is")
    if fits:
        return Decision("ground", 0.0, "likely", ", ".join(seen))
    if np.isfinite(ball):
        return Decision(
            "ground",
            round(ball - BALL_RADIUS_M, 4),
            "likely",
            f"{seen[0]}; taken as the centre of a ball on the turf",
        )
    return Decision(
        "ground", round(foot - 0.03, 3), "open", f"{seen[0]}; a marker on a foot is about 3 cm above the turf"
    )
