"""From a capture's own axes to the study frame: axes rotated, left-handers mirrored, origin under the ball."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from swinglab.conventions import AXIS_NAMES, BALL_RADIUS_M, axis_vector, mirrored_name
from swinglab.errors import BadRequest
from swinglab.load.coarse_contact import address_stretch, rest_before
from swinglab.records import Setup

#: Standard error of a ball place inferred from the clubhead at address, along the target line (design value).
ADDRESS_BALL_SE_M = 0.015
#: A ball marker whose height differs by more than this from that of a ball on the turf gives a warning.
_HEIGHT_DOUBT_M = 0.02


@dataclass(frozen=True, slots=True)
class Ball:
    """The ball at rest, before the origin is moved: its centre, the method, and its standard error.

    origin : (3,) point on the turf that becomes the origin.
    """

    centre: np.ndarray | None
    method: str  # marker | study | ball_from_address | none
    se_m: float
    origin: np.ndarray
    warnings: tuple[str, ...] = ()


def study_axes(setup: Setup) -> np.ndarray:
    """Rotation (3, 3) whose rows are target, up and their cross product in the capture's axes.

    Raises BadRequest if up or target is not a direction, or if they are parallel.
    """
    up = _direction(setup.up, "up")
    target = _direction(setup.target, "target")
    along = target - (target @ up) * up
    if np.linalg.norm(along) < 0.1:
        raise BadRequest(
            f"up ({setup.up}) and target ({setup.target}) are parallel",
            where="[lab]",
            do="give two different axes",
        )
    along /= np.linalg.norm(along)
    return np.stack([along, up, np.cross(along, up)])


def _direction(value: str | tuple[float, ...], key: str) -> np.ndarray:
    if isinstance(value, str):
        if value not in AXIS_NAMES:
            raise BadRequest(
                f"there is no axis {value!r}",
                where=f"[lab] {key}",
                do=f"use one of {', '.join(AXIS_NAMES)} or [x, y, z]",
            )
        return axis_vector(value)
    vector = np.asarray(value, dtype=float)
    if vector.shape != (3,) or not np.isfinite(vector).all() or np.linalg.norm(vector) == 0:
        raise BadRequest(
            f"{value} is no direction", where=f"[lab] {key}", do="give three numbers, not all zero"
        )
    return vector / np.linalg.norm(vector)


def turn(points: np.ndarray, setup: Setup, metres: float) -> np.ndarray:
    """Points (..., 3) in metres, rotated to target, up, side, with the turf at height 0 and left-handers mirrored."""
    turned = points @ study_axes(setup).T
    turned[..., 1] -= setup.ground * metres
    if setup.hand == "left":
        turned[..., 2] *= -1
    return turned


def sided_names(names: tuple[str, ...], hand: str) -> tuple[str, ...]:
    """Landmark names for a right-hander: left and right are exchanged for a left-hander."""
    return tuple(mirrored_name(name) for name in names) if hand == "left" else names


def find_ball(
    names: tuple[str, ...],
    points: np.ndarray,
    rate_hz: float,
    contact_s: float | None,
    setup: Setup,
    metres: float,
) -> Ball:
    """Find the ball's centre at rest, in the rotated frame, and the point on the turf that becomes the origin."""
    warnings: list[str] = []
    ball = _ball_from_marker(names, points, rate_hz, contact_s, setup, warnings)
    if ball is None and setup.ball_position is not None:
        given = turn(np.asarray(setup.ball_position, dtype=float) * metres, setup, metres)
        ball = given, "study", 0.0
    if ball is None:
        ball = _ball_from_address(names, points, rate_hz, contact_s, setup)
    if ball is None:
        return Ball(None, "none", 0.0, _origin_without_ball(names, points, rate_hz), tuple(warnings))
    centre, method, error = ball
    if not setup.teed:
        if method != "ball_from_address" and abs(centre[1] - BALL_RADIUS_M) > _HEIGHT_DOUBT_M:
            warnings.append(
                f"the ball's centre is {100 * centre[1]:.1f} cm above the turf: check ground, or say teed = true under "
                "[ball]; it was taken to lie on the turf"
            )
        centre = np.array([centre[0], BALL_RADIUS_M, centre[2]])
    return Ball(centre, method, error, centre * [1, 0, 1], tuple(warnings))


def _ball_from_marker(
    names: tuple[str, ...],
    points: np.ndarray,
    rate_hz: float,
    contact_s: float | None,
    setup: Setup,
    warnings: list[str],
) -> tuple[np.ndarray, str, float] | None:
    if "ball" not in names:
        return None
    path = points[:, names.index("ball")]
    rest = rest_before(path, rate_hz, contact_s)
    if not rest.any():
        warnings.append(
            "the ball's marker is never seen at rest before contact; its place was taken otherwise"
        )
        return None
    samples = path[rest]
    centre = samples.mean(axis=0)
    if contact_s is not None:
        before = np.flatnonzero(
            np.isfinite(path).all(axis=1) & (np.arange(len(path)) < contact_s * rate_hz - 1)
        )
        moved = float(np.linalg.norm(path[before[-1]] - centre))
        if moved > BALL_RADIUS_M:
            warnings.append(
                f"the ball was moved {100 * moved:.0f} cm before contact; its place is where it lay at rest before that"
            )
    if setup.ball_marker == "top":
        centre = centre - [0, BALL_RADIUS_M, 0]
    error = float(samples[:, 0].std(ddof=1) / np.sqrt(len(samples))) if len(samples) > 1 else 0.001
    return centre, "marker", error


def _ball_from_address(
    names: tuple[str, ...], points: np.ndarray, rate_hz: float, contact_s: float | None, setup: Setup
) -> tuple[np.ndarray, str, float] | None:
    if "clubhead" not in names:
        return None
    head = points[:, names.index("clubhead")]
    still = address_stretch(head, rate_hz, contact_s)
    if still is None:
        return None
    centre = np.nanmean(head[still], axis=0)
    centre[0] += BALL_RADIUS_M + (setup.reference_behind_face_cm or 0.0) / 100
    return centre, "ball_from_address", ADDRESS_BALL_SE_M


def _origin_without_ball(names: tuple[str, ...], points: np.ndarray, rate_hz: float) -> np.ndarray:
    """Point on the turf below the middle of the feet, else of the pelvis, else of all points, early in the capture."""
    feet = ("ankle_lateral", "ankle_medial", "ankle", "heel", "toe")
    pelvis = ("asis", "psis", "hip")
    for stems in (feet, pelvis):
        sides = []
        for side in ("left", "right"):
            places = [k for k, name in enumerate(names) if name in {f"{stem}_{side}" for stem in stems}]
            seen = _early(points[:, places], rate_hz)
            if seen is not None:
                sides.append(seen)
        if len(sides) == 2:
            return (sides[0] + sides[1]) / 2 * [1, 0, 1]
    everything = _early(points, rate_hz)
    return np.zeros(3) if everything is None else everything * [1, 0, 1]


def _early(points: np.ndarray, rate_hz: float) -> np.ndarray | None:
    """Mean position of points over the first quarter second with samples; None if there are no samples."""
    seen = (
        np.flatnonzero(np.isfinite(points).all(axis=-1).any(axis=1)) if points.shape[1] else np.empty(0, int)
    )
    if not len(seen):
        return None
    some = points[seen[0] : seen[0] + max(1, round(rate_hz / 4))]
    flat = some.reshape(-1, 3)
    return flat[np.isfinite(flat).all(axis=1)].mean(axis=0)
